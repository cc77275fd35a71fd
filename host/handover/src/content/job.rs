//! The job in short: whose it is, and the whole story in a few sentences.

use skimgauge_model::Verdict;
use skimgauge_quantity::{Mm, Sentence, say};
use skimgauge_record::Event;
use skimgauge_record::event::{Body, Judged, Phase, Section as Recorded, TurnObserved};

use super::board::JudgedAt;
use super::brief::Brief;
use super::{Reading, board, closing, instrument, job_file, section, steps, work};
use crate::document::{Block, Cell, Section};
use crate::plain;

/// Whose and where.
pub(super) fn under(reading: &Reading<'_>) -> Vec<String> {
    let Some(job) = reading.job() else {
        return Vec::new();
    };
    [&job.about.client, &job.about.place]
        .into_iter()
        .flatten()
        .map(|text| plain::line(text))
        .collect()
}

/// The state of things.
pub(super) fn lead(reading: &Reading<'_>) -> String {
    if !reading.sound() {
        return "The record of this job is damaged: what follows cannot be relied on.".to_owned();
    }
    if reading.history.unknown() > 0 {
        return "Part of this job was recorded by a newer version of the program, which this one cannot read: no verdict is given.".to_owned();
    }
    match reading.judged(Phase::AsLeft) {
        Some((_, judged)) if judged.verdict == Verdict::Unsure && board::contradicts(judged) => {
            "The readings as left contradict one another: whether the touch plane is within its band cannot be said."
                .to_owned()
        }
        Some((_, judged)) if judged.verdict == Verdict::Unsure && !near_a_limit(judged) => {
            let settle = judged.would_settle.as_ref().map_or_else(String::new, |settle| {
                format!(" What would settle it: {}", reading.said(settle))
            });
            format!("Whether the touch plane is left within its band cannot be said: not everything is known.{settle}")
        }
        Some((event, judged)) => {
            whole(judged.verdict, &JudgedAt::of(reading, event, judged), "The touch plane is left")
        }
        None if reading.takes.is_empty() => nothing_taken(reading),
        None => "The installation has not been judged as it is left.".to_owned(),
    }
}

/// Before the head has taken anything: other things may have been measured.
fn nothing_taken(reading: &Reading<'_>) -> String {
    let measured = reading.history.events.iter().any(|event| is_measured(&event.body));
    let taped = reading.job().is_some_and(|job| job.tape.is_some() || job.corners.is_some());
    let says = match measured || taped {
        true => "The gap of the touch plane has not been measured",
        false => "Nothing has been measured in this job",
    };
    // A closed job is not measured any more.
    format!("{says}{}.", if reading.history.summary.closed { "" } else { " yet" })
}

/// Whether somebody measured something for it, rather than worked it out, said it or wrote it down.
fn is_measured(body: &Body) -> bool {
    match body {
        Body::Take(_) | Body::EmitterTilt(_) | Body::EmitterOff(_) => true,
        Body::Calibrated(_) | Body::ZeroChecked(_) => true,
        Body::Section(Recorded::SetOut(_) | Recorded::Step(_)) => false,
        Body::Section(Recorded::Fixings(fixings)) => !fixings.proof_loads.is_empty(),
        Body::Section(_) => true,
        _ => false,
    }
}

/// Whoever measured, each once.
fn measured_by(reading: &Reading<'_>) -> Vec<String> {
    let mut people: Vec<String> = Vec::new();
    for event in reading.history.events.iter().filter(|event| is_measured(&event.body)) {
        let who = plain::line(&event.who);
        if !people.contains(&who) {
            people.push(who);
        }
    }
    people
}

/// Whether the verdict hangs on a limit that the measurement cannot tell the gap from.
fn near_a_limit(judged: &Judged) -> bool {
    judged.margin.zip(judged.expanded_u).is_some_and(|(margin, expanded)| margin.abs() <= expanded)
}

fn whole(verdict: Verdict, at: &JudgedAt, start: &str) -> String {
    let rest = not_read(verdict, at);
    match verdict {
        Verdict::Within => {
            format!(
                "{start} within its band {}, with the uncertainty of the measurement counted against it.{rest}",
                at.short()
            )
        }
        Verdict::Outside => {
            format!("{start} outside its band: some part of the board is surely beyond a limit.")
        }
        Verdict::Unsure => {
            format!(
                "{start} so near to a limit that the measurement cannot tell on which side: too close to call.{rest}"
            )
        }
    }
}

