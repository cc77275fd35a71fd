//! A guided trim is written out as tables of its takes and turns: `trim --from --rounds` then says
//! what the guide says. Rooms whose adjusters are not as the job has them: other pitches, play, one
//! that works the other way round.

use crate::EXE;
use serde_json::Value;
use skimgauge::practice::planned;
use skimgauge_bench::noise::Noise;
use skimgauge_bench::room::{Plan, Room};
use skimgauge_jobfile::Job;
use skimgauge_metrology::assess::SMALLEST_TURN;
use skimgauge_metrology::measure::{Source, Take};
use skimgauge_model::{Point, Sense, Station, TurnNoticed, Verdict};
use skimgauge_procedure::takes::{Begin, unsurveyed};
use skimgauge_procedure::trial::{TODAY, Trial, head, part};
use skimgauge_procedure::trim::Trim;
use skimgauge_procedure::view::State;
use skimgauge_procedure::view::trim::Advice;
use skimgauge_procedure::{Entry, Input, View, Word};
use skimgauge_session::{Event, Told};
use skimgauge_shared::units::Micrometres;
use skimgauge_tests::command::Place;
use std::collections::BTreeMap;
use std::fmt::Write;

const ROUNDS: &str =
    "round,station,x_mm,y_mm,gap_mm,u_mm,adjuster,turns,before_mm,after_mm,noticed\n";

fn job() -> Job {
    Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap()
}

/// A room with adjusters that are not as the job has them.
fn room(job: &Job, seed: u64) -> Room {
    let plan = Plan {
        width_mm: job.image.width.0,
        height_mm: job.image.height.0,
        adjusters: planned::nominal(job),
        ..Plan::default().readable()
    };
    let (mut room, mut noise) = (Room::planned(seed, &plan), Noise::new(seed, 0x60));
    for adjuster in &mut room.emitter.adjusters {
        adjuster.pitch_mm *= 1.0 + noise.uniform(-0.2, 0.2);
        adjuster.backlash_turns = noise.uniform(0.0, 0.1);
    }
    if seed.is_multiple_of(3) {
        let reversed = &mut room.emitter.adjusters[(seed / 3) as usize % 3];
        reversed.clockwise_out = !reversed.clockwise_out;
    }
    room
}

/// One round as it is written out.
#[derive(Default)]
struct Written {
    takes: BTreeMap<String, (Station, Take)>,
    turns: String,
}

/// What the guide says at the end of a round's takes.
#[derive(Debug)]
struct Said {
    is_over: bool,
    verdict: Verdict,
    /// By adjuster, clockwise.
    turns: BTreeMap<String, f64>,
    /// What one clockwise turn does at the adjuster itself, mm.
    per_turn_mm: BTreeMap<String, f64>,
}

/// The user, the room and the head.
struct Walk {
    job: Job,
    trial: Trial<Trim>,
    room: Room,
    noise: Noise,
    at: Option<Point>,
    /// What was turned since the last turn was kept.
    turned: f64,
    seen: usize,
    rounds: Vec<Written>,
}

impl Walk {
    fn new(seed: u64) -> Self {
        let job = job();
        let begin = Begin::new(job.clone(), unsurveyed(&job), TODAY, "port");
        let mut trial = Trial::at(Trim::new(begin).unwrap());
        // Zeroed lately and well.
        let mut zeroed = head();
        zeroed.calibration.calibration.zero_u = Micrometres(20);
        trial.on(Input::Head(Told::Head(Event::Up(zeroed))));
        Self {
            room: room(&job, seed),
            job,
            trial,
            noise: Noise::new(seed, 7),
            at: None,
            turned: 0.0,
            seen: 0,
            rounds: vec![Written::default()],
        }
    }

    fn read(&mut self, ms: u32) {
        let gap_mm = self.at.map(|at| self.room.live_gap(at.x.0, at.y.0, 0.0, &mut self.noise));
        self.trial.read_gap(gap_mm, ms);
    }

    fn carry(&mut self) {
        self.at = self.trial.place();
        self.trial.lift();
        self.read(2_500);
    }

    fn step(&mut self) {
        let view = self.trial.view();
        if view.state == State::Asked {
            self.trial.say(view.question.unwrap().yes);
            return;
        }
        match &part(&view).advice {
            Advice::Take { .. } | Advice::TakeEmitter => {
                self.carry();
                self.trial.say(Word::Take);
            }
            Advice::Begin => drop(self.trial.say(Word::Begin)),
            Advice::Clip { .. } => {
                self.carry();
                self.trial.say(Word::Ready);
            }
            Advice::Turn { .. } => self.turn(&view),
            Advice::Survey | Advice::Over => (),
        }
        self.read(1_000);
        self.writes_down();
    }

