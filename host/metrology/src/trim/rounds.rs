//! What is learnt from round to round: the takes of each, the turns between them.
//!
//! A [`Tracker`] is begun with the first round's plane and learns from every take, turn and live
//! reading after it. Takes that surprise it by far, because somebody touched the emitter or a turn
//! was not what it was said to be, make it forget the plane and keep the rest. A turn that nobody
//! watched is looked at in the next round's plane: an adjuster that worked the other way round
//! shows there, and over more rounds one whose pitch is another than the job file says.

use super::TrimError;
use super::influence::{GeometryUncertainty, Influence};
use super::learn::{Hand, Tracker};
use super::pitch::Pitches;
use super::response::implied_turns;
use crate::plane::board::Board;
use crate::plane::fit::{PlaneFit, fit};
use crate::plane::observation::{GapObservation, Observations};
use skimgauge_model::{Adjuster, Sense};

/// What is known of an emitter's adjusters before a turn of them was watched: pitches by 5 %,
/// places by 1.5 mm. Common practice, no source.
pub const GEOMETRY: GeometryUncertainty =
    GeometryUncertainty { u_position_mm: 1.5, u_pitch_share: 0.05 };

/// Takes that differ from what was expected by more than so many standard uncertainties are of
/// another plane.
const SURPRISING: f64 = 4.0;
/// Of a turn nobody watched, so much is uncertain in what two rounds make of it: a share of it,
/// and turns.
const UNWATCHED: (f64, f64) = (0.1, 0.1);
/// A turn shows in two rounds from so many standard uncertainties on.
const SHOWS: f64 = 4.0;

/// What is known between two rounds.
#[derive(Debug, Clone, PartialEq)]
pub struct Learner {
    adjusters: [Adjuster; 3],
    influence: Influence,
    tracker: Option<Tracker>,
    /// The round before, and what was turned since and watched by nobody.
    before: Option<PlaneFit>,
    unwatched: [f64; 3],
    /// All that was turned since the round before, clockwise by adjuster.
    turned: [f64; 3],
    /// What one turn of each does by the job file, its sense as now known.
    as_said: Influence,
    /// What was read in the round before, and what the rounds that were counted come to.
    read: Vec<GapObservation>,
    pitches: Pitches,
    /// The pitch of each as a share of that in the job file, as now known.
    share: [f64; 3],
}

/// What a round's takes showed of what was turned before them.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Shown {
    /// Adjusters that worked the other way round, by their place: turned about from here on.
    pub reversed: Vec<usize>,
    /// Adjusters that do another part of what the job file says a turn does, and which: known from
    /// this round on.
    pub pitches: Vec<(usize, f64)>,
    /// The plane was not where it was expected: it is learnt anew.
    pub surprised: bool,
    /// The reading that shows that most.
    pub off: Option<Off>,
}

/// A reading that what was known before it cannot have given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Off {
    /// Index into the readings.
    pub reading: usize,
    /// What was read, mm.
    pub gap_mm: f64,
    /// What was expected, mm.
    pub expected_mm: f64,
    /// Standard uncertainty of the difference, mm.
    pub u_mm: f64,
}

impl Off {
    /// The difference in its standard uncertainties.
    fn times(&self) -> f64 {
        (self.gap_mm - self.expected_mm).abs() / self.u_mm
    }
}

impl Learner {
    /// Nothing but the adjusters is known.
    ///
    /// # Errors
    /// [`TrimError`] where they cannot move a plane.
    pub fn new(adjusters: &[Adjuster; 3]) -> Result<Self, TrimError> {
        let as_said = Influence::of(adjusters)?;
        Ok(Self {
            influence: as_said,
            as_said,
            pitches: Pitches::default(),
            share: [1.0; 3],
            adjusters: adjusters.clone(),
            tracker: None,
            before: None,
            read: Vec::new(),
            unwatched: [0.0; 3],
            turned: [0.0; 3],
        })
    }

