# shellcheck shell=bash
# What the package consists of: owners, modes, places, its own account of itself, its manual.

# Debian Policy 4.6: 10.9 (modes, owners), 12.1 and 12.3 (manual and notes compressed without a time), 4.13 (no path twice);
# Filesystem Hierarchy Standard 3.0: nothing outside usr.
files() {
    local mode owner size path
    while read -r mode owner size path; do
        [ "$owner" = root/root ] || wrong "$path belongs to $owner"
        case $mode in
        drwxr-xr-x) continue ;;
        -rwxr-xr-x) [ "$path" = ./usr/bin/skimgauge ] || wrong "$path can be run" ;;
        -rw-r--r--) ;;
        *) wrong "$path has the mode $mode" ;;
        esac
        [ "$size" -gt 0 ] || wrong "$path is empty"
        case $path in
        ./usr/bin/* | ./usr/lib/udev/rules.d/* | ./usr/share/man/man1/*.1.gz | ./usr/share/doc/skimgauge/* | ./usr/share/skimgauge/*) ;;
        ./usr/share/*/*completions*/*) ;;
        *) wrong "$path lies where nobody looks" ;;
        esac
    done < <(dpkg-deb --contents "$package" | awk '{ print $1, $2, $3, $6 }')
    find "$tree" -name '*.gz' -print0 | xargs -0 -n 1 gzip --test || wrong "a compressed file is damaged"
    (cd "$tree" && md5sum --quiet --check "$control/md5sums") || wrong "its checksums are not its files'"
    [ "$(wc -l < "$control/md5sums")" = "$(find "$tree" -type f | wc -l)" ] || wrong "a file has no checksum"
    grep -q '^Depends: libc6 (>= 2' "$control/control" || wrong "it does not say which C library it needs"
    if grep -q '@' <(grep -v '^Maintainer:' "$control/control"); then wrong "a field of its control file was left open"; fi
    if command -v lintian > /dev/null; then
        lintian --allow-root --fail-on error,warning "$package" > "$work/said" 2>&1 || wrong "lintian: $(head -n 3 "$work/said")"
        told "lintian finds nothing"
    else
        skipped "lintian, Debian's own check of packages, was not run: it is not installed"
    fi
    told "owners, modes, places and checksums of $(wc -l < "$control/md5sums") files"
}

# What is in the program itself: no symbols, no path of the machine that built it.
program() {
    local binary=$tree/usr/bin/skimgauge path
    if grep -Eq '\.(symtab|debug_info|debug_line)' <<< "$(readelf --sections --wide "$binary")"; then wrong "the program is not stripped"; fi
    for path in "$root" "${CARGO_HOME:-$HOME/.cargo}" "$target"; do
        if grep -qaF "$path" "$binary"; then wrong "the program holds the path $path"; fi
    done
    # Position independent, its tables read-only once it is loaded, no stack that can be run.
    readelf --file-header "$binary" | grep -q 'DYN' || wrong "the program is not position independent"
    readelf --dynamic "$binary" | grep -q 'BIND_NOW\|NOW' || wrong "the program binds late"
    readelf --program-headers --wide "$binary" | grep 'GNU_STACK' | grep -q 'RWE' && wrong "the program's stack can be run"
    told "the program is stripped, position independent, and holds no path of this machine"
}

# Every command has its page; every flag that a command's help shows stands on it; nothing about them troubles groff.
manual() {
    local page name words flag pages=0
    for page in "$tree"/usr/share/man/man1/*.1.gz; do
        gunzip < "$page" > "$work/page"
        groff -ww -z -mandoc -Tutf8 -Kutf8 "$work/page" 2> "$work/said" || true
        [ ! -s "$work/said" ] || wrong "groff on ${page##*/}: $(head -n 1 "$work/said")"
        MANWIDTH=80 man --warnings --local-file "$page" > "$work/shown" 2> "$work/said" < /dev/null || wrong "man cannot show ${page##*/}"
        [ ! -s "$work/said" ] || wrong "man on ${page##*/}: $(head -n 1 "$work/said")"
        lexgrog "$page" > "$work/said" 2>&1 || wrong "whatis finds no name in ${page##*/}"
        name=${page##*/} name=${name%.1.gz}
        words=${name//-/ }
        # shellcheck disable=SC2086
        "$tree/usr/bin/"$words --help > "$work/help" || wrong "there is a page for $words, and no such command"
        for flag in $(grep -o '^ *\(-., \)\?--[a-z-]*' "$work/help" | grep -o -- '--[a-z-]*'); do
            grep -q -- "$flag\b" <(col -b < "$work/shown") || wrong "$words has $flag, and its page has not"
        done
        pages=$((pages + 1))
    done
    [ "$pages" -ge "$(command_names | wc -l)" ] || wrong "$pages pages for $(command_names | wc -l) commands"
    while read -r words; do
        [ -f "$tree/usr/share/man/man1/${words// /-}.1.gz" ] || wrong "$words has no page"
    done < <(command_names)
    told "$pages man pages, which groff and man show without a warning"
}

# Every command by its words, as the program itself shows them.
command_names() {
    local name
    echo skimgauge
    for name in $(sub_commands); do
        echo "skimgauge $name"
        sub_commands "$name" | sed "s/^/skimgauge $name /"
    done
}
sub_commands() { "$tree/usr/bin/skimgauge" "$@" --help | sed -n '/^Commands:/,/^$/ s/^  \([a-z]*\) .*/\1/p' | grep -vx help; }
