# shellcheck shell=bash disable=SC2034
# How `tests/windows/check` runs the program and tells what came of it.

told=0 failed=0
ok() { told=$((told + 1)); echo "ok: $1"; }
wrong() { failed=$((failed + 1)); echo "!! $1"; }

# skimgauge WORD...: the Windows program; nothing is typed unless the caller pipes it
skimgauge() { timeout 300 wine 'C:\Program Files\skimgauge\skimgauge.exe' "$@"; }

# tries WHAT STATUS PART WORD...: it ends so and says this; what it said is in $said
tries() {
    local what=$1 wanted=$2 part=$3 status
    shift 3
    said=$(skimgauge "$@" 2>&1 < /dev/null)
    status=$?
    if [ "$status" = "$wanted" ] && [[ $said == *"$part"* ]]; then
        ok "$what"
    else
        wrong "$what: exit status $status, not $wanted with \"$part\": $(tail -n 12 <<< "$said")"
    fi
}

# answers WHAT WORD...: it ends with a verdict, whichever, and no error
answers() {
    local what=$1
    shift
    said=$(skimgauge "$@" 2>&1 < /dev/null)
    case $? in
    0 | 1 | 3) ok "$what" ;;
    *) wrong "$what: $(tail -n 12 <<< "$said")" ;;
    esac
}

# within SECONDS COMMAND...: once it holds
within() {
    local until=$((SECONDS + $1))
    shift
    until "$@" > /dev/null 2>&1; do
        [ $SECONDS -lt $until ] || return 1
        sleep 0.2
    done
}

# is_ended: every run of the program in this prefix is ended as the task manager does it
is_ended() { wine taskkill /f /im skimgauge.exe > /dev/null 2>&1; }
