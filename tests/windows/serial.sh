# shellcheck shell=bash disable=SC2154
# A simulated head at COM5: this computer's own program keeps it at a pseudo-terminal, which Wine shows as a serial port.

the_ports() {
    echo "== ports"
    "$native" demo --head-at "$work/head" --seconds 3000 < <(sleep 3000) > "$work/hand.txt" 2>&1 &
    background+=("$!")
    within 30 test -L "$work/head" || wrong "there is no simulated head: $(cat "$work/hand.txt")"
    wine cmd /c ver > /dev/null 2>&1
    ln -sf "$(readlink "$work/head")" "$WINEPREFIX/dosdevices/com5"
    tries "ports without a name" 3 "" ports
    for name in COM5 com5 'COM5:' '\\.\COM5'; do
        tries "a head at $name" 0 "firmware" ports "$name"
    done
    tries "a port that is not there" 3 "There is no port COM77" ports COM77
    tries "a file that is no port" 3 "is not a serial port" ports board.toml
    if [ -f "$program/skimgauge-head.uf2" ]; then
        tries "a board in its boot loader is found at its letter, and the firmware beside the program" 3 \
            'waits in its boot loader at R:\' ports --flash
    else
        echo "SKIPPED: the boot loader's drive: this build has no flash image beside it"
    fi
}

# watches RECORD MORE...: a watch at COM5 that hears what is written to the file words
watches() {
    local record=$1
    shift
    : > words
    tail -f words 2> /dev/null | skimgauge watch --head COM5 --job board.toml --record "$record" "$@" > watch.txt 2>&1 &
    background+=("$!")
}

# takes N: so many takes were told, asked for as often as it needs
takes() {
    local until=$((SECONDS + 240))
    until [ "$(grep -c '"kind":"take"' watch.txt)" -ge "$1" ]; do
        [ $SECONDS -lt $until ] || return 1
        echo take >> words
        sleep 2
    done
}

a_take_at_com5() {
    echo "== a take at COM5"
    watches taken.sqlite --json
    takes 1 && ok "a station is taken" || wrong "nothing is taken: $(tail -n 3 watch.txt)"
    # That another program has the port is not tried: Wine gives a port to as many as want it.
    tries "another program is told that the job is being worked on" 2 "Another skimgauge is at work on the job" watch --plain --head COM5 --job board.toml --record taken.sqlite
    [[ $said == *"process "* ]] && ok "by which process" || wrong "it does not say by whom: $said"
    echo quit >> words
    within 60 bash -c '! ls *.at-work' && ok "the mark goes with it" || wrong "its mark is left: $(ls)"
    tries "the take is in the record" 0 "top left" jobs --record taken.sqlite show "practice wall"
    tries "which is whole" 0 "" jobs verify taken.sqlite
    answers "a zero is checked as far as nobody moves the gauge" zero --check --head COM5 --light 3.002,9.004 --record taken.sqlite
    # Beside the board a head speaks through a line within the computer, where programs make no ports.
    skimgauge demo --head-at head --seconds 600 > head.txt 2>&1 < /dev/null &
    background+=("$!")
    within 60 test -s head && ok "a simulated head is kept by Windows itself" || wrong "no simulated head: $(cat head.txt)"
    tries "and found by its name" 0 "firmware" ports .\\head
    tries "which is not written over" 2 "is there already" demo --head-at head --seconds 1
    is_ended
    sleep 2
    tries "killed, it leaves a name that says what to do" 3 "If a demonstration that was killed left it" ports head
}

a_run_that_is_killed() {
    echo "== a run that is killed"
    local kept
    watches killed.sqlite --json
    takes 1 || wrong "nothing is taken: $(tail -n 3 watch.txt)"
    echo take >> words
    is_ended
    sleep 2
    kept=$(grep -c '"kind":"take"' watch.txt)
    tries "its record is whole" 0 "" jobs verify killed.sqlite
    [ "$(skimgauge jobs --record killed.sqlite show "practice wall" --as json < /dev/null | grep -o '"kind": *"take"' | wc -l)" -ge "$kept" ] &&
        ok "every take that was told is in it ($kept)" || wrong "a take is lost: $kept were told"
    watches killed.sqlite --json
    within 120 grep -q '"link":"up"' watch.txt && ok "the job can be gone on with at once" || wrong "it cannot: $(tail -n 3 watch.txt)"
    is_ended
}

# Wine tells no program that its console was closed; that one is told of it is for a Windows machine.
ctrl_c() {
    echo "== Ctrl-C"
    python3 "$here/console.py" wine 'C:\Program Files\skimgauge\skimgauge.exe' \
        watch --plain --head COM5 --job board.toml --record interrupted.sqlite > console.txt 2>&1
    local status=$?
    [ $status = 130 ] && ok "it ends with 130" || wrong "it ends with $status: $(tail -c 600 console.txt)"
    is_ended
    tries "the record is whole" 0 "" jobs verify interrupted.sqlite
    [ -z "$(find . -name '*.at-work')" ] && ok "no mark is left" || wrong "its mark is left: $(ls)"
}
