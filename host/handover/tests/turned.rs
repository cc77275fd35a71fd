//! What the page says of the turns, as they went.

mod common;

use common::{Bench, section, shown, text};
use skimgauge_quantity::{Mm, Turns};
use skimgauge_record::event::TurnAdvised;

/// Two turns in round 1, one of which moved nothing and one that was not seen done, and one in
/// round 2, which went past.
fn worked() -> Bench {
    let mut bench = common::few();
    common::turn(&mut bench, "left", 0.12, "bottom left", [2.52, 2.84, 2.80], 1);
    common::turn(&mut bench, "right", -0.31, "top right", [4.72, 3.65, 4.73], 1);
    bench.append(TurnAdvised {
        adjuster: "upper".to_owned(),
        turns: Turns(0.4),
        station: Some("top".to_owned()),
        target_gap: Some(Mm(2.0)),
        round: 1,
    });
    common::turn(&mut bench, "upper", -0.31, "top", [2.73, 3.65, 4.54], 2);
    bench
}

#[test]
fn a_turn_not_seen_done_stands_in_its_round() {
    let page = shown(&worked().history());
    let turns = text(section(&page, "turns"));
    let at = |what: &str| turns.find(what).unwrap_or_else(|| panic!("{what}: {turns}"));
    assert!(at("the gap hardly moved") < at("advised; not seen done"), "{turns}");
    assert!(at("advised; not seen done") < at("4.54"), "{turns}");
}

#[test]
fn what_moved_nothing_is_no_turn_and_what_was_not_seen_done_is_told() {
    let page = shown(&worked().history());
    let told = text(&page).replace('\u{a0}', " ");
    let says = "adjusters left and upper turned 2 times in 2 rounds. 1 more was advised and not seen done.";
    assert!(told.contains(says), "{told}");
}
