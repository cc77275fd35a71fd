# shellcheck shell=bash disable=SC2154
# The tests of whole commands and of what stands under them, built for Windows and run under Wine. Those that need a unix
# are left out where they stand, each with its reason; those that only the table below leaves out need what Wine has not.

# single PACKAGE "TARGETS" "LEFT OUT"
single() {
    local package=$1 out left=() name
    for name in $3; do left+=(--skip "$name"); done
    # shellcheck disable=SC2086
    out=$("$root/release/cargo-windows" test "${profile[@]}" --no-fail-fast --package "$package" $2 -- --test-threads 2 "${left[@]}" 2>&1)
    local status=$? ran
    ran=$(sed -n 's/^test result: .* \([0-9]*\) passed; \([0-9]*\) failed; .*/\1 \2/p' <<< "$out" | awk '{ good += $1; bad += $2 } END { print good + 0, bad + 0 }')
    if [ $status = 0 ] && [ "${ran% *}" -gt 0 ]; then
        ok "$package $2: ${ran% *} tests pass"
    else
        wrong "$package $2: ${ran% *} pass, ${ran#* } fail: $(grep -E '^(test .* FAILED|error|thread .* panicked)' <<< "$out" | head -n 40)"
        tail -n 60 <<< "$out"
    fi
    passed_tests=$((passed_tests + ${ran% *}))
}

single_commands() {
    passed_tests=0
    single skimgauge-system "--lib" ""
    single skimgauge-record "--lib --tests" ""
    single skimgauge "--lib --tests" "files_signals_and_terminal_are_reached"
    single skimgauge-tests "--test commands" ""
    local all
    all=$(cd "$root" && grep -c '#\[test\]' tests/command/*.rs | awk -F: '{ n += $2 } END { print n }')
    echo "$passed_tests tests ran under Wine; the tests of whole commands are $all in all (tests/command), those of Windows alone counted"
}
