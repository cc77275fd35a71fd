# shellcheck shell=bash disable=SC2034,SC2154
# The table of checks that `tests/run` runs, in this order, and what each does.
#
#   step NAME WHEN SECONDS "TOOLS" "LOOKS AT" "MAKES" "WHAT"
#
# WHEN: `change` with every change, `all` with --all. SECONDS: an estimate, from nothing, on two idle cores.
# TOOLS: see `tests/tools.sh`. LOOKS AT: git's patterns for every file that the step depends on, more when in doubt; none:
# it depends on something outside, and is never skipped. MAKES: nor is it without these files.

declare -A when seconds needs looks_at makes says
steps=()
step() {
    steps+=("$1")
    when[$1]=$2 seconds[$1]=$3 needs[$1]=$4 looks_at[$1]=$5 makes[$1]=$6 says[$1]=$7
}

measured="as estimated from nothing on two idle cores"
workspace="Cargo.toml Cargo.lock shared firmware host release tests"
image="Cargo.toml Cargo.lock shared firmware"
uf2=firmware/pico/target/skimgauge-head.uf2
# Its targets one after another, and building them.
fuzz_targets=(tests/fuzz/corpora/*/)
fuzz_takes=$((${#fuzz_targets[@]} * ${SKIMGAUGE_FUZZ_SECONDS:-600} + 240))

step format      change   3 "rust"                   "*.rs *.toml"            ""     "every source file is formatted"
step lints       change 150 "rust cc"                "$workspace clippy.toml" ""     "lints, no warning let through"
step documents   change  90 "rust cc"                "$workspace"             ""     "the documentation builds, no link broken"
step tests       change 420 "rust cc"                "."                      ""     "every test that needs no Node; walls between the crates, licences"
step image       change 120 "rust board"             "$image"                 "$uf2" "the flash image builds; the room that it takes"
step emulated    change 240 "rust cc board node"     "$workspace"             "$uf2" "the flash image on an emulated chip, and the command at its port"
step page        change  60 "rust cc node poppler"   "$workspace"             ""     "sample handovers are valid HTML and whole PDF"
step page-live   change 300 "rust cc node chromium" "$workspace"             ""     "the live pages of board and phone in a browser: places, touches, keys, attacks, sound"
step page-trims  all    240 "rust cc node chromium" "$workspace"             ""     "whole trims in a browser: by touch from the phone, by keyboard from the board under ghost touches; one whole job, set-out to handover"
step hands       change 240 "rust cc"                "$workspace"             ""     "6 whole trims through the real command, a person's mistakes in them, quits and crashes too: each ends, nothing false is kept"
step readme      change 300 "rust cc board node postgres" "."                 ""     "every command that the README shows"
step firm        change 240 "rust cc postgres"       "$workspace"             ""     "a firm's jobs on a real PostgreSQL: roles, forks, 8 crews of 5 jobs, cuts, a killed server"
step firm-hardship all  600 "rust cc postgres"       "$workspace"             ""     "crews send while a server is killed 20 times, a network cut 20 times, a disk full 20 times"
step package     all   1200 "rust cc board packaging"  "."                      "$uf2" "a release is built, looked through, installed in a clean root, does the main job there, is upgraded, removed"
step board-lints all     90 "rust board board_lints" "$image clippy.toml"     ""     "format and lints of the image's own sources"
step same-bytes  all    180 "rust board"             "$image"                 "$uf2" "two builds of the image in two places are the same bytes"
step same-release all 1800 "rust cc board packaging"  "."                      "$uf2" "the program built in two places, and packed twice, is the same bytes"
step nonsense    all    180 "rust cc board node"     "$workspace"             "$uf2" "a minute of nonsense at full speed at the emulated head"
step hands-200   all    900 "rust cc"                "$workspace"             ""     "the same, 200 of them"
step windows     all    1500 "rust cc board windows wine" "$workspace"             ""     "the program built for Windows, under Wine: a demonstration, a head at COM5, a whole job, odd names; tests of whole commands"
step endurance   all   2700 "rust cc"                "$workspace"             ""     "10^9 corrupted bytes; a record killed, cut off, flipped, filled; a day of watching"
step fuzz        all "$fuzz_takes" "rust cc cxx"     "$workspace"             ""     "libFuzzer on each way in, SKIMGAUGE_FUZZ_SECONDS (600) each"
step hardware    all    1500 "kicad solids drawing poppler" "hardware"         ""     "netlist, sheets, meshes made anew and equal; electrical rules; the body's checks"
step advisories  all      5 "rust"                   ""                       ""     "no dependency has a known advisory (needs the network)"

step_format() { cargo fmt --all --check; }
step_lints() { cargo clippy --quiet --workspace --all-targets -- -D warnings; }
step_documents() { RUSTDOCFLAGS="-D warnings" cargo doc --quiet --workspace --no-deps; }
step_tests() { cargo test --no-fail-fast --workspace --exclude skimgauge-emulated-tests --exclude skimgauge-firm-tests; }
step_image() { firmware/build; }
step_emulated() { tests/emulated/check --short; }
step_page() { tests/page/check; }
step_page-live() { tests/page-live/check; }
step_page-trims() { tests/page-live/check --trims; }
step_hands() { cargo test --package skimgauge-tests --test hands -- --nocapture; }
step_hands-200() { SKIMGAUGE_JOBS=200 cargo test --package skimgauge-tests --test hands -- --nocapture; }
step_readme() { tests/readme; }
step_firm() { cargo test --no-fail-fast --package skimgauge-firm-tests -- --nocapture; }
step_firm-hardship() {
    local bench=$out/debug/firm-bench
    cargo build --quiet --package skimgauge-firm-tests --bin firm-bench
    "$bench" kill --times 20
    if unshare -n ip link set lo up 2> /dev/null; then
        unshare -n "$bench" network --times 20
    else
        echo "SKIPPED: a network of its own to cut takes root's rights and the programs unshare and ip"
    fi
    "$bench" disk --times 20 || { [ $? = "$cannot_here" ] && echo "SKIPPED: a small disk of its own takes root's rights to mount one"; }
}
step_package() { tests/package; }
step_endurance() {
    cargo bench --quiet --package skimgauge-session --bench corrupted
    cargo bench --quiet --package skimgauge-record --bench hardship
    cargo run --quiet --release --package skimgauge-tests --bin day > /dev/null
}
step_fuzz() { tests/fuzz/run; }
step_board-lints() { firmware/build --lint; }
step_same-bytes() { firmware/build --check; }
step_windows() { tests/windows/check; }
step_same-release() { release/build --check; }
step_hardware() { PATH=$tools_folder/solids/bin:$PATH SKIMGAUGE_HARDWARE_PYTHON=$tools_folder/solids/bin/python hardware/check; }
step_nonsense() { tests/emulated/check --nonsense; }

# The list of known advisories is not in any package registry: where it cannot be fetched, that is said, and the step counts
# as skipped, not as passed.
step_advisories() {
    if ! command -v cargo-deny > /dev/null; then
        echo "advisories of dependencies were not looked at: they need the network and cargo-deny (cargo install cargo-deny)"
        return "$cannot_here"
    fi
    local manifest
    for manifest in Cargo.toml firmware/pico/Cargo.toml; do
        if ! cargo deny --manifest-path "$manifest" fetch db; then
            echo "advisories of dependencies were not looked at: their list needs the network, and could not be fetched"
            return "$cannot_here"
        fi
        cargo deny --manifest-path "$manifest" check advisories
    done
}
