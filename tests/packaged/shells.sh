# shellcheck shell=bash
# The completions, loaded by the shells themselves from where the package puts them.

# completed SHELL LINE: what the shell offers for the line's last word, or makes of the line
completed() {
    local share=$tree/usr/share
    case $1 in
    bash)
        # As bash calls it: the words, which of them, and the function that `complete` names.
        # shellcheck disable=SC2016
        bash --norc -c '
            . "$1"; shift
            read -ra COMP_WORDS <<< "$1"
            COMP_CWORD=$((${#COMP_WORDS[@]} - 1)) COMP_LINE=$1 COMP_POINT=${#1}
            function=$(complete -p skimgauge | sed -n "s/.*-F \([^ ]*\).*/\1/p")
            "$function" skimgauge "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD - 1]}"
            printf "%s\n" "${COMPREPLY[@]}"' completed "$share/bash-completion/completions/skimgauge" "$2"
        ;;
    zsh) zsh -f "$root/tests/packaged/complete.zsh" "$share/zsh/vendor-completions" "$2" ;;
    fish)
        fish --no-config -c "source '$share/fish/vendor_completions.d/skimgauge.fish'; complete --do-complete '$2'"
        ;;
    esac
}

# completes SHELL LINE WORD: the shell comes to the word
completes() {
    local offered
    offered=$(completed "$1" "$2" < /dev/null 2> "$work/said") || true
    if ! grep -qw -e "$3" <<< "$offered"; then
        wrong "$1 completes '$2' to '$offered', not to '$3' ($(tail -n 1 "$work/said"))"
    fi
}

shells() {
    local shell name
    for shell in bash zsh fish; do
        if ! command -v "$shell" > /dev/null; then
            skipped "$shell completes nothing here: it is not installed"
            continue
        fi
        completes "$shell" "skimgauge han" handover
        completes "$shell" "skimgauge jobs ver" verify
        completes "$shell" "skimgauge trim --smal" --smallest-turn
        completes "$shell" "skimgauge jobs show --a" --as
        completes "$shell" "skimgauge setout --paper let" letter
        told "$shell completes commands, commands of commands, flags and their values"
    done
    # PowerShell is in no registry that is used here: its script is only looked through.
    for name in $("$tree/usr/bin/skimgauge" --help | sed -n '/^Commands:/,/^$/ s/^  \([a-z]*\) .*/\1/p'); do
        grep -q "'skimgauge;$name'" "$tree/usr/share/skimgauge/skimgauge.ps1" || [ "$name" = help ] ||
            wrong "PowerShell's completions do not know $name"
    done
    skipped "PowerShell itself was not tried: only that its script names every command"
}
