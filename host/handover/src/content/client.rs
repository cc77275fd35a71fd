//! What a client needs who never reads a number: whether touch was proved, how to look after it,
//! what to do when touch goes wrong, whom to call. Common practice, no source, where the maker's
//! instructions do not say it; they come first.

use skimgauge_model::Verdict;
use skimgauge_record::event::Body;
use skimgauge_record::section::{Section as Recorded, Touch};

use super::brief::Brief;
use super::{Reading, section};
use crate::document::{Block, Section, VerdictCard};
use crate::plain;

/// Whether touch was proved.
pub(super) fn proof(reading: &Reading<'_>, brief: Brief) -> Option<Section> {
    if reading.takes.is_empty() && touch(reading).is_none() {
        return None;
    }
    let block = match touch(reading) {
        Some((day, touch)) => Block::Verdict(VerdictCard {
            heading: format!("Touch, proved on {day}"),
            verdict: touch.verdict,
            says: says(reading, touch, brief),
            facts: Vec::new(),
        }),
        None => Block::Text(
            "Touch was not proved on the display: what this page says, it says of the touch plane alone."
                .to_owned(),
        ),
    };
    section("proof", "Proof that touch works", vec![block])
}

fn touch<'a>(reading: &Reading<'a>) -> Option<(String, &'a Touch)> {
    let proved = reading.events(|body| match body {
        Body::Section(Recorded::Touch(touch)) => Some(&**touch),
        _ => None,
    });
    proved.last().map(|(event, touch)| (plain::day(event.at), touch))
}

fn says(reading: &Reading<'_>, touch: &Touch, brief: Brief) -> String {
    let marks = touch.marks.iter().filter(|mark| mark.taps > 0).count();
    let by = format!("With a {} at {}", plain::line(&touch.tool), plain::count(marks, "mark"));
    let first = match touch.verdict {
        Verdict::Within => format!("{by}: touch is seen where the display is touched."),
        Verdict::Outside => format!("{by}: touch does not do what was agreed."),
        Verdict::Unsure => {
            format!("{by}: whether touch does what was agreed could not be settled.")
        }
    };
    let why = reading.said(&touch.because);
    let next = touch.cause.as_ref().or(touch.settle.as_ref()).map(|said| reading.said(said));
    let more: Vec<String> = [Some(why), next].into_iter().flatten().collect();
    match brief.line(more.join(" ")) {
        Some(more) => format!("{first} {more}"),
        None => format!("{first} Why, and what follows: see the appendix."),
    }
}

/// How to look after it, and what to do when touch goes wrong.
pub(super) fn care() -> Option<Section> {
    let points = |all: &[&str]| Block::List(all.iter().map(|&point| point.to_owned()).collect());
    section(
        "care",
        "How to look after it",
        vec![
            points(&[
                "Wipe the board with a dry or slightly damp soft cloth, with nothing that scratches, and never while somebody writes.",
                "Keep the few millimetres in front of the whole board free: no magnets, notes, tape, trays or lamps on it or over its edges. What stands there is touched all the time.",
                "Nobody leans on the emitter, its adjusters or the projector\u{2019}s arm, hangs anything on them or turns a screw. If one was turned, have the touch plane measured again.",
                "Dust in front of the emitter\u{2019}s opening and on the projector\u{2019}s filter: once a term, after the maker\u{2019}s instructions, unplugged, from firm ground.",
            ]),
            Block::Heading("When touch goes wrong".to_owned()),
            points(&[
                "It moves or clicks by itself: look for what stands in front of the board (a magnet, a note, a cobweb, a sleeve) and take it away; keep sun and lamps off the board.",
                "Nothing reacts: is the touch cable in, is the emitter on? Restart the computer, then the display.",
                "It is lost in one corner: look for a shadow, a clip or dirt between the emitter and that corner.",
                "Lines run together, or touch comes before the finger is there: the touch plane has moved. Call.",
                "It is off all over after a knock, after something was moved, or after the picture was set anew: call. Setting touch anew in the display\u{2019}s own settings would hide a touch plane that has moved.",
                "Anything is loose, cracked, hot or lower than it was: switch it off, keep people away from under it, and call.",
            ]),
        ],
    )
}

/// Whom to call, and what to have at hand.
pub(super) fn call(reading: &Reading<'_>, brief: Brief) -> Option<Section> {
    let by = reading.job().and_then(|job| job.about.by.as_deref()).map(plain::line);
    let whom = match by.filter(|by| !by.is_empty()).map(|by| brief.line(by)) {
        None => "Call whoever installed it; nobody is named in the job.".to_owned(),
        Some(None) => "Call whoever installed it; the appendix has the name.".to_owned(),
        Some(Some(by)) => format!("Call {by}, who installed it."),
    };
    let name = brief.line(plain::line(&reading.history.summary.name));
    let name = name.map_or_else(
        || "the job\u{2019}s name, at the head of these pages".to_owned(),
        |name| format!("the job is \u{201c}{name}\u{201d}"),
    );
    let text = format!(
        "{whom} Have this page at hand and say: {name}, what touch does, where on the board, since when, and what was moved, cleaned or plugged in before."
    );
    section("call", "Whom to call", vec![Block::Text(text)])
}

/// The cautions that everybody reads who stands before the board; what whoever works at it has to know
/// besides stands in the appendix.
pub(super) fn cautions() -> Option<Section> {
    let points = [
        "The emitter throws light that the eye does not see. Do not look into its opening, least of all through a lens or off a mirror, and do not take off its cover. Its class is on the maker\u{2019}s label.",
        "Board, arm and emitter hang on anchors above people\u{2019}s heads. Whether these hold is not said here: that is for whoever fixed them, by the anchors\u{2019} approval and local building rules, with a licensed engineer where those ask for one.",
        "The emitter is reached from a ladder or a platform: on firm level ground, with a second person at hand, never reaching sideways. Unplug before a cover or a cable is touched. Fixed wiring is for licensed electricians.",
        "Where the maker\u{2019}s instructions, local rules or licensed practice say something else than this page, they hold.",
        "The numbers are those of the day. After a knock, or after the board or the emitter was moved, have it measured again.",
    ];
    let points = points.into_iter().map(str::to_owned).collect();
    section("take-care", "Take care", vec![Block::List(points)])
}

/// Where the pages for the client end.
pub(super) fn appendix() -> Option<Section> {
    let text = "From here on stands what was measured, for whoever measures or mends next. Nobody needs it to use the board.";
    section("appendix", "Appendix: the measurement", vec![Block::Text(text.to_owned())])
}
