//! Earlier rounds beside a table of readings: what they teach, and what they say against themselves or
//! against the readings.

use crate::tables::Lines;
use serde::Serialize;
use skimgauge_jobfile::Job;
use skimgauge_metrology::coverage::{LEVEL, t_factor};
use skimgauge_metrology::plane::apart::FarApart;
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::consistency::Odd;
use skimgauge_metrology::plane::fit::{PlaneFit, fit};
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::trim::influence::Influence;
use skimgauge_metrology::trim::replay::{Contradicts, EarlierRound, Wrong};
use skimgauge_metrology::trim::rounds::{Learner, Off};
use skimgauge_metrology::trim::slipping::slipping;
use skimgauge_model::Adjuster;
use skimgauge_procedure::takes;
use skimgauge_procedure::trim::says;
use skimgauge_quantity::{Mm, Name, Sentence, say};

/// What was read, with its lines.
pub(super) struct Tables<'a> {
    /// The readings' table, as it is named.
    pub(super) from: String,
    pub(super) observations: &'a Observations,
    /// The line of each reading.
    pub(super) lines: Vec<usize>,
    /// The rounds' table, as it is named.
    pub(super) rounds_from: String,
    pub(super) rounds: Vec<(EarlierRound, Lines)>,
}

/// What earlier rounds come to.
pub(super) struct Learnt {
    pub(super) learner: Learner,
    /// What was turned in them, clockwise by adjuster.
    pub(super) made: [f64; 3],
}

/// A contradiction, with its place.
#[derive(Serialize)]
pub(crate) struct Contradiction {
    /// The round; null: the readings themselves.
    round: Option<u32>,
    /// The station or place; null where it is of a turn.
    station: Option<String>,
    /// Lines of the table that it stands in.
    lines: Vec<usize>,
    /// In words.
    pub(crate) says: Sentence,
}

impl Tables<'_> {
    /// What the rounds teach, these readings among it, `None` without any; and what is contradictory.
    pub(super) fn learnt(
        &self,
        job: &Job,
        board: &Board,
    ) -> anyhow::Result<(Option<Learnt>, Vec<Contradiction>)> {
        let found = fit(self.observations, board);
        let here = self.rounds.len();
        // That the readings contradict one another as a whole is said with them.
        let twice = Wrong::within(here, self.observations, None);
        if self.rounds.is_empty() {
            return Ok((None, twice.iter().map(|wrong| self.said(job, wrong)).collect()));
        }
        let adjusters: [Adjuster; 3] = job
            .adjusters
            .clone()
            .try_into()
            .map_err(|_| anyhow::anyhow!("The job does not name three adjusters."))?;
        let before: Vec<EarlierRound> =
            self.rounds.iter().map(|(round, _)| round.clone()).collect();
        let found = found.ok();
        let adjusters = self.of_true_pitch(&adjusters, &before, found.as_ref(), board, job)?;
        let mut learner = Learner::new(&adjusters)?;
        let replayed = learner.replay(&before, board, job.limits.seat.0);
        let mut wrong = replayed.wrong;
        if wrong.is_empty() {
            wrong.extend(slipping(&before, found.as_ref(), board, &Influence::of(&adjusters)?));
        }
        wrong.extend(twice);
        if let Some(found) = found {
            let shown = learner.round(self.observations, &found, board);
            wrong.extend(Wrong::turned(here, &shown));
        }
        let said = wrong.iter().map(|wrong| self.said(job, wrong)).collect();
        Ok((Some(Learnt { learner, made: replayed.made }), said))
    }

    /// The adjusters with the pitches that all rounds show: the first of them is then learnt from
    /// as the last.
    fn of_true_pitch(
        &self,
        adjusters: &[Adjuster; 3],
        before: &[EarlierRound],
        here: Option<&PlaneFit>,
        board: &Board,
        job: &Job,
    ) -> anyhow::Result<[Adjuster; 3]> {
        let mut learner = Learner::new(adjusters)?;
        learner.replay(before, board, job.limits.seat.0);
        if let Some(here) = here {
            learner.round(self.observations, here, board);
        }
        let mut of_true = adjusters.clone();
        for (adjuster, share) in of_true.iter_mut().zip(learner.pitches()) {
            adjuster.pitch.0 *= share.unwrap_or(1.0);
        }
        Ok(of_true)
    }

    fn said(&self, job: &Job, wrong: &Wrong) -> Contradiction {
        let of = self.rounds.get(wrong.round);
        let (gaps, lines) = match of {
            Some((round, lines)) => (&round.observations.gaps, &lines.readings),
            None => (&self.observations.gaps, &self.lines),
        };
        let rows = Rows { gaps, lines, job };
        let (station, lines, says) = match &wrong.what {
            Contradicts::Twice(apart) => rows.twice(apart),
            Contradicts::Readings(odd) => rows.odd(odd),
            Contradicts::Turns(off) => rows.turns(off, &self.turned_before(wrong.round)),
            Contradicts::Turn { turn, finding } => {
                let made = of.and_then(|(round, _)| round.turns.get(*turn));
                let adjuster = made.and_then(|made| job.adjusters.get(made.adjuster));
                let adjuster = adjuster.map_or("", |adjuster| adjuster.name.as_str());
                let line = of.and_then(|(_, lines)| lines.turns.get(*turn));
                let says = say!(
                    "its turns and its readings do not go together: {}",
                    says::finding(adjuster, *finding)
                );
                (None, line.copied().into_iter().collect(), says)
            }
        };
        let at = say!("{}", listed("line", &lines));
        let place = match of {
            Some((_, of)) => say!("{} of {}, round {}", at, Name(&self.rounds_from), of.round),
            None => say!("{} of {}", at, Name(&self.from)),
        };
        let round = of.map(|(_, of)| of.round);
        Contradiction { round, station, lines, says: say!("{place}: {says}.") }
    }

    /// The turns between a round's readings and those before: in words, with their lines.
    fn turned_before(&self, round: usize) -> Sentence {
        let Some((_, before)) = round.checked_sub(1).and_then(|at| self.rounds.get(at)) else {
            return Sentence::new();
        };
        if before.turns.is_empty() {
            return say!("the readings of round {} without a turn since", before.round);
        }
        let lines = listed("line", &before.turns);
        say!("the turns of round {} ({lines} of {})", before.round, Name(&self.rounds_from))
    }
}

