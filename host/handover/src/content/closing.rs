//! What is open, what to be careful about, where to sign, and how to check.

use skimgauge_model::Verdict;
use skimgauge_quantity::plain as number;
use skimgauge_record::event::{Body, Phase, TakeFlag};
use skimgauge_record::sign;
use skimgauge_steps::gate;
use skimgauge_steps::state::of_the_steps;

use super::brief::Brief;
use super::practice::Practice;
use super::{Reading, board, instrument, practice, section, steps};
use crate::document::{Block, Caution, Cell, Section, SignPlace};
use crate::plain;

/// What must be read before anything else.
pub(super) fn warnings(reading: &Reading<'_>) -> Vec<String> {
    let mut warnings = practice::warnings(reading);
    if let Some(danger) = gate::hangs_unproved(&reading.standings).filter(|_| reading.sound()) {
        warnings.push(plain::line(&danger));
    }
    if let Some(broken) = &reading.history.broken {
        warnings.push(format!(
            "The record of this job is damaged from event {} on: {}. Nothing from there on is shown, no verdict is given, and what is shown \
             may not be complete.",
            broken.seq,
            plain::line(&broken.why)
        ));
    }
    if reading.history.altered {
        warnings.push(
            "The record that this was made from is not as the program makes it: something took away or changed what keeps its entries from \
             being altered. Each entry shown here still matches its hash; have the record checked (skimgauge jobs verify)."
                .to_owned(),
        );
    }
    let unknown = reading.history.unknown();
    if unknown > 0 {
        warnings.push(format!(
            "{} of this record written by a newer version of the program than the one that made this page: what they say is not shown \
             and not counted, and no verdict is given. Have the page made by the newer version.",
            if unknown == 1 { "1 entry was".to_owned() } else { format!("{unknown} entries were") }
        ));
    }
    if let Some((_, Err(_))) = reading.jobs.last() {
        warnings.push(
            "The job file kept in this record cannot be read by this version: the image\u{2019}s size, the band and the adjusters are missing here."
                .to_owned(),
        );
    }
    if !reading.history.summary.closed && reading.sound() {
        warnings.push("This job is still open: a draft, not a handover yet.".to_owned());
    }
    warnings
}

/// What the closer left open, and what the record itself shows to be open.
pub(super) fn points(reading: &Reading<'_>) -> Vec<String> {
    let mut points: Vec<String> = reading
        .events(|body| match body {
            Body::Closed(closed) => Some(closed),
            _ => None,
        })
        .flat_map(|(_, closed)| &closed.open_points)
        // Told by the steps themselves.
        .filter(|point| of_the_steps(point).is_none())
        .map(|point| plain::sentence(point))
        .filter(|point| !point.is_empty())
        .collect();
    let judged = reading.judged(Phase::AsLeft).map(|(_, judged)| judged);
    if judged.is_some_and(board::contradicts) {
        let settle = judged
            .and_then(|judged| judged.would_settle.as_ref())
            .map_or_else(String::new, |said| reading.said(said));
        points
            .push(format!("The readings as left contradict one another: nothing is said of the gap on them. {settle}"));
    }
    match judged.map(|judged| judged.verdict) {
        Some(Verdict::Unsure) if judged.is_some_and(board::contradicts) => {}
        Some(Verdict::Outside) => {
            points.push("The touch plane is left outside its band.".to_owned());
        }
        Some(Verdict::Unsure) => {
            points.push("The verdict as left is too close to call.".to_owned());
        }
        Some(Verdict::Within) => {}
        None => points.push("The installation has not been judged as it is left.".to_owned()),
    }
    points.extend(reading.no_longer.iter().map(|(_, why)| {
        format!("The verdict that was given no longer holds: {}.", plain::line(why))
    }));
    points.extend(steps::points(reading));
    points.extend(heads(reading));
    for event in &reading.history.events {
        if let Some(back_s) = event.clock_back_s {
            points.push(format!(
                "The clock was set back by {} s before event {}; times before and after do not compare.",
                number(back_s, 0).number(reading.style),
                event.seq
            ));
        }
    }
    for take in reading.history.standing(Phase::AsLeft).iter().map(|current| current.take) {
        if take.flags.is_empty() {
            continue;
        }
        let flags: Vec<String> = take.flags.iter().map(TakeFlag::word).map(plain::line).collect();
        points.push(format!(
            "The take as left at {} was marked: {}.",
            plain::line(&take.station),
            plain::list(&flags)
        ));
    }
    points
}

