//! What was learnt, as other programs read it. Lengths in mm, times in minutes.

use serde::Serialize;

/// Version of the JSON form; raised when a field goes or changes its meaning.
pub(super) const SCHEMA: u32 = 1;

/// Everything that was learnt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figures {
    /// Version of this form.
    pub schema: u32,
    /// Always `lessons`.
    pub kind: &'static str,
    /// About the jobs.
    pub jobs: JobFigures,
    /// By emitter model, in its name's order.
    pub emitters: Vec<EmitterFigures>,
    /// By head.
    pub heads: Vec<HeadFigures>,
    /// By crew; empty where nobody asked.
    pub crews: Vec<CrewFigures>,
    /// What was noticed of takes and turns, the most frequent first.
    pub faults: Vec<Count>,
}

/// About all jobs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JobFigures {
    /// How many were heard.
    pub count: usize,
    /// Those whose chain breaks, which teach nothing.
    pub broken: Vec<String>,
    /// Last verdicts: within, outside, too close to call, none.
    pub verdicts: [usize; 4],
    /// Minutes at work: the intervals between entries, those of a quarter of an hour and more left
    /// out.
    pub minutes: Option<Shown>,
    /// Rounds.
    pub rounds: Option<Shown>,
}

/// A quarter of the values lies below `low`, half below `middle`, three quarters below `high`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Shown {
    /// Lower quarter.
    pub low: f64,
    /// Median.
    pub middle: f64,
    /// Upper quarter.
    pub high: f64,
}

/// About one emitter model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EmitterFigures {
    /// As the job files call it.
    pub model: String,
    /// Jobs with it.
    pub jobs: usize,
    /// By adjuster's name.
    pub adjusters: Vec<AdjusterFigures>,
}

/// About one adjuster of a model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AdjusterFigures {
    /// Its name.
    pub name: String,
    /// How many units were watched.
    pub units: usize,
    /// How many turns.
    pub turns: usize,
    /// How far one turn moves it, as it works.
    pub pitch_mm: f64,
    /// Standard uncertainty of that.
    pub u_pitch_mm: f64,
    /// Standard deviation from unit to unit.
    pub spread_mm: f64,
    /// What a clockwise turn does: `out` or `in`.
    pub clockwise: &'static str,
    /// Units on which it works the other way round.
    pub other_way: usize,
    /// What the job files say of its pitch, the median.
    pub stated_mm: f64,
}

/// About one head.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeadFigures {
    /// Its serial number.
    pub serial: String,
    /// Its zeros, in the order of their days.
    pub zeros: Vec<Zero>,
    /// Limits of the zero after ISO 7870-2; none for fewer than five zeros.
    pub limits: Option<Limits>,
    /// What is out of the ordinary of them, in words; the first of its kind.
    pub signs: Vec<String>,
    /// Places in `zeros` of what is out of the ordinary.
    pub at: Vec<usize>,
    /// Scatter from seat to seat.
    pub seats: Option<Scatter>,
}

/// One zero of a head.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Zero {
    /// The day.
    pub day: String,
    /// The constant.
    pub zero_mm: f64,
    /// Its standard uncertainty.
    pub u_mm: f64,
}

/// Control limits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limits {
    /// Mean.
    pub mean_mm: f64,
    /// Three standard deviations below.
    pub lower_mm: f64,
    /// Three standard deviations above.
    pub upper_mm: f64,
}

/// Scatter within groups of repeats.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Scatter {
    /// Standard deviation.
    pub sd_mm: f64,
    /// Its degrees of freedom.
    pub dof: usize,
}

/// About one crew.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrewFigures {
    /// The user under which its jobs were sent.
    pub crew: String,
    /// Its jobs.
    pub jobs: usize,
    /// Scatter from seat to seat.
    pub seats: Option<Scatter>,
    /// Minutes at work, the median.
    pub minutes: Option<Shown>,
    /// Rounds.
    pub rounds: Option<Shown>,
}

/// How often something was noticed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Count {
    /// Of a `take` or a `turn`.
    pub of: &'static str,
    /// The word.
    pub what: String,
    /// How often.
    pub count: usize,
    /// In how many jobs.
    pub jobs: usize,
}
