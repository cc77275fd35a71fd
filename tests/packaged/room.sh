# shellcheck shell=bash disable=SC2016
# A clean root, and the package's whole life in it: installed as the README says, the main job, a newer one over it, removed.

# The root that packages are tried in: a smallest Debian of this machine's own release, kept for the next time.
clean_root() {
    local kept=$target/package-root.tar suite mirror
    suite=$(. /etc/os-release && echo "${VERSION_CODENAME:-}")
    mirror=$(sed -n 's/^URIs: *\([^ ]*debian\|[^ ]*ubuntu\)\/*$/\1/p' /etc/apt/sources.list.d/*.sources 2> /dev/null | head -n 1)
    why=''
    if [ "$(id -u)" != 0 ]; then why="it takes root's rights"
    elif ! command -v debootstrap > /dev/null; then why="there is no debootstrap"
    elif ! unshare --mount true 2> /dev/null; then why="this system gives no mounts of one's own (unshare)"
    elif [ ! -f "$kept" ]; then
        echo "makes a clean $suite to install into ($kept; once)"
        if debootstrap --variant=minbase "$suite" "$work/first" ${mirror:+"$mirror"} > "$work/said" 2>&1; then
            tar --create --directory "$work/first" --file "$kept.part" . && mv "$kept.part" "$kept"
        else
            why="debootstrap could not make it ($(tail -n 1 "$work/said"))"
        fi
        rm -rf "$work/first"
    fi
    [ -z "$why" ] || return 1
    mkdir -p "$room" && tar --extract --directory "$room" --file "$kept"
    chroot "$room" useradd --create-home --shell /bin/bash installer
}

# inside USER SCRIPT [WORD...]: a shell's script, in the user's home folder in the clean root
inside() {
    local user=$1 home=/home/$1
    [ "$user" != root ] || home=/root
    shift
    unshare --mount -- bash -c '
        mount -t proc proc "$1/proc" && mount --rbind /dev "$1/dev" && mount --rbind /sys "$1/sys" || exit 75
        room=$1 user=$2 home=$3; shift 3
        exec chroot --userspec="$user" "$room" /usr/bin/env -i HOME="$home" USER="$user" LANG=C.UTF-8 TERM=dumb \
            PATH=/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin bash -c "cd && set -e; $1" "$@"' inside "$room" "$user" "$home" "$@"
}

# Every file of the root with what it is, but for what a package manager notes down and what runs. (How large a folder is
# says how many files it once held.)
everything() {
    (cd "$room" && find . \( -path ./proc -o -path ./dev -o -path ./sys -o -path ./run -o -path ./tmp -o -path ./home -o -path ./root \
        -o -path ./var/lib/dpkg -o -path ./var/lib/apt -o -path ./var/log -o -path ./var/cache \) -prune \
        -o -type d -printf '%p %M %u %g\n' -o -printf '%p %M %u %g %s %l\n' | sort)
}

# The user's own: what the job left in the home folder.
users_own() { (cd "$room/home" && find . -type f -print0 | sort -z | xargs -0 sha256sum); }

# The README's commands for a release, as they stand there; `sudo` is nothing to somebody who is root already.
install_as_readme() {
    local line
    cp "$package" "$room/root/"
    # Nobody is there to answer, and what is only recommended would come from a network.
    printf '%s\n' 'APT::Get::Assume-Yes "true";' 'APT::Install-Recommends "false";' > "$room/etc/apt/apt.conf.d/nobody-here"
    while read -r line; do
        echo "\$ $line"
        line=${line//_amd64.deb/_$(dpkg --print-architecture).deb}
        inside root "sudo() { \"\$@\"; }; $line" > "$work/said" 2>&1 < /dev/null || wrong "the README's '$line' fails: $(tail -n 3 "$work/said")"
    done < <(sed -n '/^```sh release$/,/^```$/p' README.md | grep -v '^```')
    inside installer 'command -v skimgauge' > "$work/said" 2>&1 || wrong "nothing was installed: $(cat "$work/said")"
}

# The job that the program is for, as an installer's own account: the record verifies, the page is there.
main_job() {
    inside installer '
        skimgauge demo --quick --plain --record job.sqlite > demo.txt
        tail -n 12 demo.txt
        skimgauge jobs verify --record job.sqlite
        name=$(skimgauge jobs list --json --record job.sqlite | sed -n "s/.*\"name\":\"\([^\"]*\)\".*/\1/p" | head -n 1)
        skimgauge handover --job "$name" --record job.sqlite --pdf --out page.pdf
        cp /usr/share/doc/skimgauge/examples/board.toml example.toml
        for step in setout fixings square survey next; do
            skimgauge "$step" --job example.toml --record example.sqlite > "$step.txt" || case $? in 1 | 3) ;; *) exit 1 ;; esac
        done
        skimgauge jobs new my-board.toml --name "reading room" --client "Larch Lane Library" --place "north wall" --by "R. Oakes"
        ' > "$work/job" 2>&1 < /dev/null || wrong "the main job fails: $(tail -n 5 "$work/job")"
    grep -q 'within over the whole board' "$room/home/installer/demo.txt" || wrong "the demonstration does not end within: $(tail -n 5 "$work/job")"
    [ "$(head -c 5 "$room/home/installer/page.pdf")" = %PDF- ] || wrong "the handover is no PDF"
    # The firmware that came along is found and goes whole onto a board that waits in its boot loader; no head comes up
    # here afterwards, which is said (exit status 2, after half a minute of waiting).
    inside installer '
        mkdir drive && printf "UF2 Bootloader v3.0\r\nBoard-ID: RPI-RP2\r\n" > drive/INFO_UF2.TXT
        skimgauge ports --flash --yes --drive drive 2>&1' > "$work/flash" < /dev/null && wrong "a head came up where there is none"
    grep -q '^/usr/share/skimgauge/skimgauge-head.uf2: firmware' "$work/flash" || wrong "flash does not find the image: $(cat "$work/flash")"
    cmp "$room/home/installer/drive/skimgauge-head.uf2" "$tree/usr/share/skimgauge/skimgauge-head.uf2" || wrong "flash did not copy the image"
    # Where the system shows no ports at all (many containers) that is an error, said as one.
    inside root 'umount --lazy /sys; skimgauge ports 2>&1' > "$work/said" < /dev/null
    grep -q '^This computer cannot list its ports: there is no /sys/class/tty' "$work/said" || wrong "without /sys: $(cat "$work/said")"
    # A head's port that this account may not open, where the package brought its rule.
    inside root 'mknod --mode=600 /home/installer/port c 166 0' && inside installer 'skimgauge ports ./port 2>&1' > "$work/said" < /dev/null
    grep -q 'You may not open ./port.*unplug it and plug it in again' "$work/said" || wrong "the message on a closed port does not know the rule: $(cat "$work/said")"
    told "installed by the README's own line, it plays the job to its end, its record verifies, its handover is a PDF, it flashes the image beside it"
}

