//! Four million corrupted bytes through a session: a short run of what `cargo bench -p
//! skimgauge-session --bench corrupted` does at length.

#[path = "../benches/corrupted/wire.rs"]
mod wire;

#[test]
fn nothing_is_told_that_was_not_sent_and_much_of_what_was_is() {
    let mut wire = wire::Wire::new(7);
    while wire.told.bytes < 4_000_000 {
        wire.go_on();
    }
    let told = &wire.told;
    println!("{told}");
    assert_eq!(told.false_ones, Vec::<String>::new(), "{told}");
    // Bytes that come twice, frames in the wrong order: none counts as lost what was not.
    assert_eq!(told.misplaced, 0, "{told}");
    // That it hears nothing at all would pass, too.
    assert!(told.readings > told.sent / 10 && told.ups > 10 && told.skipped > 1_000, "{told}");
}
