//! Jobs heard one after the other, and what they come to.

use std::collections::{BTreeMap, BTreeSet};

use skimgauge_jobfile::JobFile;
use skimgauge_metrology::fleet::advance::{Watched, advance};
use skimgauge_metrology::fleet::chart::{Chart, Sign};
use skimgauge_metrology::fleet::spread::{Estimate, mean, quantile, spread, within};
use skimgauge_model::Adjuster;
use skimgauge_record::JobHistory;
use skimgauge_record::event::{Body, Take, TurnFlag, TurnObserved, Verdict};
use skimgauge_record::practice::{Heads, simulated};

use super::figures::{
    AdjusterFigures, Count, CrewFigures, EmitterFigures, Figures, HeadFigures, JobFigures, Limits,
    SCHEMA, Scatter, Shown, Zero,
};

/// Longer intervals between entries are no work at the board: waiting, a break, another day. Common
/// practice, no source.
const PAUSE_S: f64 = 15.0 * 60.0;

/// Standard uncertainty of a gap that is read while a hand turns, where the takes of the job say
/// none. Common practice, no source.
const U_WATCHED_MM: f64 = 0.01;

/// How well a hand's count of turns is known, turns: to a twenty-fourth of a turn (15 degrees), as a
/// rectangle. Common practice, no source.
const U_TURNS: f64 = 1.0 / 24.0 / 1.732;

/// What jobs said so far.
#[derive(Debug, Clone, Default)]
pub struct Lessons {
    count: usize,
    broken: Vec<String>,
    verdicts: [usize; 4],
    minutes: Vec<f64>,
    rounds: Vec<f64>,
    emitters: BTreeMap<String, Emitter>,
    heads: BTreeMap<String, Head>,
    crews: BTreeMap<String, Crew>,
    faults: BTreeMap<(&'static str, String), (usize, usize)>,
}

#[derive(Debug, Clone, Default)]
struct Emitter {
    jobs: usize,
    adjusters: BTreeMap<String, Units>,
}

/// One adjuster on every unit of a model that was watched.
#[derive(Debug, Clone, Default)]
struct Units {
    advances: Vec<Estimate>,
    turns: usize,
    stated: Vec<f64>,
}

#[derive(Debug, Clone, Default)]
struct Head {
    /// By day, then in the order in which they were heard of.
    zeros: BTreeMap<String, Vec<(f64, f64)>>,
    seats: Vec<Vec<f64>>,
}

#[derive(Debug, Clone, Default)]
struct Crew {
    jobs: usize,
    seats: Vec<Vec<f64>>,
    minutes: Vec<f64>,
    rounds: Vec<f64>,
}

impl Lessons {
    /// A job whose chain breaks teaches nothing.
    pub fn is_broken(&mut self, name: &str) {
        self.broken.push(name.to_owned());
    }

    /// Hears a job; of which crew, only where figures by crew were asked for. What was practised with
    /// a simulated head teaches nothing of heads, boards and crews.
    pub fn hear(&mut self, job: &JobHistory, crew: Option<&str>) {
        if job.heads() == Heads::Simulated {
            return;
        }
        if simulated(&job.events).contains(&true) {
            self.hear_measured(&job.clone().without_practice(), crew);
        } else {
            self.hear_measured(job, crew);
        }
    }

    fn hear_measured(&mut self, job: &JobHistory, crew: Option<&str>) {
        self.count += 1;
        let verdict = match job.summary.verdict {
            Some(Verdict::Within) => 0,
            Some(Verdict::Outside) => 1,
            Some(Verdict::Unsure) => 2,
            None => 3,
        };
        self.verdicts[verdict] += 1;
        let minutes = minutes_at_work(job);
        let rounds = job.takes().map(|current| current.take.round).max().map(f64::from);
        self.minutes.extend(minutes);
        self.rounds.extend(rounds);
        self.hear_faults(job);
        self.hear_zeros(job);
        let seats = seats(job);
        for (serial, group) in &seats {
            self.heads.entry(serial.clone()).or_default().seats.push(group.clone());
        }
        if let Some(crew) = crew {
            let heard = self.crews.entry(crew.to_owned()).or_default();
            heard.jobs += 1;
            heard.minutes.extend(minutes);
            heard.rounds.extend(rounds);
            heard.seats.extend(seats.into_iter().map(|(_, group)| group));
        }
        self.hear_turns(job);
    }