# A newer one over it: nothing of the user's changes, an older program's record is carried over by the program, not by the
# package. Then it goes, and leaves what it found.
later() {
    local next=$version+next own
    # As a program of the record's second version wrote it.
    inside installer 'cat > old.sqlite' < host/record/tests/data/record_v2.sqlite
    own=$(users_own)
    release/build --version "$next" > /dev/null
    mv "$target/package/skimgauge_${next}_$(dpkg --print-architecture).deb" "$room/root/next.deb"
    rm "$target/package/skimgauge-$next-"*
    inside root 'dpkg --install next.deb' > "$work/said" 2>&1 || wrong "a newer package does not go over it: $(tail -n 2 "$work/said")"
    [ "$(inside root 'dpkg-query --show --showformat="\${Version}" skimgauge')" = "$next" ] || wrong "the newer package is not installed"
    inside root 'dpkg --verify skimgauge' > "$work/said" 2>&1 || true
    [ ! -s "$work/said" ] || wrong "what is installed is not what was packed: $(cat "$work/said")"
    [ "$own" = "$(users_own)" ] || wrong "a newer package changed the user's files"
    inside installer '
        skimgauge jobs verify --record job.sqlite
        skimgauge jobs list --record old.sqlite | grep .
        skimgauge jobs verify --record old.sqlite' > "$work/said" 2>&1 < /dev/null || wrong "the records are not read any more: $(cat "$work/said")"
    own=$(users_own)
    inside root 'apt-get purge --yes skimgauge' > "$work/said" 2>&1 || wrong "it cannot be removed: $(tail -n 2 "$work/said")"
    [ "$own" = "$(users_own)" ] || wrong "removing it changed the user's files"
    told "a newer package over it and its removal leave $(wc -l <<< "$own") files of the user as they were"
}

room_life() {
    local as_found
    if ! clean_root; then
        skipped "not installed, upgraded or removed: $why. Extracted instead, and run from there"
        extracted
        return
    fi
    as_found=$(everything)
    install_as_readme
    main_job
    later
    rm -f "$room/root/"*.deb "$room/etc/apt/apt.conf.d/nobody-here"
    diff <(echo "$as_found") <(everything) > "$work/said" || wrong "its removal leaves: $(head -n 5 "$work/said")"
    ls "$room"/var/lib/dpkg/info/skimgauge* 2> /dev/null && wrong "dpkg still knows of it"
    told "nothing is left of it after its removal"
    from_archive
}

# The same files under /usr/local, as another distribution has them.
from_archive() {
    tar --extract --gzip --directory "$room/usr/local" --strip-components=1 --file "$archive"
    inside installer '
        skimgauge --version
        [ "$(command -v skimgauge)" = /usr/local/bin/skimgauge ]
        skimgauge demo --quick --plain --record archive.sqlite > /dev/null
        skimgauge jobs verify --record archive.sqlite
        rm drive/skimgauge-head.uf2
        timeout 5 skimgauge ports --flash --yes --drive drive || true
        cmp drive/skimgauge-head.uf2 /usr/local/share/skimgauge/skimgauge-head.uf2' > "$work/said" 2>&1 < /dev/null ||
        wrong "from the archive: $(tail -n 3 "$work/said")"
    told "the archive's files do the same under /usr/local"
}

# Without root's rights: the same job from where the package was taken apart.
extracted() {
    local home=$work/home
    mkdir -p "$home"
    (
        cd "$home"
        export HOME=$home XDG_DATA_HOME=$home/data PATH=$tree/usr/bin:$PATH
        skimgauge demo --quick --plain --record job.sqlite > demo.txt &&
            grep -q 'within over the whole board' demo.txt &&
            skimgauge jobs verify --record job.sqlite &&
            mkdir drive && printf 'UF2 Bootloader v3.0\r\nBoard-ID: RPI-RP2\r\n' > drive/INFO_UF2.TXT &&
            { timeout 5 skimgauge ports --flash --yes --drive drive || true; } &&
            cmp drive/skimgauge-head.uf2 "$tree/usr/share/skimgauge/skimgauge-head.uf2"
    ) > "$work/said" 2>&1 < /dev/null || wrong "the main job fails: $(tail -n 3 "$work/said")"
    told "taken apart, it plays the job to its end, its record verifies, it flashes the image beside it"
}
