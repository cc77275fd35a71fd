//! What is dangerous or doubtful now stands on the smallest screen before what can wait.

use super::samples;
use super::screen::Look;
use super::tests::{drawn, screen};
use skimgauge_metrology::measure::Fault;
use skimgauge_procedure::view::{FaultView, Part};
use skimgauge_procedure::{Message, View};
use skimgauge_quantity::{Style, say};

const SMALLEST: (u16, u16) = (80, 24);

fn sample(wanted: &str) -> View {
    let found = samples::all().into_iter().find(|(name, _)| *name == wanted);
    found.expect("a sample").1
}

/// The rows of the smallest screen.
fn rows(view: &View) -> Vec<String> {
    let drawn = screen(view, SMALLEST, Style::default());
    drawn.lines().map(str::to_owned).collect()
}

fn row_of(rows: &[String], says: &str) -> Option<usize> {
    rows.iter().position(|row| row.contains(says))
}

#[test]
fn what_went_wrong_is_not_covered_by_advice() {
    let mut view = sample("trim turn");
    let slips = say!(
        "the left adjuster slips: the plane followed by 40 % of the turn; look for a loose lock nut or a worn thread before turning further"
    );
    let Part::Trim(trim) = &mut view.part else { panic!("a trim") };
    trim.said.push(Message { says: slips, bad: true, answers: Vec::new() });
    view.message = None;
    view.faults = vec![FaultView::from(Fault::ZeroedElsewhere)];
    let long = rows(&view);
    assert!(row_of(&long, "or a worn thread before turning further …").is_some(), "{long:#?}");
    // Where there is room for it, it has one row, the last of them.
    view.instruction = say!("Turn upper.");
    let rows = rows(&view);
    let says = |what: &str| row_of(&rows, what).unwrap_or_else(|| panic!("{what}: {rows:#?}"));
    let [slips, advice] = [says("before turning further"), says("zeroed on another board")];
    assert!(says("▶ Turn upper") < slips && advice == slips + 1, "{rows:#?}");
    assert!(rows[advice].ends_with('…') && !rows[advice + 1].contains("zero"), "{rows:#?}");
}

#[test]
fn a_doubt_stands_before_good_news_and_bad_news_before_a_doubt() {
    let mut view = sample("trim turn");
    view.instruction = say!("Turn upper.");
    view.faults = vec![FaultView::from(Fault::SupplyLow)];
    view.in_the_way = view.faults.first().cloned();
    let Part::Trim(trim) = &mut view.part else { panic!("a trim") };
    trim.said.clear();
    for bad in [false, true] {
        let says = say!("this was said just now");
        view.message = Some(Message { says, bad, answers: Vec::new() });
        let rows = rows(&view);
        let said = row_of(&rows, "this was said just now");
        let doubt = row_of(&rows, "The head gets too little voltage.");
        assert!(said.is_some() && doubt.is_some(), "{rows:#?}");
        assert_eq!(said < doubt, bad, "{rows:#?}");
    }
}

/// Where the head still hangs and what is lost is so now; how long it may take is an estimate.
#[test]
fn the_header_lets_go_of_what_can_wait() {
    let mut view = sample("trim turn");
    view.title = "Larch Lane Library, reading room, north wall".to_owned();
    let plain = rows(&view)[0].clone();
    assert!(plain.contains("…   SG-21E9-CE3F   round 1, 3 turns left, about 4 min"), "{plain}");
    view.counts.lost = 1;
    view.place.as_mut().expect("a place").still_at = Some("bottom left".to_owned());
    let full = rows(&view)[0].clone();
    for whole in ["round 1, 3 turns left", "head still at bottom left", "1 reading lost"] {
        assert!(full.contains(whole), "{full}");
    }
    assert!(full.contains("…   round 1"), "what is cut is seen to be: {full}");
    assert!(!full.contains("about"), "{full}");
}

/// With somebody beside the user the foot is theirs, but not what is so now.
#[test]
fn a_line_of_light_that_stayed_is_said_beside_whoever_speaks() {
    let mut view = sample("trim turn");
    view.cautions.insert(0, say!("A line of light stayed with the emitter off."));
    let look = Look { beside: Some("k K left"), ..Look::default() };
    let drawn = drawn(&view, SMALLEST, &look);
    let foot = drawn.lines().last().unwrap_or_default();
    assert_eq!(foot, "A line of light stayed with the emitter off. k K left");
}