    /// The adjusters, with their senses and pitches as now known.
    pub fn adjusters(&self) -> &[Adjuster; 3] {
        &self.adjusters
    }

    /// What one turn of each does, as now known.
    pub fn influence(&self) -> Influence {
        self.tracker.as_ref().map_or(self.influence, Tracker::influence)
    }

    /// By adjuster: its pitch as a share of that in the job file, where rounds showed another.
    pub fn pitches(&self) -> [Option<f64>; 3] {
        self.share.map(|share| (share != 1.0).then_some(share))
    }

    /// Everything known; `None` before the first round.
    pub fn tracker(&self) -> Option<&Tracker> {
        self.tracker.as_ref()
    }

    /// The same, to learn from a live reading.
    pub fn tracker_mut(&mut self) -> Option<&mut Tracker> {
        self.tracker.as_mut()
    }

    /// A round's takes and their plane.
    pub fn round(&mut self, observations: &Observations, found: &PlaneFit, board: &Board) -> Shown {
        let reversed = self.reversed_unwatched(found);
        let mut shown = Shown { reversed, ..Shown::default() };
        for &adjuster in &shown.reversed {
            self.reverse(adjuster);
        }
        shown.pitches = self.pitches_by(observations);
        match &mut self.tracker {
            Some(_) if !shown.pitches.is_empty() => self.begin(found, board),
            Some(tracker) => {
                let off = observations.gaps.iter().enumerate().map(|(reading, gap)| {
                    let expected = tracker.unseated(gap.x_mm, gap.y_mm);
                    let u_mm = expected.u_mm.hypot(gap.u_mm);
                    Off { reading, gap_mm: gap.gap_mm, expected_mm: expected.gap_mm, u_mm }
                });
                let most = off.max_by(|a, b| a.times().total_cmp(&b.times()));
                shown.off = most.filter(|off| off.times() > SURPRISING);
                shown.surprised = shown.off.is_some();
                if shown.surprised {
                    tracker.lose_plane();
                }
                observations.gaps.iter().for_each(|gap| {
                    tracker.take(gap);
                });
            }
            None => self.begin(found, board),
        }
        self.before = Some(found.clone());
        (self.unwatched, self.turned) = ([0.0; 3], [0.0; 3]);
        shown
    }

    /// The board is known anew, by a survey or because readings came back the same: what was
    /// learnt of the adjusters stays, the plane is this one.
    pub fn board_anew(&mut self, found: &PlaneFit, board: &Board) {
        self.influence = self.influence();
        self.begin(found, board);
        self.before = Some(found.clone());
        self.read.clear();
        (self.unwatched, self.turned) = ([0.0; 3], [0.0; 3]);
    }

    fn begin(&mut self, found: &PlaneFit, board: &Board) {
        let (influence, hand) = (self.influence, Hand::default());
        let adjusters = &self.adjusters;
        self.tracker = Some(Tracker::new(found, board, &influence, adjusters, GEOMETRY, hand));
    }

    /// Too few takes for a plane of their own: each still says something.
    pub fn few(&mut self, observations: &Observations) {
        if let Some(tracker) = &mut self.tracker {
            observations.gaps.iter().for_each(|gap| {
                tracker.take(gap);
            });
        }
        self.before = None;
    }

    /// The same, of which a plane is begun where there is none yet.
    pub(super) fn few_over(&mut self, observations: &Observations, board: &Board) {
        if let Some(tracker) = &mut self.tracker {
            observations.gaps.iter().for_each(|gap| {
                tracker.take(gap);
            });
        } else if let Ok(found) = fit(observations, board) {
            self.begin(&found, board);
        }
    }

    /// A turn as counted, that nobody watched.
    pub fn counted(&mut self, adjuster: usize, turns: f64) {
        self.unwatched[adjuster.min(2)] += turns;
        self.turned[adjuster.min(2)] += turns;
        if let Some(tracker) = &mut self.tracker {
            tracker.turn(adjuster, turns);
        }
    }