    fn turn(&mut self, view: &View) {
        let turn = part(view).turn.as_ref().unwrap();
        if turn.wrong_way {
            if turn.watched.is_none() {
                // Back to where it stood.
                let back = -std::mem::take(&mut self.turned);
                self.room.turn(turn.adjuster, back);
            }
            self.trial.say(Word::Turned(None));
            return;
        }
        let Some(watched) = turn.watched else {
            let left = turn.turns.0 - self.turned;
            self.turned += left;
            self.room.turn(turn.adjuster, left);
            self.read(300);
            self.trial.say(Word::Ready);
            return;
        };
        let live = view.live.gap.good();
        if live.is_some_and(|gap| (gap - watched.to).abs() > watched.within) {
            let twist = (0.8 * turn.left.0).clamp(-0.3, 0.3);
            self.turned += twist;
            self.room.turn(turn.adjuster, twist);
        }
    }

    /// What was kept since is written into the tables of its round.
    fn writes_down(&mut self) {
        for entry in self.trial.entries.iter().skip(self.seen) {
            let number = self.rounds.len();
            let round = self.rounds.last_mut().unwrap();
            match entry {
                Entry::Take { station, kept, .. } => {
                    let take = (station.clone(), kept.take.clone());
                    round.takes.insert(station.name.clone(), take);
                }
                Entry::Observed { adjuster, station, before, after, noticed, .. } => {
                    assert!(!noticed.contains(&TurnNoticed::TakenBack));
                    let mm = |gap: &Option<_>| {
                        gap.map_or(String::new(), |skimgauge_quantity::Mm(mm)| mm.to_string())
                    };
                    let station = station.as_deref().unwrap_or("");
                    let (turned, before, after) = (self.turned, mm(before), mm(after));
                    let reversed = noticed.contains(&TurnNoticed::OtherWay);
                    let noticed = if reversed { "works the other way round" } else { "" };
                    writeln!(
                        round.turns,
                        "{number},{station},,,,,{adjuster},{turned},{before},{after},{noticed}"
                    )
                    .unwrap();
                    self.turned = 0.0;
                }
                Entry::Round(_) => self.rounds.push(Written::default()),
                _ => (),
            }
        }
        self.seen = self.trial.entries.len();
    }

    /// Standard uncertainty that this round's takes share, mm.
    fn shared_mm(&self) -> f64 {
        let takes = || self.rounds.last().unwrap().takes.values();
        [Source::Zero, Source::Slope, Source::Material, Source::Temperature]
            .map(|source| takes().map(|(_, take)| take.effect_mm(source).abs()).fold(0.0, f64::max))
            .iter()
            .fold(0.0, |sum, effect_mm| f64::hypot(sum, *effect_mm))
    }

    /// What the command says of the tables.
    fn worked_out(&self, place: &Place) -> (Option<i32>, Value) {
        let mut rounds = ROUNDS.to_owned();
        let mut takes = "station,x_mm,y_mm,gap_mm,u_mm\n".to_owned();
        let (last, before) = self.rounds.split_last().unwrap();
        for (number, round) in before.iter().enumerate() {
            for (station, take) in round.takes.values() {
                let (at, u_mm) = (station.at, take.own_u_mm());
                let (name, gap_mm) = (&station.name, take.gap_mm);
                let number = number + 1;
                writeln!(rounds, "{number},{name},{},{},{gap_mm},{u_mm},,,,,", at.x.0, at.y.0)
                    .unwrap();
            }
            rounds += &round.turns;
        }
        for (station, take) in last.takes.values() {
            let (at, u_mm) = (station.at, take.own_u_mm());
            writeln!(takes, "{},{},{},{},{u_mm}", station.name, at.x.0, at.y.0, take.gap_mm)
                .unwrap();
        }
        std::fs::write(place.path("takes.csv"), takes).unwrap();
        std::fs::write(place.path("rounds.csv"), rounds).unwrap();
        let shared = self.shared_mm().to_string();
        let output = place.run([
            "trim",
            "--job",
            "job.toml",
            "--from",
            "takes.csv",
            "--rounds",
            "rounds.csv",
            "--u-shared-mm",
            &shared,
            "--json",
        ]);
        let told = serde_json::from_slice(&output.stdout);
        (output.status.code(), told.unwrap_or_else(|why| panic!("{why}: {output:?}")))
    }

    /// What the guide says now, its plan too where it has one.
    fn says(&self) -> Said {
        let view = self.trial.view();
        let adjusters = &part(&view).adjusters;
        Said {
            is_over: matches!(part(&view).advice, Advice::Over | Advice::Survey),
            verdict: view.whole.as_ref().unwrap().verdict,
            turns: part(&view)
                .planned
                .iter()
                .map(|turn| (turn.adjuster.clone(), turn.turns.0))
                .collect(),
            per_turn_mm: adjusters
                .iter()
                .map(|adjuster| (adjuster.name.clone(), adjuster.per_turn.0))
                .collect(),
        }
    }
}