/// The readings of one round with their lines.
struct Rows<'a> {
    gaps: &'a [GapObservation],
    lines: &'a [usize],
    job: &'a Job,
}

impl Rows<'_> {
    fn name(&self, reading: usize) -> (Option<String>, Sentence) {
        let gap = &self.gaps[reading];
        let station = gap.station.clone();
        let named = match &station {
            Some(name) => say!("{}", Name(name)),
            None => {
                let at = skimgauge_model::Point::mm(gap.x_mm, gap.y_mm);
                self.job.image.whereabouts(at)
            }
        };
        (station, named)
    }

    fn twice(&self, apart: &FarApart) -> (Option<String>, Vec<usize>, Sentence) {
        let [first, last] = apart.readings;
        let (station, name) = self.name(first);
        let [low, high] = apart.gaps_mm;
        let says = say!(
            "{name} is read {} and {}, {} apart: one of the two is wrong, or of another place. Read it again, \
             and leave the wrong line out",
            Mm(low).gap(),
            Mm(high).gap(),
            Mm(high - low).gap()
        );
        let mut lines = vec![self.lines[first], self.lines[last]];
        lines.sort_unstable();
        (station, lines, says)
    }

    fn odd(&self, odd: &Odd) -> (Option<String>, Vec<usize>, Sentence) {
        let is_odd = |gap: &GapObservation| {
            let mut suspects = odd.suspects.iter();
            suspects.any(|one| (one.x_mm, one.y_mm) == (gap.x_mm, gap.y_mm))
        };
        let lines = self.gaps.iter().zip(self.lines).filter(|(gap, _)| is_odd(gap));
        let lines: Vec<usize> = lines.map(|(_, line)| *line).collect();
        let station = odd.suspects.first().map(|suspect| suspect.name.clone());
        let says = say!(
            "the readings of this round contradict one another: {}",
            takes::contradiction(odd, "or leave the wrong line out")
        );
        (station, lines, says)
    }

    fn turns(&self, off: &Off, before: &Sentence) -> (Option<String>, Vec<usize>, Sentence) {
        let (station, name) = self.name(off.reading);
        let k = t_factor(LEVEL, f64::INFINITY).unwrap_or(2.0);
        let says = say!(
            "{name} reads {} where {before} make it {}: those cannot have given that. Is a turn or its sense written \
             down wrong, was one left out, did an adjuster slip or the emitter move? Mend the line, or write what was \
             seen of a turn in the column noticed",
            Mm(off.gap_mm).gap(),
            Mm(off.expected_mm).gap().give_or_take(Mm(k * off.u_mm).gap())
        );
        (station, vec![self.lines[off.reading]], says)
    }
}

/// `line 5`, `lines 5 and 9`.
fn listed(what: &'static str, lines: &[usize]) -> Sentence {
    let each: Vec<Sentence> = lines.iter().map(|line| say!("{line}")).collect();
    let many = if lines.len() == 1 { "" } else { "s" };
    say!("{what}{many} {}", Sentence::list(each, "and"))
}