/// Where no reading and no survey says anything of the rest of the board, that.
fn not_read(verdict: Verdict, at: &JudgedAt) -> String {
    match (at, verdict) {
        (JudgedAt::Board, _) => String::new(),
        (JudgedAt::Places(_), Verdict::Within) => " Between them nothing was read.".to_owned(),
        (JudgedAt::Places(names), _) => {
            let places = plain::count(names.len(), "place");
            format!(" Between the {places} nothing was read.")
        }
    }
}

/// A verdict with its place, in a sentence or two.
pub(super) fn says(reading: &Reading<'_>, event: &Event, judged: &Judged) -> Sentence {
    let band = reading.job_at(event.seq).and_then(job_file::gap_band);
    let band = band
        .map_or_else(Sentence::new, |band| say!(" of {}", band.low.limit().to(band.high.limit())));
    let place = judged.worst.as_ref().map(|worst| board::place(reading, event, worst));
    let gap = judged.worst_gap.filter(|gap| gap.is_finite()).map(Mm::gap);
    let there = match (place, gap) {
        (Some(place), Some(gap)) => Some(say!("{place}, where the gap is {gap}")),
        (Some(place), None) => Some(place),
        (None, Some(gap)) => Some(say!("where the gap is {gap}")),
        (None, None) => None,
    };
    match judged.verdict {
        Verdict::Within => within(&JudgedAt::of(reading, event, judged), band, there),
        Verdict::Unsure if board::contradicts(judged) => {
            say!(
                "The readings contradict one another, so nothing is said of the gap. This is no verdict either way."
            )
        }
        Verdict::Outside => {
            let there = there.map_or_else(Sentence::new, |there| say!(": most of all {there}"));
            let rest = not_read(judged.verdict, &JudgedAt::of(reading, event, judged));
            say!(
                "The gap is outside the band{band} by more than the measurement\u{2019}s uncertainty could explain{there}.{rest}"
            )
        }
        Verdict::Unsure if !near_a_limit(judged) => {
            let rest = not_read(judged.verdict, &JudgedAt::of(reading, event, judged));
            say!(
                "Whether the gap is within the band{band} cannot be said: not everything is known. This is no verdict either way.{rest}"
            )
        }
        Verdict::Unsure => {
            let there = there.map_or_else(Sentence::new, |there| say!(": closest {there}"));
            let rest = not_read(judged.verdict, &JudgedAt::of(reading, event, judged));
            say!(
                "The gap comes so near to a limit of the band{band} that the measurement cannot tell on which side it lies{there}. This is no verdict either way.{rest}"
            )
        }
    }
}

fn within(at: &JudgedAt, band: Sentence, there: Option<Sentence>) -> Sentence {
    let rest = not_read(Verdict::Within, at);
    let (judged, it) = match at {
        JudgedAt::Places(names) => (
            say!("At each of the {} read", plain::count(names.len(), "place")),
            "As worked out from these, it",
        ),
        JudgedAt::Board => (say!("Everywhere on the board, as it was surveyed,"), "It"),
    };
    let nearest =
        there.map_or_else(Sentence::new, |there| say!(" {it} comes nearest to a limit {there}."));
    say!(
        "{judged} the gap is within the band{band}, even when the measurement\u{2019}s uncertainty is counted against it.{nearest}{rest}"
    )
}

/// The story, and who did it when.
pub(super) fn in_short(reading: &Reading<'_>, brief: Brief) -> Option<Section> {
    let mut blocks: Vec<Block> = Vec::new();
    let story = story(reading);
    if brief.story && !story.is_empty() {
        blocks.push(Block::List(story));
    } else if !story.is_empty() {
        let says = "How it was found and what was done: see the appendix, \u{201c}The job in full\u{201d}.";
        blocks.push(Block::Text(says.to_owned()));
    }
    let facts = facts(reading).into_iter().filter(|(name, _)| CLIENTS.contains(&name.as_str()));
    let facts = facts.map(|(name, cell)| (name, Cell::text(brief.text(cell.shown().to_owned()))));
    blocks.push(Block::Facts(facts.collect()));
    section("in-short", "In short", blocks)
}

/// Facts that the client reads; the others are for whoever measures next.
const CLIENTS: [&str; 6] = ["Installed by", "Measured by", "Said by", "From", "To", "Emitter"];

