//! Events and verdicts in a sentence. Pure.

use skimgauge_model::{Phase, Verdict};
use skimgauge_quantity::{Mm, Name, Sentence, count, say};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{
    Body, Closed, Difference, Joined, JoinedBranch, Judged, JudgedAt, Looked, PhotoAttached, Sayer,
    TurnObserved, Unasked,
};
use skimgauge_record::section::{SaidHow, Section};
use skimgauge_record::sign::fingerprint;
use skimgauge_record::{Event, JobHistory};
use skimgauge_steps::standings;
use skimgauge_steps::state::{of_the_steps, without_as_points};

/// A verdict by shape and word.
pub(super) fn word(verdict: Option<Verdict>) -> Sentence {
    verdict.map_or_else(|| say!("-"), |verdict| say!("{verdict}"))
}

/// A verdict with what it speaks of, for a list.
pub(super) fn verdict_in_short(verdict: Option<Verdict>, at: Option<&JudgedAt>) -> Sentence {
    let word = word(verdict);
    match (verdict, at) {
        (Some(Verdict::Within), Some(JudgedAt::Places(names))) => {
            say!("{word} at {} read", count(names.len(), "place"))
        }
        (Some(Verdict::Within), Some(JudgedAt::Board)) => say!("{word} over the board"),
        _ => word,
    }
}

/// A verdict with the place that decided, what it speaks of, and what would settle it.
pub(super) fn verdict(judged: &Judged) -> Sentence {
    let mut said = match judged.simulated {
        true => say!("simulated, nothing was measured: {}", judged.verdict),
        false => word(Some(judged.verdict)),
    };
    said.push(&match (&judged.judged_at, judged.verdict) {
        (Some(JudgedAt::Places(names)), Verdict::Within) => {
            say!(" at the {} read; between them nothing was read", count(names.len(), "place"))
        }
        (Some(JudgedAt::Board), Verdict::Within) => say!(" over the whole board as surveyed"),
        (None, Verdict::Within) => say!(" (this record does not say at which places)"),
        // Whatever the verdict: what it does not rest on.
        (Some(JudgedAt::Places(names)), _) if names.is_empty() => say!("; no place was read"),
        (Some(JudgedAt::Places(names)), _) => {
            say!("; read at {}, and between them nothing was read", count(names.len(), "place"))
        }
        (Some(JudgedAt::Board), _) => say!("; the whole board is surveyed"),
        (None, _) => Sentence::new(),
    });
    if let (Some(worst), Some(gap)) = (&judged.worst, judged.worst_gap) {
        said.push(&say!("; what limits it: {}: {}", Name(&worst.name), gap.gap()));
    }
    if let Some(margin) = judged.margin {
        let side = if margin < Mm::ZERO { "beyond" } else { "inside" };
        said.push(&say!(", {} {side} the band", margin.abs().gap()));
    }
    if let Some(u) = judged.expanded_u {
        said.push(&say!(", known to ± {}", u.uncertainty()));
    }
    for (name, tilt) in [("level", &judged.detail.level), ("lean", &judged.detail.lean)] {
        if let Some(tilt) = tilt {
            let both = tilt.value.figure().signed().give_or_take(tilt.expanded.figure());
            said.push(&say!("; {name} {both}"));
        }
    }
    if let Some(settle) = &judged.would_settle {
        said.push(&say!("; to settle it: {}", settle.0));
    }
    said
}

/// An event in one line.
pub(super) fn told(job: &JobHistory, event: &Event) -> Sentence {
    if let Some(first) = event.copy_of.and_then(|first| job.place(first)) {
        return say!("{first} written again, as left");
    }
    match &event.body {
        Body::JobOpened(_) => say!("job opened"),
        Body::JobRevised(revised) => {
            say!("job file changed{}", said_same(&revised.said_same))
        }
        Body::Note(note) => match note.about.and_then(|about| job.place(about)) {
            Some(seq) => say!("note on {seq}: {}", Name(&note.text)),
            None => say!("note: {}", Name(&note.text)),
        },
        Body::PhotoAttached(photo) => attached(photo),
        Body::Closed(closed) => told_of_closing(job, closed),
        Body::Signed(signed) => match fingerprint(&signed.public_key) {
            Ok(fingerprint) => say!("signed with {}", Name(&fingerprint)),
            Err(_) => say!("signed with a key that cannot be read"),
        },
        Body::Unknown(unknown) => {
            say!("\"{}\": written by a newer program", Name(&unknown.kind))
        }
        Body::Joined(joined) => joined_branches(joined),
        Body::Salvaged(saved) => say!(
            "saved from behind a break at {}: event {}, \"{}\", by {}, {}; whether it belongs here nobody can say",
            saved.broke_at,
            saved.seq,
            Name(&saved.kind),
            Name(&saved.who),
            Name(&saved.at)
        ),
        measured => told_of_work(job, measured),
    }
}