/// What is doubtful of the heads that measured.
fn heads(reading: &Reading<'_>) -> Vec<String> {
    let mut found = Vec::new();
    let limit_days = reading.job().map_or(365.0, |job| job.limits.calibration_age_days);
    for used in instrument::heads(reading) {
        let serial = plain::line(&used.head.serial);
        match used.age_days {
            Some(days) if f64::from(days) > limit_days => found.push(format!(
                "Head {serial} was zeroed {} before its last take; the job allows {}.",
                skimgauge_quantity::count(days, "day"),
                number(limit_days, 0).number(reading.style)
            )),
            Some(days) if days < 0 => {
                found.push(format!(
                    "The zero of head {serial} is dated after its takes: a clock was wrong."
                ));
            }
            None => found.push(format!("When head {serial} was zeroed is not known.")),
            Some(_) => {}
        }
    }
    found
}

/// What is left to do.
pub(super) fn open_points(reading: &Reading<'_>, brief: Brief) -> Option<Section> {
    let (points, left) = brief.points(points(reading));
    let mut blocks = Vec::new();
    let not_done = steps::not_done(reading);
    if points.is_empty() && left == 0 && not_done.is_none() {
        blocks.push(Block::Text("None are known.".to_owned()));
    }
    if !points.is_empty() {
        blocks.push(Block::ToDo(points));
    }
    if left > 0 {
        let (more, are) = match (blocks.is_empty(), left) {
            (true, 1) => ("point", "is open"),
            (true, _) => ("points", "are open"),
            (false, 1) => ("more", "is open"),
            (false, _) => ("more", "are open"),
        };
        blocks.push(Block::Text(format!(
            "{left} {more} {are}: see the appendix, \u{201c}Open points in full\u{201d}."
        )));
    }
    if let Some(not_done) = not_done {
        let says = format!("{}: see \u{201c}The work, step by step\u{201d}.", not_done.count);
        blocks.push(Block::Text(says));
    }
    section("open-points", "Open points", blocks)
}

/// All that is left to do, where the client's pages have not room for it.
pub(super) fn open_points_in_full(reading: &Reading<'_>, brief: Brief) -> Option<Section> {
    let points = points(reading);
    if brief.points(points.clone()).1 == 0 {
        return None;
    }
    section("open-points-in-full", "Open points in full", vec![Block::ToDo(points)])
}

/// The usual cautions. They say nothing about this wall or this emitter: whoever is responsible for
/// those does.
pub(super) fn cautions() -> Option<Section> {
    let caution = |about: &str, says: &str| {
        Block::Caution(Caution { about: about.to_owned(), says: says.to_owned() })
    };
    section(
        "cautions",
        "Take care at work on it",
        vec![
            caution(
                "Invisible light",
                "The emitter throws light that the eye does not see and does not turn away from. Its class, and what follows from it, is on \
                 the maker\u{2019}s label on the emitter: read it, and keep it readable. Do not look into the emitter\u{2019}s opening, least of all \
                 through a lens or off a mirror. Do not take off its cover.",
            ),
            caution(
                "Overhead",
                "Board, arm and emitter hang on anchors above people\u{2019}s heads. This page does not say that the wall or the anchors hold: that is \
                 for whoever fixed them, by the anchors\u{2019} approval and local building rules, with a licensed engineer where those ask for one. If \
                 anything is loose, cracked or lower than it was, keep people away from under it and have it looked at.",
            ),
            caution(
                "Ladder",
                "The emitter is reached from a ladder or a platform: on firm level ground, with a second person at hand, and never reaching \
                 sideways. Nothing loose in the hand above the board.",
            ),
            caution(
                "Mains",
                "Unplug before a cover or a cable is touched. Fixed wiring is for licensed electricians.",
            ),
            caution(
                "What comes first",
                "Where the maker\u{2019}s instructions, local rules or licensed practice say something else than this page, they hold.",
            ),
            caution(
                "How long this holds",
                "The numbers are those of the day. After a knock, after the board or the emitter was moved, or when touch goes astray, have it \
                 measured again.",
            ),
        ],
    )
}

