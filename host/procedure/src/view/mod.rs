//! How a procedure stands, as plain data: everything that a screen, a plain line, a JSON line or a
//! page shows. Quantities and sentences, nothing formatted; nothing that has to be worked out.

pub mod birth;
pub mod board;
pub mod emitter_off;
pub mod level;
mod live;
mod offer;
mod stations;
pub mod survey;
pub mod trim;
pub mod zero;

pub use live::{Aim, FaultView, LinkView, Live, Reading};
pub use offer::{Offer, Question};
pub use stations::{
    EmitterView, PlaceView, StationView, TakenView, TiltJudged, TiltView, WholeView,
};

use crate::output::Message;
use serde::Serialize;
use skimgauge_metrology::measure::Bearing;
use skimgauge_model::{Bands, Image};
use skimgauge_quantity::Sentence;
use skimgauge_session::Counts;
use std::time::Duration;

/// Everything there is to show of a procedure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct View {
    /// Counts up whenever what can be said, or what a word would do, changes. A word may carry it.
    pub number: u64,
    /// When this is so, seconds since the link was opened.
    pub at_s: f64,
    /// What is worked on: the job's name, or the procedure's where there is no job.
    pub title: String,
    /// The link to the head.
    pub link: LinkView,
    /// Readings counted.
    pub counts: Counts,
    /// The image that is measured over; `None` where there is no job.
    pub image: Option<Image>,
    /// Where the user is; `None` where places play no part (a level, a zeroing).
    pub place: Option<PlaceView>,
    /// What the head says now.
    pub live: Live,
    /// What gap, level and lean may be; `None` where nothing is judged.
    pub bands: Option<Bands>,
    /// The gap that the live one should come to, where that is not the band's middle.
    pub aim: Option<Aim>,
    /// How far the user is.
    pub state: State,
    /// What to do now: one instruction.
    pub instruction: Sentence,
    /// What waits for an answer. Nothing else matters until then.
    pub question: Option<Question>,
    /// What was said last, while it lasts.
    pub message: Option<Message>,
    /// What is being taken or saved just now: words are let go meanwhile.
    pub saving: Option<Sentence>,
    /// The stations of the walk, in their order.
    pub stations: Vec<StationView>,
    /// The emitter, where its tilt is asked for.
    pub emitter: Option<EmitterView>,
    /// The verdict over everything, where there is one to come to.
    pub whole: Option<WholeView>,
    /// The look with the emitter switched off, while it is due.
    pub emitter_off: Option<emitter_off::EmitterOffView>,
    /// What is of one procedure alone.
    pub part: Part,
    /// What can be said now, the most important first.
    pub words: Vec<Offer>,
    /// What is wrong with the readings, the gravest first.
    pub faults: Vec<FaultView>,
    /// The gravest of them, where it stands in the way of what is to be done now: on the emitter
    /// nobody looks for the board.
    pub in_the_way: Option<FaultView>,
    /// Cautions that belong on every screen of this procedure.
    pub cautions: Vec<Sentence>,
    /// Whether the head's cue sounds.
    pub sound: bool,
}

impl View {
    /// Of a procedure that has no places and judges no band: nothing can be said yet, and nothing is
    /// in the way.
    pub(crate) fn without_places(
        title: impl Into<String>,
        (at, number): (Duration, u64),
        link: LinkView,
        live: Live,
        part: Part,
    ) -> Self {
        Self {
            number,
            at_s: at.as_secs_f64(),
            title: title.into(),
            link,
            counts: Counts::default(),
            image: None,
            place: None,
            live,
            bands: None,
            aim: None,
            state: State::Waiting,
            instruction: Sentence::new(),
            question: None,
            message: None,
            saving: None,
            stations: Vec::new(),
            emitter: None,
            whole: None,
            emitter_off: None,
            part,
            words: Vec::new(),
            faults: Vec::new(),
            in_the_way: None,
            cautions: Vec::new(),
            sound: false,
        }
    }
}

/// How far the user is. Each hides those before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Nobody has answered yet, or no reading came.
    Waiting,
    /// The head is to be put somewhere else first.
    Move,
    /// Something has to come to rest, or be mended, first: see the instruction.
    Hold,
    /// A take can be made.
    Ready,
    /// An adjuster is being turned.
    Turn,
    /// There is nothing more to do.
    Over,
    /// Something was taken a moment ago.
    Taken,
    /// Something is being taken or saved.
    Saving,
    /// A question waits for its answer.
    Asked,
    /// The head is lost; it is looked for.
    Lost,
}

impl View {
    /// Whether anything is measured now: not by a head on its way somewhere else, nor at a moment to
    /// look at the board.
    pub fn measures(&self) -> bool {
        let pauses = matches!(&self.part, Part::Trim(trim)
            if matches!(trim.advice, trim::Advice::Begin | trim::Advice::Survey | trim::Advice::Over));
        self.state != State::Move && !pauses
    }

    /// What would make the numbers surer and can wait: it casts no doubt and stands in nobody's way.
    pub fn advice(&self) -> Option<&FaultView> {
        self.faults.iter().find(|fault| fault.bearing == Bearing::Notice)
    }

    /// Where the head still stands, as far as anybody saw, where the user is to be elsewhere.
    pub fn still_at(&self) -> Option<&str> {
        self.place.as_ref()?.still_at.as_deref()
    }
}

/// What is of one procedure alone.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "procedure", rename_all = "kebab-case")]
pub enum Part {
    /// Takes: stations and the verdict are all of it.
    Takes,
    /// The guided trim.
    Trim(Box<trim::TrimView>),
    /// A survey with the head.
    Survey(survey::SurveyView),
    /// The head as a level.
    Level(Box<level::LevelView>),
    /// A zeroing.
    Zero(zero::ZeroView),
    /// A head's first start.
    Birth(Box<birth::BirthView>),
}
