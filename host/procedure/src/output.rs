//! What follows from what came.

use crate::emitter_off::Saw;
use crate::takes::{EmitterTilt, Kept, Whole};
use crate::view::level::LevelFound;
use crate::view::trim::Advice;
use crate::view::{StationView, TiltView, WholeView};
use crate::zero::{CheckedZero, Zeroed};
use serde::Serialize;
use skimgauge_metrology::measure::Came;
use skimgauge_metrology::zero::{Outcome, Session};
use skimgauge_model::{Phase, Station, TurnNoticed, Verdict};
use skimgauge_quantity::{Mm, Name, Sentence, Turns, say};
use skimgauge_session::{HeadIs, Trouble};
use skimgauge_shared::message::{Cue, Request};
use std::sync::Arc;

use crate::input::EventId;

/// What the shell must do.
#[derive(Debug, Clone)]
pub enum Output {
    /// Put this into the record, then say what came of it with [`Input::Record`](crate::Input). A
    /// shell that keeps nothing answers at once that it is kept.
    Keep(Entry),
    /// Ask the head.
    Ask(Request),
    /// The head's cue.
    Cue(Cue),
    /// Tell it to whoever listens, once: what a screen shows in passing, lines print.
    Tell(News),
    /// The procedure is over; because of this trouble, if there is one.
    End(Option<Trouble>),
}

/// One thing for the record, whole or not at all.
#[derive(Debug, Clone)]
pub enum Entry {
    /// A take, the last of the seats in `kept`.
    Take {
        /// The station, by its place in the walk.
        at: usize,
        /// The station.
        station: Station,
        /// What then stands there.
        kept: Box<Kept>,
        /// What may be said of it beside the other takes.
        told: Verdict,
        /// The event that it replaces.
        supersedes: Option<EventId>,
        /// What measured.
        head: Box<HeadIs>,
    },
    /// The emitter's tilt.
    Tilt {
        /// The tilt.
        tilt: EmitterTilt,
        /// How the head had come to the emitter.
        came: Came,
        /// What measured.
        head: Box<HeadIs>,
    },
    /// What was seen with the emitter switched off, or that nobody looked.
    EmitterOff {
        /// What.
        saw: Saw,
        /// What looked.
        head: Box<HeadIs>,
    },
    /// A turn was advised.
    Advised {
        /// The adjuster's name.
        adjuster: String,
        /// Clockwise positive.
        turns: Turns,
        /// The station where the gap is watched; `None` where the turn is counted.
        station: Option<String>,
        /// The gap to come to.
        target_gap: Option<Mm>,
    },
    /// A turn was made: the one advised last.
    Observed {
        /// The adjuster's name.
        adjuster: String,
        /// Clockwise positive, if anyone counted.
        turns: Option<Turns>,
        /// The station where the gap was watched; `None` where the turn was counted.
        station: Option<String>,
        /// The gap before.
        before: Option<Mm>,
        /// The gap after.
        after: Option<Mm>,
        /// The gap advised.
        predicted: Option<Mm>,
        /// What was noticed.
        noticed: Vec<TurnNoticed>,
    },
    /// Something was levelled or plumbed.
    Levelled {
        /// What was found.
        found: Box<LevelFound>,
        /// What measured.
        head: Box<HeadIs>,
    },
    /// The verdict over everything.
    Judged(Box<Whole>),
    /// The round goes on where an earlier run left it.
    GoneOn,
    /// Takes from here on are of this state of the installation.
    Phase(Phase),
    /// A new round begins.
    Round(Phase),
    /// What a zeroing has read so far, in the place of what was kept of it before.
    Zeroing(Box<Session>),
    /// A head has new constants.
    Zeroed(Box<Zeroed>),
    /// The constants in a head were held against the gauge.
    ZeroChecked(Box<CheckedZero>),
    /// The installation is left as the takes of this round that stand found it.
    AsLeft,
    /// What was taken at this station in this round was wrong, and counts no more: read again, the
    /// light leaves the eye there.
    StruckOut {
        /// The station's name.
        station: String,
    },
    /// Something was moved that nothing else here tells of: the takes before it stand for nothing
    /// after it.
    Touched(Touched),
    /// Somebody wrote something down.
    Note(String),
    /// Somebody took a photograph.
    Photo {
        /// The name of its file.
        name: String,
        /// As in `image/jpeg`.
        media_type: &'static str,
        /// Who sent it.
        caption: String,
        /// Its bytes.
        bytes: Arc<[u8]>,
    },
}