/// Places to sign.
pub(super) fn sign(reading: &Reading<'_>, brief: Brief) -> Option<Section> {
    let job = reading.job();
    let installer = job
        .and_then(|job| job.about.by.as_deref())
        .or_else(|| reading.history.events.last().map(|event| event.who.as_str()))
        .map(plain::line);
    let client = job.and_then(|job| job.about.client.as_deref()).map(plain::line);
    let places = vec![
        SignPlace {
            role: "For the installer".to_owned(),
            says: installers(reading).to_owned(),
            name: installer.and_then(|name| brief.line(name)),
        },
        SignPlace {
            role: "For the client".to_owned(),
            says: "Received, with the open points and cautions explained.".to_owned(),
            name: client.and_then(|name| brief.line(name)),
        },
    ];
    section("sign", "Signatures", vec![Block::Sign(places)])
}

/// What the installer signs: that it was measured only where a real head did, and its verdict stands.
fn installers(reading: &Reading<'_>) -> &'static str {
    let whole = reading.sound() && reading.history.unknown() == 0;
    let measured = reading.practice != Practice::All && reading.judged(Phase::AsLeft).is_some();
    match whole && measured {
        true => "Measured and set as described here.",
        false => "Done as described here; what was not measured is named above.",
    }
}

/// Signatures by key.
pub(super) fn signatures(reading: &Reading<'_>) -> Option<Section> {
    let signed: Vec<String> = reading
        .events(|body| match body {
            Body::Signed(signed) => Some(signed),
            _ => None,
        })
        .map(|(event, signed)| {
            let key = sign::fingerprint(&signed.public_key)
                .unwrap_or_else(|_| "an unreadable key".to_owned());
            let closing = reading
                .history
                .events
                .iter()
                .any(|event| event.hash == signed.hash && event.body.closes());
            let holds = match sign::check(signed) {
                Ok(()) if closing => "it fits the closed job".to_owned(),
                Ok(()) => {
                    "it does not fit this job\u{2019}s closing event: do not rely on it".to_owned()
                }
                Err(why) => format!("it does not hold ({}): do not rely on it", plain::line(&why)),
            };
            format!("Signed by key {} on {}: {holds}.", plain::line(&key), plain::moment(event.at))
        })
        .collect();
    if signed.is_empty() {
        return None;
    }
    section("signatures", "Signatures in the record", vec![Block::List(signed)])
}

/// How to check that this was not changed.
pub(super) fn check(reading: &Reading<'_>) -> Option<Section> {
    let summary = &reading.history.summary;
    let state = if summary.closed { "closed" } else { "open" };
    let blocks = vec![
        Block::Text(
            "This page was made from a record in which every entry is chained to the one before it. Whoever is shown the record can check, \
             with the fingerprint below, that it is the one that this page was made from and that nothing in it was changed. Without the \
             fingerprint nobody can: a record that is not signed could have been written anew from end to end. Keep this page."
                .to_owned(),
        ),
        Block::Code(format!("skimgauge jobs verify FILE --fingerprint\n{}", summary.head_hash)),
        Block::Facts(vec![
            ("Entries".to_owned(), Cell::text(summary.events.to_string())),
            ("Takes".to_owned(), Cell::text(summary.takes.to_string())),
            ("Job".to_owned(), Cell::text(state)),
            ("Identity of the job".to_owned(), Cell::text(summary.id.to_string())),
            ("Last entry".to_owned(), Cell::text(plain::moment(summary.last))),
        ]),
        Block::Small("The fingerprint is the SHA-256 hash of the last entry; it stands for all before it.".to_owned()),
    ];
    section("check", "How to check this page", blocks)
}

/// Letters of the job's name at the foot.
const NAME_AT_FOOT: usize = 44;

/// Which record this is.
pub(super) fn foot(reading: &Reading<'_>) -> String {
    let summary = &reading.history.summary;
    // One line at the foot of each sheet; the whole name heads the first.
    let name = plain::line(&summary.name);
    let name = match name.char_indices().nth(NAME_AT_FOOT) {
        Some((end, _)) => format!("{}\u{2026}", &name[..end]),
        None => name,
    };
    format!(
        "{name} ({}) \u{b7} entry {} of {} \u{b7} fingerprint begins {}",
        summary.id.short(),
        summary.events,
        plain::day(summary.last),
        summary.head_hash.short()
    )
}