    /// A turn whose end was read at this place of this seat, mm: what the reading makes of it.
    pub fn watched(&mut self, adjuster: usize, turns: f64, read: (f64, f64), gap_mm: f64, u: f64) {
        self.turned[adjuster.min(2)] += turns;
        if let Some(tracker) = &mut self.tracker {
            tracker.turn(adjuster, turns);
            tracker.read(read.0, read.1, gap_mm, u);
        }
    }

    /// The plane is no longer where it was known to be.
    pub fn lose_plane(&mut self) {
        self.before = None;
        if let Some(tracker) = &mut self.tracker {
            tracker.lose_plane();
        }
    }

    /// An adjuster works the other way round.
    pub fn reverse(&mut self, adjuster: usize) {
        let adjuster = adjuster.min(2);
        let whole = &mut self.adjusters[adjuster];
        whole.clockwise = match whole.clockwise {
            Sense::Out => Sense::In,
            Sense::In => Sense::Out,
        };
        for influence in [&mut self.influence, &mut self.as_said] {
            influence.by_adjuster[adjuster].iter_mut().for_each(|entry| *entry *= -1.0);
        }
        self.pitches.forget();
        if let Some(tracker) = &mut self.tracker {
            tracker.reverse(adjuster);
        }
    }

    /// Pitches that this round shows to be other than was known of them, taken over.
    fn pitches_by(&mut self, now: &Observations) -> Vec<(usize, f64)> {
        /// A pitch that was learnt is learnt anew where it is off by more than this share.
        const ANEW: f64 = 0.1;
        let before = std::mem::replace(&mut self.read, now.gaps.clone());
        if self.before.is_none() {
            return Vec::new();
        }
        let by_count = |at: usize| self.unwatched[at] == self.turned[at];
        let counted = [0, 1, 2].map(|at| by_count(at).then_some(self.turned[at]));
        self.pitches.add((&before, &now.gaps), &self.as_said, counted);
        let of_all = self.pitches.found().into_iter().enumerate();
        let anew = of_all.filter_map(|(at, share)| Some((at, share?)));
        let anew: Vec<(usize, f64)> =
            anew.filter(|(at, share)| (share / self.share[*at] - 1.0).abs() > ANEW).collect();
        if !anew.is_empty() {
            self.influence = self.influence();
        }
        for &(at, share) in &anew {
            let by = share / self.share[at];
            self.adjusters[at].pitch.0 *= by;
            self.influence.by_adjuster[at] = self.as_said.by_adjuster[at].map(|one| one * share);
            self.share[at] = share;
        }
        anew
    }

    /// Adjusters turned by count that moved the plane the other way, where that explains the whole
    /// change: what was misread or touched moves the plane as no turn the other way does.
    fn reversed_unwatched(&self, found: &PlaneFit) -> Vec<usize> {
        let Some(before) = &self.before else { return Vec::new() };
        let Some(implied) = implied_turns(before, found, &self.influence()) else {
            return Vec::new();
        };
        let u_turns = |adjuster: usize| {
            let made = self.turned[adjuster].abs();
            implied.u_turns[adjuster].hypot(UNWATCHED.0 * made + UNWATCHED.1)
        };
        let is_reversed = |adjuster: usize| {
            let (made, seems) = (self.unwatched[adjuster], implied.turns[adjuster]);
            made.abs() > SHOWS * u_turns(adjuster) && (seems + made).abs() < 0.5 * made.abs()
        };
        let as_made = |adjuster: usize| {
            let off = implied.turns[adjuster] - self.turned[adjuster];
            off.abs() <= SHOWS * u_turns(adjuster)
        };
        let reversed: Vec<usize> = (0..3).filter(|&adjuster| is_reversed(adjuster)).collect();
        let explained = (0..3).all(|one| reversed.contains(&one) || as_made(one));
        if explained { reversed } else { Vec::new() }
    }
}