    fn hear_faults(&mut self, job: &JobHistory) {
        let mut here: BTreeMap<(&'static str, String), usize> = BTreeMap::new();
        for event in &job.events {
            let words: Vec<(&'static str, String)> = match &event.body {
                Body::Take(take) => {
                    take.flags.iter().map(|flag| ("take", flag.word().to_owned())).collect()
                }
                Body::TurnObserved(turn) => {
                    turn.flags.iter().map(|flag| ("turn", flag.word().to_owned())).collect()
                }
                _ => continue,
            };
            for word in words {
                *here.entry(word).or_default() += 1;
            }
        }
        for (word, count) in here {
            let known = self.faults.entry(word).or_default();
            *known = (known.0 + count, known.1 + 1);
        }
    }

    fn hear_zeros(&mut self, job: &JobHistory) {
        for event in &job.events {
            let Body::CalibrationUsed(used) = &event.body else { continue };
            let Some(day) = &used.head.calibration_date else { continue };
            let head = self.heads.entry(used.head.serial.clone()).or_default();
            let zeros = head.zeros.entry(day.clone()).or_default();
            let zero = (used.zero.0, used.u_zero.0);
            // One zero serves many jobs.
            if !zeros.contains(&zero) {
                zeros.push(zero);
            }
        }
    }

    fn hear_turns(&mut self, job: &JobHistory) {
        let Some(file) = job.job_file().and_then(|text| JobFile::read("job file", text).ok())
        else {
            return;
        };
        let Some(model) = file.emitter.model.clone() else { return };
        let emitter = self.emitters.entry(model.trim().to_owned()).or_default();
        emitter.jobs += 1;
        let Ok(adjusters) = <[Adjuster; 3]>::try_from(file.adjusters) else { return };
        let places = [0, 1, 2].map(|at| [adjusters[at].at.x.0, adjusters[at].at.y.0]);
        let takes: Vec<&Take> = job.takes().map(|current| current.take).collect();
        let mut watched: [Vec<Estimate>; 3] = Default::default();
        for turn in job.standing_turns() {
            if let Some(turn) = read_turn(turn, &adjusters, &takes)
                && let Some(estimate) = advance(&places, &turn)
            {
                // By the pitch that the job file says: by the estimate itself, small ones would
                // weigh more.
                let pitch = adjusters[turn.adjuster].pitch.0;
                let counted = (pitch * U_TURNS / turn.turns).abs();
                watched[turn.adjuster].push(Estimate { u: estimate.u.hypot(counted), ..estimate });
            }
        }
        for (adjuster, watched) in adjusters.iter().zip(watched) {
            let Some(unit) = mean(&watched) else { continue };
            let units = emitter.adjusters.entry(adjuster.name.clone()).or_default();
            units.advances.push(unit);
            units.turns += watched.len();
            units.stated.push(adjuster.pitch.0);
        }
    }

    /// What the jobs so far come to.
    pub fn learnt(&self) -> Figures {
        Figures {
            schema: SCHEMA,
            kind: "lessons",
            jobs: JobFigures {
                count: self.count,
                broken: self.broken.clone(),
                verdicts: self.verdicts,
                minutes: shown(&self.minutes),
                rounds: shown(&self.rounds),
            },
            emitters: self.emitters.iter().map(|(model, emitter)| emitter.learnt(model)).collect(),
            heads: self.heads.iter().map(|(serial, head)| head.learnt(serial)).collect(),
            crews: self
                .crews
                .iter()
                .map(|(name, crew)| CrewFigures {
                    crew: name.clone(),
                    jobs: crew.jobs,
                    seats: scatter(&crew.seats),
                    minutes: shown(&crew.minutes),
                    rounds: shown(&crew.rounds),
                })
                .collect(),
            faults: self.faults(),
        }
    }

    fn faults(&self) -> Vec<Count> {
        let mut faults: Vec<Count> = self
            .faults
            .iter()
            .map(|((of, what), (count, jobs))| Count {
                of,
                what: what.clone(),
                count: *count,
                jobs: *jobs,
            })
            .collect();
        faults.sort_by(|a, b| b.count.cmp(&a.count).then_with(|| a.what.cmp(&b.what)));
        faults
    }
}

/// A watched turn, where it tells of the adjuster itself: counted, and neither slipping nor at its
/// end nor moved.
fn read_turn(turn: &TurnObserved, adjusters: &[Adjuster; 3], takes: &[&Take]) -> Option<Watched> {
    let spoilt = |flag: &TurnFlag| {
        matches!(
            flag,
            TurnFlag::Slips | TurnFlag::EndOfTravel | TurnFlag::Moved | TurnFlag::Other(_)
        )
    };
    if turn.flags.iter().any(spoilt) {
        return None;
    }
    let adjuster = adjusters.iter().position(|adjuster| adjuster.name == turn.adjuster)?;
    // A counted turn was watched nowhere.
    let station = turn.station.as_deref()?;
    let there = takes.iter().find(|take| take.station == station)?;
    let u = if there.u_gap.0 > 0.0 { there.u_gap.0 } else { U_WATCHED_MM };
    Some(Watched {
        adjuster,
        turns: turn.turns?.0,
        place: [there.x.0, there.y.0],
        change_mm: turn.gap_after?.0 - turn.gap_before?.0,
        u_mm: std::f64::consts::SQRT_2 * u,
    })
}

/// Gaps of the seats at one station in one round and state, by head; those that count no more left
/// out.
fn seats(job: &JobHistory) -> Vec<(String, Vec<f64>)> {
    let gone = job.gone();
    let mut groups: BTreeMap<(&str, &str, u32, &str), Vec<f64>> = BTreeMap::new();
    for current in job.takes().filter(|current| !gone.contains(&current.event.hash)) {
        let take = current.take;
        let key = (take.head.serial.as_str(), take.station.as_str(), take.round, take.phase.word());
        groups.entry(key).or_default().push(take.gap.0);
    }
    groups
        .into_iter()
        .filter(|(_, gaps)| gaps.len() > 1)
        .map(|((serial, ..), gaps)| (serial.to_owned(), gaps))
        .collect()
}

/// Minutes at work, pauses left out; none where nothing was measured.
fn minutes_at_work(job: &JobHistory) -> Option<f64> {
    job.takes().next()?;
    let times = job
        .events
        .windows(2)
        .map(|pair| pair[1].at.moment().duration_since(pair[0].at.moment()).as_secs_f64());
    Some(times.filter(|s| (0.0..PAUSE_S).contains(s)).sum::<f64>() / 60.0)
}

fn shown(values: &[f64]) -> Option<Shown> {
    Some(Shown {
        low: quantile(values, 0.25)?,
        middle: quantile(values, 0.5)?,
        high: quantile(values, 0.75)?,
    })
}

fn scatter(groups: &[Vec<f64>]) -> Option<Scatter> {
    within(groups.iter().map(Vec::as_slice)).map(|(sd_mm, dof)| Scatter { sd_mm, dof })
}

impl Emitter {
    fn learnt(&self, model: &str) -> EmitterFigures {
        EmitterFigures {
            model: model.to_owned(),
            jobs: self.jobs,
            adjusters: self
                .adjusters
                .iter()
                .filter_map(|(name, units)| units.learnt(name))
                .collect(),
        }
    }
}

impl Units {
    /// The sense is that of most units; the pitch is told from those.
    fn learnt(&self, name: &str) -> Option<AdjusterFigures> {
        let out = self.advances.iter().filter(|advance| advance.value > 0.0).count();
        let most_out = 2 * out >= self.advances.len();
        let alike: Vec<Estimate> = self
            .advances
            .iter()
            .filter(|advance| (advance.value > 0.0) == most_out)
            .map(|advance| Estimate { value: advance.value.abs(), ..*advance })
            .collect();
        let found = spread(&alike)?;
        Some(AdjusterFigures {
            name: name.to_owned(),
            units: self.advances.len(),
            turns: self.turns,
            pitch_mm: found.mean,
            u_pitch_mm: found.u_mean,
            spread_mm: found.between,
            clockwise: if most_out { "out" } else { "in" },
            other_way: self.advances.len() - alike.len(),
            stated_mm: quantile(&self.stated, 0.5)?,
        })
    }
}

impl Head {
    fn learnt(&self, serial: &str) -> HeadFigures {
        let zeros: Vec<Zero> = self
            .zeros
            .iter()
            .flat_map(|(day, zeros)| {
                zeros.iter().map(|(zero_mm, u_mm)| Zero {
                    day: day.clone(),
                    zero_mm: *zero_mm,
                    u_mm: *u_mm,
                })
            })
            .collect();
        let values: Vec<f64> = zeros.iter().map(|zero| zero.zero_mm).collect();
        let chart = Chart::of(&values);
        let found = chart.as_ref().map_or(&[][..], |chart| chart.signs.as_slice());
        let mut signs: Vec<String> = Vec::new();
        let mut kinds = BTreeSet::new();
        for (at, sign) in found {
            if kinds.insert(*sign) {
                signs.push(format!("{} on {}", in_words(*sign), zeros[*at].day));
            }
        }
        let mut at: Vec<usize> = found.iter().map(|(at, _)| *at).collect();
        at.dedup();
        HeadFigures {
            serial: serial.to_owned(),
            limits: chart.as_ref().map(|chart| Limits {
                mean_mm: chart.mean,
                lower_mm: chart.lower,
                upper_mm: chart.upper,
            }),
            zeros,
            signs,
            at,
            seats: scatter(&self.seats),
        }
    }
}

fn in_words(sign: Sign) -> &'static str {
    match sign {
        Sign::Beyond => "its zero is beyond its limits",
        Sign::Jump => "its zero jumped",
        Sign::OneSide => "nine zeros in a row on one side of the mean",
        Sign::Drift => "it drifts: six zeros in a row one way",
    }
}
