//! One target, named by `SKIMGAUGE_FUZZ_TARGET`, under libFuzzer. `../run` builds and starts it.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;

fuzz_target!(|input: &[u8]| {
    static CHECK: OnceLock<fn(&[u8])> = OnceLock::new();
    let check = CHECK.get_or_init(|| {
        let name = std::env::var("SKIMGAUGE_FUZZ_TARGET").unwrap_or_default();
        let target = skimgauge_fuzz_tests::named(&name);
        target.unwrap_or_else(|| panic!("there is no target `{name}`")).check
    });
    check(input);
});