/// The command against the guide, after a round.
fn is_the_same(seed: u64, said: &Said, status: Option<i32>, told: &Value) {
    if said.is_over {
        // A table of gaps says nothing of level and lean, which the job judges, too.
        let more_is_judged = !told["not_judged"].as_array().unwrap().is_empty();
        let verdict = match said.verdict {
            Verdict::Within if more_is_judged => {
                let places = told["places"].as_array().unwrap();
                assert!(places.iter().all(|place| place["verdict"] == "within"), "room {seed}");
                Verdict::Unsure
            }
            verdict => verdict,
        };
        let said_so = serde_json::to_value(verdict).unwrap();
        assert_eq!(told["verdict"], said_so, "room {seed}: {said:?}");
        let expected = match verdict {
            Verdict::Within => 0,
            Verdict::Outside => 1,
            Verdict::Unsure => 3,
        };
        assert_eq!(status, Some(expected), "room {seed}");
    }
    for learnt in told["learnt"].as_array().unwrap() {
        let name = learnt["adjuster"].as_str().unwrap();
        let (there, here) = (learnt["mm_per_turn"].as_f64().unwrap(), said.per_turn_mm[name]);
        assert!((there - here).abs() < 0.005, "room {seed}: {name} {here} {there} mm a turn");
    }
    if said.is_over {
        // What would only bring it to the middle is no turn of the guide's any more.
        return;
    }
    let turns = told["turns"].as_array().unwrap();
    let places = told["places"].as_array().unwrap();
    if turns.is_empty() && places.iter().all(|place| place["verdict"] == "within") {
        // Within as far as it is read: the command tells no turn that gains nothing for sure, and the
        // guide reads on before it begins to turn.
        assert!(said.turns.values().all(|turns| turns.abs() < 0.1), "room {seed}: {said:?}");
        return;
    }
    let there: BTreeMap<String, f64> = turns
        .iter()
        .map(|turn| {
            let sign = if turn["sense"] == "clockwise" { 1.0 } else { -1.0 };
            (turn["adjuster"].as_str().unwrap().to_owned(), sign * turn["turns"].as_f64().unwrap())
        })
        .collect();
    // Both are rounded; closer than a hand can turn is the same turn.
    let same = there.len() == said.turns.len()
        && there.iter().all(|(name, turns)| {
            said.turns.get(name).is_some_and(|here| (here - turns).abs() < SMALLEST_TURN)
        });
    assert!(same, "room {seed}: the guide {:?}, the command {there:?}", said.turns);
}

#[test]
fn a_guided_trim_written_out_as_tables_gives_the_same_plan_pitches_and_verdict() {
    let (mut compared, mut learnt, mut reversed, mut ended) = (0, 0, 0, 0);
    for seed in 0..9 {
        let (place, mut walk) = (Place::new(EXE, skimgauge_jobfile::demo_job()), Walk::new(seed));
        let mut compared_with = 0;
        for step in 0.. {
            assert!(step < 1_500, "room {seed} gets no further: {}", walk.trial.heard());
            let view = walk.trial.view();
            let over = matches!(part(&view).advice, Advice::Over | Advice::Survey);
            // After every take of a later round from which there is a plan, and at the end.
            let taken = walk.rounds.last().unwrap().takes.len();
            let is_new = over || (!part(&view).planned.is_empty() && taken != compared_with);
            if is_new && walk.rounds.len() > 1 && view.question.is_none() {
                compared_with = taken;
                let said = walk.says();
                ended += u32::from(over);
                let (status, told) = walk.worked_out(&place);
                is_the_same(seed, &said, status, &told);
                compared += 1;
                for adjuster in &walk.job.adjusters {
                    let nominal = match adjuster.clockwise {
                        Sense::Out => adjuster.pitch.0,
                        Sense::In => -adjuster.pitch.0,
                    };
                    let now = said.per_turn_mm[&adjuster.name];
                    learnt += u32::from((now / nominal - 1.0).abs() > 0.005);
                    reversed += u32::from(now / nominal < 0.0);
                }
            }
            if over {
                break;
            }
            walk.step();
        }
    }
    // Nothing is the same because nothing was learnt. Some rooms stand well as found, and end without
    // a second round.
    let told = format!("{compared} {learnt} {reversed} {ended}");
    assert!(compared >= 30 && learnt >= 20 && reversed >= 10 && ended >= 4, "{told}");
}