/// With what is left to do, and what the steps show of it where the closing does not say.
fn told_of_closing(job: &JobHistory, closed: &Closed) -> Sentence {
    let mut points = closed.open_points.clone();
    for point in without_as_points(&standings(&job.events)) {
        if !points.iter().any(|other| of_the_steps(other) == of_the_steps(&point)) {
            points.push(point);
        }
    }
    match points.is_empty() {
        true => say!("closed, nothing left to do"),
        false => say!("closed; left to do: {}", Name(&points.join("; "))),
    }
}

/// Which takes were struck out, by their places in the job.
fn struck_out(job: &JobHistory, takes: &[Hash]) -> Sentence {
    let places: Vec<String> =
        takes.iter().filter_map(|hash| Some(job.place(*hash)?.to_string())).collect();
    let what = if takes.len() == 1 { "take" } else { "takes" };
    say!("{what} {} struck out", places.join(", "))
}

fn told_of_work(job: &JobHistory, body: &Body) -> Sentence {
    match body {
        Body::AsLeft(left) => {
            let tilt = if left.tilt.is_some() { ", and the emitter's tilt" } else { "" };
            match left.takes.len() {
                1 => say!("left as 1 take found it{tilt}"),
                takes => say!("left as {takes} takes found it{tilt}"),
            }
        }
        Body::StruckOut(struck) => {
            say!("{}: {}", struck_out(job, &struck.takes), struck.why.word())
        }
        Body::StepUndone(undone) => {
            let places = undone.said.iter().filter_map(|hash| Some(job.place(*hash)?.to_string()));
            let places: Vec<String> = places.collect();
            say!(
                "what was said of the step {} (event {}) is undone: {}",
                Name(&undone.step),
                places.join(", "),
                Name(&undone.why)
            )
        }
        Body::Touched(touched) => match touched.why {
            Unasked::SaidSo => say!(
                "something was touched here: what was taken before is not what was found after{}",
                said_at(touched.by.as_ref())
            ),
            Unasked::ReadsOtherwise => say!(
                "something was moved here that nobody told of: the gap was another than takes and turns tell"
            ),
            Unasked::Other(ref word) => say!("something was touched here: {}", Name(word)),
        },
        Body::CalibrationUsed(used) => say!(
            "head {} with zero {}, u {}",
            Name(&used.head.serial),
            used.zero.fine(),
            used.u_zero.fine()
        ),
        Body::Calibrated(zero) => {
            say!("head {} zeroed on {}", Name(&zero.head.serial), Name(&zero.reference))
        }
        Body::ZeroChecked(checked) => {
            let holds = match checked.verdict {
                Verdict::Within => "it holds",
                Verdict::Outside => "it does not hold",
                Verdict::Unsure => "too close to call",
            };
            say!(
                "head {}'s zero checked on {}: {} off, uncertain by {}: {holds}",
                Name(&checked.head.serial),
                Name(&checked.reference),
                checked.error.fine().signed(),
                checked.expanded_u.fine()
            )
        }
        Body::Take(take) => {
            say!("take at {}: {}{}", Name(&take.station), take.gap.gap(), said_at(take.by.as_ref()))
        }
        Body::EmitterTilt(tilt) => say!(
            "the emitter itself stands, against gravity, turned by {} and toward the board by {}, u {}{}",
            tilt.level.fine(),
            tilt.lean.fine(),
            tilt.u.fine(),
            said_at(tilt.by.as_ref())
        ),
        Body::EmitterOff(off) => match (&off.saw, off.gap) {
            (Looked::Line, Some(gap)) => say!(
                "with the emitter off a line of light stayed, as if the gap were {}",
                gap.gap()
            ),
            (Looked::Line, None) => say!("with the emitter off a line of light stayed"),
            (Looked::Nothing, _) => say!("with the emitter off no line of light stayed"),
            (Looked::LeftOut, _) => say!("nobody looked with the emitter off"),
            (Looked::Other(word), _) => say!("with the emitter off: {}", Name(word)),
        },
        Body::TurnAdvised(turn) => {
            let until = match (&turn.station, turn.target_gap) {
                (Some(station), Some(gap)) => say!(", until {} reads {}", Name(station), gap.gap()),
                _ => say!(", counted"),
            };
            say!("advised: {}, {}{until}", Name(&turn.adjuster), turn.turns.in_words())
        }
        Body::TurnObserved(turn) => turned(turn),
        Body::Judged(judged) => say!("verdict, {}: {}", phase(judged.phase), verdict(judged)),
        Body::Section(section) => of_section(section),
        _ => Sentence::new(),
    }
}