/// How it is known that something was moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Touched {
    /// The user was asked, and said so.
    SaidSo,
    /// Where a turn was to be watched, the gap was twice another than the takes and turns tell.
    ReadsOtherwise,
}

impl Entry {
    /// As its user knows it: the end of `saving …`.
    pub fn what(&self) -> Sentence {
        match self {
            Self::Take { station, .. } => say!("{}", Name(&station.name)),
            Self::Tilt { .. } => say!("the emitter's tilt"),
            Self::EmitterOff { .. } => say!("the look with the emitter off"),
            Self::Advised { adjuster, .. } | Self::Observed { adjuster, .. } => {
                say!("the turn of {}", Name(adjuster))
            }
            Self::Levelled { found, .. } if found.thing.is_empty() => say!("the level"),
            Self::Levelled { found, .. } => say!("{}", Name(&found.thing)),
            Self::Judged(_) => say!("the verdict"),
            Self::GoneOn => say!("what stands"),
            Self::Round(_) | Self::Phase(_) => say!("the new round"),
            Self::Zeroing(_) => say!("what was read"),
            Self::Zeroed(_) => say!("the head's new constants"),
            Self::ZeroChecked(_) => say!("the check"),
            Self::AsLeft => say!("what stands as left"),
            Self::StruckOut { station } => say!("that {} counts no more", Name(station)),
            Self::Touched(_) => say!("that something was touched"),
            Self::Note(_) => say!("a note"),
            Self::Photo { .. } => say!("a photograph"),
        }
    }

    /// Whether its user makes it again if it could not be kept. Everything else is tried again.
    pub fn is_take(&self) -> bool {
        matches!(
            self,
            Self::Take { .. }
                | Self::Tilt { .. }
                | Self::Levelled { .. }
                | Self::Zeroing(_)
                | Self::Zeroed(_)
        )
    }
}

/// Something said to the user for a while.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Message {
    /// What.
    pub says: Sentence,
    /// Bad news?
    pub bad: bool,
    /// What means yes to what it asks; empty where it asks nothing. How to say it is for whoever
    /// shows it.
    pub answers: Vec<crate::Word>,
}

/// Something that happened, for whoever is told line by line.
#[derive(Debug, Clone, PartialEq)]
pub enum News {
    /// Said to the user.
    Message(Message),
    /// Said by the trim, of the plane and of the turns.
    Guide(Message),
    /// The trim wants something else done now.
    Advice {
        /// What.
        advice: Advice,
        /// In words.
        says: Sentence,
    },
    /// A take was kept.
    Take {
        /// What stands at its station now.
        station: Box<StationView>,
        /// The take's place in the record.
        event: Option<u32>,
        /// The verdict over everything with it.
        whole: Box<WholeView>,
    },
    /// Something was levelled, turned end for end.
    Levelled(Box<LevelFound>),
    /// A step of a zeroing is to be made now, in these words.
    Step(Sentence),
    /// What a zeroing comes to, before it is written to the head.
    Constants(Box<Outcome>),
    /// The emitter's tilt was kept.
    Tilt {
        /// How the emitter itself stands.
        tilt: TiltView,
        /// Its place in the record.
        event: Option<u32>,
        /// How the head had come there.
        came: Came,
        /// The verdict over everything with it.
        whole: Box<WholeView>,
    },
}