/// What the client's pages leave out of the story, and the job's facts.
pub(super) fn in_full(reading: &Reading<'_>, brief: Brief) -> Option<Section> {
    let story = if brief.story { Vec::new() } else { story(reading) };
    let mut blocks = Vec::new();
    if !story.is_empty() {
        blocks.push(Block::List(story));
    }
    blocks.push(Block::Facts(facts(reading)));
    section("in-full", "The job in full", blocks)
}

fn story(reading: &Reading<'_>) -> Vec<String> {
    let judged = |phase: Phase, title: &str| {
        reading.judged(phase).map(|(event, judged)| {
            let says = says(reading, event, judged).text(reading.style);
            format!("{title} on {}: {says}", plain::day(event.at))
        })
    };
    let open = match closing::points(reading).len() {
        0 => None,
        1 => Some("1 point is still open; see \u{201c}Open points\u{201d}.".to_owned()),
        open => Some(format!("{open} points are still open; see \u{201c}Open points\u{201d}.")),
    };
    let (not_done, left_out) = (steps::not_done(reading), steps::left_out(reading));
    let named = |counted: steps::Counted| counted.named();
    let (not_done, left_out) = (not_done.map(named), left_out.map(named));
    let (found, left) = (judged(Phase::AsFound, "As found"), judged(Phase::AsLeft, "As left"));
    [found, done(reading), left, open, not_done, left_out].into_iter().flatten().collect()
}

/// What was turned. A turn by which the gap hardly moved shows none, and one that was not seen done
/// is told apart.
fn done(reading: &Reading<'_>) -> Option<String> {
    let made = reading.history.standing_turns().into_iter().filter(|turn| !turn.hardly_moved());
    let made: Vec<&TurnObserved> = made.collect();
    let (mut turned, mut rounds) = (Vec::new(), Vec::new());
    for turn in &made {
        let name = plain::line(&turn.adjuster);
        if !turned.contains(&name) {
            turned.push(name);
        }
        let round = work::advice_of(reading, turn).map(|advice| advice.round);
        rounds.extend(round.filter(|round| !rounds.contains(round)));
    }
    let unfinished = match work::unfinished(reading).len() {
        0 => String::new(),
        1 => " 1 more was advised and not seen done.".to_owned(),
        more => format!(" {more} more were advised and not seen done."),
    };
    if made.is_empty() {
        return None;
    }
    let in_rounds = if rounds.is_empty() {
        String::new()
    } else {
        format!(" in {}", plain::count(rounds.len(), "round"))
    };
    let adjusters = if turned.len() == 1 { "adjuster" } else { "adjusters" };
    Some(format!(
        "Done: the emitter\u{2019}s {adjusters} {} turned {}{in_rounds}.{unfinished}",
        plain::list(&turned),
        plain::count(made.len(), "time")
    ))
}

fn facts(reading: &Reading<'_>) -> Vec<(String, Cell)> {
    let summary = &reading.history.summary;
    let mut facts: Vec<(String, Cell)> = Vec::new();
    let mut add = |name: &str, text: Option<String>| {
        if let Some(text) = text.filter(|text| !text.is_empty()) {
            facts.push((name.to_owned(), Cell::text(text)));
        }
    };
    let job = reading.job();
    add("Client", job.and_then(|job| job.about.client.as_deref()).map(plain::line));
    add("Place", job.and_then(|job| job.about.place.as_deref()).map(plain::line));
    let by = job.and_then(|job| job.about.by.as_deref()).map(plain::line);
    add("Installed by", by);
    add("Measured by", Some(plain::list(&measured_by(reading))));
    add("Said by", Some(steps::said_by(reading).join("; ")));
    let heads: Vec<String> = instrument::heads(reading).iter().map(instrument::in_short).collect();
    add("Measured with", Some(heads.join("; ")));
    add("From", Some(plain::moment(summary.opened)));
    add("To", Some(plain::moment(summary.last)));
    if let Some(job) = job {
        let image = job_file::image(job);
        let diagonal = image.width.hypot(image.height);
        let size = say!(
            "{} wide, {} high, {} across the diagonal",
            image.width.tape(),
            image.height.tape(),
            diagonal.tape()
        );
        add("Image", Some(size.text(reading.style)));
        add("Emitter", job.emitter.model.as_deref().map(plain::line));
        let gap = job_file::gap_band(job).map(|band| band.low.limit().to(band.high.limit()));
        add("Gap may be", gap.map(|band| band.text(reading.style)));
        for (name, band) in job_file::tilt_bands(job) {
            let band = band.map(|band| band.low.figure().to(band.high.figure()));
            add(name, band.map(|band| band.text(reading.style)));
        }
    }
    facts
}