fn phase(phase: Phase) -> &'static str {
    phase.shown()
}

fn turned(turn: &TurnObserved) -> Sentence {
    let noticed = turn.noticed();
    let noticed = match noticed.is_empty() {
        true => Sentence::new(),
        false => say!(" ({})", Sentence::joined(noticed, ", ")),
    };
    let counted = turn.turns.map_or_else(Sentence::new, |turns| say!(" {}", turns.in_words()));
    let went = match (&turn.station, turn.gap_before.zip(turn.gap_after)) {
        (Some(station), Some((before, after))) => {
            say!(": {} went from {}", Name(station), before.gap().to(after.gap()))
        }
        _ => Sentence::new(),
    };
    let said = said_at(turn.by.as_ref());
    say!("{} turned{counted}{went}{noticed}{said}", Name(&turn.adjuster))
}

/// By which way the word for it came, where the record says it.
fn said_at(by: Option<&Sayer>) -> Sentence {
    by.map_or_else(Sentence::new, |by| say!("; said at {}", Name(&by.to_string())))
}

fn of_section(section: &Section) -> Sentence {
    match section {
        Section::Level(level) => say!(
            "{} {}: off by {}, {}",
            Name(&level.of),
            level.line.shown(),
            level.value.figure().signed(),
            level.verdict
        ),
        Section::Survey(survey) => {
            let places = count(survey.points, "place");
            say!("result of survey: {places}, flat to {}", survey.flatness.gap())
        }
        Section::Step(step) => {
            let how = match step.how {
                SaidHow::Done => "said done",
                SaidHow::LeftOut => "left out",
            };
            match &step.why {
                Some(why) => say!("step {} {how}: {}", Name(&step.step), Name(why)),
                None => say!("step {} {how}", Name(&step.step)),
            }
        }
        other => say!("result of {}", Name(other.word())),
    }
}

fn joined_branches(joined: &Joined) -> Sentence {
    let named = |branch: &JoinedBranch| match &branch.laptop {
        Some(laptop) => say!("{} of {}", Name(laptop), Name(&branch.last_at)),
        None => say!("one of {}", Name(&branch.last_at)),
    };
    say!("branches joined: {}", Sentence::joined(joined.branches.iter().map(named), "; "))
}

fn attached(photo: &PhotoAttached) -> Sentence {
    let caption =
        photo.caption.as_ref().map_or_else(Sentence::new, |caption| say!(": {}", Name(caption)));
    say!("attached {} ({} kB){caption}", Name(&photo.name), photo.bytes.div_ceil(1000))
}

/// In what another job file was of the same job, in the person's word.
fn said_same(differs: &[Difference]) -> Sentence {
    let said = |text: &Option<String>| {
        text.as_ref().map_or_else(|| say!("not said"), |text| say!("{}", Name(text)))
    };
    let list =
        differs.iter().map(|d| say!("{} was {}, is {}", Name(&d.what), said(&d.was), said(&d.is)));
    match differs.is_empty() {
        true => Sentence::new(),
        false => {
            say!("; said to be the same job, though {}", Sentence::joined(list, "; "))
        }
    }
}
