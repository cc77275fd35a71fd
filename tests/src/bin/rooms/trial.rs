//! One guided trim in one room, from the first clip to the as-left verdict.

use crate::board::{HEIGHT_MM, Kind, WIDTH_MM};
use crate::room::{Hands, READING_U_MM, Room, SEAT_U_MM, ZERO_U_MM, nominal, stations};
use crate::tally::Tally;
use skimgauge_metrology::assess::{MEASURABLE, allowed_off_mm};
use skimgauge_metrology::coverage::{LEVEL, t_factor};
use skimgauge_metrology::plane::between::BetweenPlace;
use skimgauge_metrology::plane::board::{Board, ControlPoint, Unsurveyed};
use skimgauge_metrology::plane::choice::stations_to_take;
use skimgauge_metrology::plane::fit::{PlaneFit, fit};
use skimgauge_metrology::plane::ground::Ground;
use skimgauge_metrology::plane::observation::{GapObservation, Observations, SharedError};
use skimgauge_metrology::plane::prior::{BoardPrior, Expected};
use skimgauge_metrology::plane::seating::{Seating, StatedSeat};
use skimgauge_metrology::plane::unseen::Unseen;
use skimgauge_metrology::trim::blind::{Blind, Missing, PARTLY_MM};
use skimgauge_metrology::trim::feasible::{WholeSetting, whole_setting};
use skimgauge_metrology::trim::person::Person;
use skimgauge_metrology::trim::plan::Task;
use skimgauge_metrology::trim::rounds::Learner;
use skimgauge_metrology::trim::solve::travel;
use skimgauge_metrology::verdict::whole::{WholeVerdict, judge_whole};
use skimgauge_model::{Point, Station, Verdict};
use skimgauge_quantity::{Band, Mm};
use std::rc::Rc;

/// Low end of every band, mm.
const LOW_MM: f64 = 2.0;
/// Seats that `zero` shows.
const ZERO_SEATS: usize = 6;
pub(super) const MOST_ROUNDS: usize = 3;
/// Two seats that differ by more than so many standard uncertainties did not come back the same.
const RARE: f64 = 2.58;
pub(super) const SIZE_MM: [f64; 2] = [WIDTH_MM, HEIGHT_MM];

/// A band of this width.
pub(crate) fn band(width_mm: f64) -> Band<Mm> {
    Band { low: Mm(LOW_MM), high: Mm(LOW_MM + width_mm) }
}

/// Whose room it is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Who {
    pub kind: Kind,
    pub hands: Hands,
    /// A straightedge is run over the board when that is asked for.
    pub looks_over: bool,
}

/// One room.
pub(crate) fn run(who: Who, seed: u64, width_mm: f64, story: bool) -> Tally {
    let Who { kind, hands, looks_over } = who;
    let room = Room::new(kind, hands, seed);
    let band = band(width_mm);
    let mut tally = Tally::default();
    let Some(best) = room.best(band) else { return Tally::failed() };
    tally.feasible = usize::from(best.is_feasible());
    tally.rooms = 1;
    tally.spare = usize::from(best.margin_mm >= 0.1);
    let mut trial = Trial::new(room, band);
    (trial.story, trial.looks_over) = (story, looks_over);
    trial.tell(|trial| {
        format!("room {seed}: best margin {:.2} mm, {}", best.margin_mm, trial.room.shown())
    });
    if trial.go(&mut tally).is_none() {
        return Tally::failed();
    }
    trial.close(&mut tally, &best, seed);
    tally
}

pub(super) struct Trial {
    pub(super) room: Room,
    pub(super) band: Band<Mm>,
    pub(super) person: Person,
    pub(super) stations: Vec<Station>,
    pub(super) seating: Seating,
    pub(super) board: Board,
    pub(super) ground: Option<(Board, Rc<Ground>)>,
    pub(super) survey: Vec<[f64; 3]>,
    pub(super) learner: Learner,
    pub(super) made: [f64; 3],
    pub(super) clipped: Option<usize>,
    pub(super) seconds: f64,
    pub(super) clips: usize,
    pub(super) instructions: usize,
    /// Truly in the band at the end of each round.
    pub(super) inside: Vec<bool>,
    looks: u32,
    story: bool,
    pub(super) looks_over: bool,
    pub(super) expected: Expected,
    /// Stations of this round that see no whole sheet.
    blind: Vec<Blind>,
    /// What the verdict does not speak of.
    pub(super) unseen: Option<Unseen>,
    /// The board is known anew: what was learnt of the plane starts again from the readings.
    pub(super) anew: bool,
    pub(super) said: Option<Verdict>,
    /// The best setting for the whole board, as last known.
    pub(super) best: Option<WholeSetting>,
}

impl Trial {
    fn new(mut room: Room, band: Band<Mm>) -> Self {
        let seats: Vec<f64> = (0..ZERO_SEATS).map(|_| room.seat()).collect();
        let seating = Seating::of(StatedSeat { u_mm: SEAT_U_MM, dof: 8.0 }, &[&seats]);
        let unknown = Unsurveyed {
            width_mm: WIDTH_MM,
            height_mm: HEIGHT_MM,
            bow_across_mm: 0.36,
            bow_down_mm: 0.36,
            twist_mm: 0.2,
        };
        Self {
            room,
            band,
            person: Person::default(),
            stations: stations(),
            learner: Learner::new(&nominal()).expect("three adjusters not in a line"),
            seating,
            board: Board { u_shape_mm: 0.03, ..Board::unsurveyed(unknown) },
            ground: None,
            survey: Vec::new(),
            made: [0.0; 3],
            clipped: None,
            seconds: 0.0,
            clips: 0,
            instructions: 0,
            inside: Vec::new(),
            looks: 0,
            story: false,
            looks_over: false,
            expected: BoardPrior::Unknown.into(),
            blind: Vec::new(),
            unseen: None,
            anew: false,
            said: None,
            best: None,
        }
    }

    fn go(&mut self, tally: &mut Tally) -> Option<()> {
        let points = self.points();
        let round_s = Task::round_s(&self.person, self.stations.len());
        let typical_mm = allowed_off_mm(self.band);
        let first = stations_to_take(
            &self.stations,
            &points,
            &self.board,
            typical_mm,
            &self.person,
            round_s,
        );
        // The last of them is where the head is while the first adjuster is turned: near the
        // emitter, where the light stays longest.
        let mut first = first;
        let from_emitter = |k: &usize| self.stations[*k].at.x.0.hypot(self.stations[*k].at.y.0);
        first.sort_by(|a, b| from_emitter(b).total_cmp(&from_emitter(a)));
        self.tell(|_| format!("first {first:?}"));
        let mut observations = self.takes(&first);
        if observations.gaps.len() < first.len() {
            // One of them sees no light: the others, too.
            let all = 0..self.stations.len();
            let others: Vec<usize> = all.filter(|k| !first.contains(k)).collect();
            let blind = std::mem::take(&mut self.blind);
            observations.gaps.extend(self.takes(&others).gaps);
            self.blind.extend(blind);
        }
        let mut found = self.consistent(&mut observations);
        for round in 1..=MOST_ROUNDS {
            self.learn(&observations, found.as_ref());
            let turned = self.turn()?;
            self.inside.push(self.room.is_within(self.band));
            self.tell(|trial| {
                let margin_mm = trial.room.margin_mm(trial.band);
                format!(
                    "round {round}: {:.1} min, margin now {margin_mm:.2} mm",
                    trial.seconds / 60.0
                )
            });
            if turned || round == 1 {
                self.looks = 0;
                let all: Vec<usize> = (0..self.stations.len()).collect();
                observations = self.takes(&all);
                found = self.consistent(&mut observations);
            }
            // Too few stations see the light: it is brought back by what is known.
            let Some(mut seen) = found.take() else { continue };
            let whole = self.verdict(&mut seen, &observations, tally)?;
            found = Some(seen);
            self.tell(|trial| trial.stands(&whole));
            (self.said, self.unseen) = (Some(whole.verdict), whole.unseen);
            if whole.verdict == Verdict::Within || (!turned && round > 1) {
                break;
            }
        }
        Some(())
    }

    /// What this round's takes show, as the guided trim learns it.
    fn learn(&mut self, observations: &Observations, found: Option<&PlaneFit>) {
        let anew = std::mem::take(&mut self.anew);
        match found {
            Some(found) if anew => self.learner.board_anew(found, &self.board),
            Some(found) => drop(self.learner.round(observations, found, &self.board)),
            None => {
                self.learner.by_sight(SIZE_MM, &self.board);
                self.learner.few(observations);
            }
        }
        self.learner.blind(&self.blind, SIZE_MM, &self.board);
    }

    /// The verdict, with what is done for it before the next turns: the board looked over, a survey.
    fn verdict(
        &mut self,
        found: &mut PlaneFit,
        observations: &Observations,
        tally: &mut Tally,
    ) -> Option<WholeVerdict> {
        let mut whole = self.judge(found, tally)?;
        if self.looks_over && whole.unseen.is_some() {
            self.look_over(found);
            *found = fit(observations, &self.board).ok()?;
            whole = self.judge(found, tally)?;
        }
        if whole.verdict == Verdict::Within || !self.take_survey(found, &whole)? {
            return Some(whole);
        }
        self.anew = true;
        *found = fit(observations, &self.board).ok()?;
        self.judge(found, tally)
    }

    fn stands(&self, whole: &WholeVerdict) -> String {
        let (chance, raised) = (whole.between.chance, whole.between.raised);
        let (places, between) = (whole.at_places.verdict, whole.between.verdict);
        let surveyed = self.survey.len();
        let worst = self.room.worst(self.band);
        let near = |p: &[f64; 3]| (p[0] - worst.0).hypot(p[1] - worst.1);
        let nearest = self.survey.iter().map(near).fold(f64::INFINITY, f64::min);
        let at = |p: &&BetweenPlace| (p.x_mm - worst.0).hypot(p.y_mm - worst.1);
        let place = whole.between.places.iter().min_by(|a, b| at(a).total_cmp(&at(b)));
        let minutes = self.seconds / 60.0;
        format!(
            "    worst {worst:?}, surveyed {nearest:.0} mm away, there {place:?}\n  {minutes:.1} min: at places {places:?}, \
             between {between:?}, chance {chance:.3}, raised {raised:.2}, {surveyed} surveyed, unseen {:?}",
            whole.unseen
        )
    }

    /// A line of the story.
    pub(super) fn tell(&self, line: impl Fn(&Self) -> String) {
        if self.story {
            eprintln!("{}", line(self));
        }
    }

    pub(super) fn points(&self) -> Vec<ControlPoint> {
        self.board.control_points(WIDTH_MM, HEIGHT_MM)
    }

    fn takes(&mut self, at: &[usize]) -> Observations {
        let u_mm = self.seating.u_mm.hypot(READING_U_MM);
        let mut gaps = Vec::with_capacity(at.len());
        self.blind.clear();
        for &k in at {
            self.clip(k);
            if !self.room.is_seen(&self.stations[k]) {
                self.blind.push(self.blind_at(k));
                continue;
            }
            let gap_mm = self.room.take_mm(&self.stations[k]);
            let gap = GapObservation::at(&self.stations[k], gap_mm, u_mm);
            gaps.push(GapObservation { dof: self.seating.dof, ..gap });
        }
        let zero = SharedError::even("zero", ZERO_U_MM, f64::INFINITY);
        Observations { gaps, lean: None, shared: vec![zero] }
    }

    /// A station that sees no whole sheet, as the head tells of it.
    fn blind_at(&self, station: usize) -> Blind {
        let Point { x, y } = self.stations[station].at;
        let out_mm = MEASURABLE.beyond(Mm(self.room.gap_mm(x.0, y.0))).0;
        let missing = if out_mm < PARTLY_MM { Missing::Part } else { Missing::All };
        Blind { x_mm: x.0, y_mm: y.0, missing, seen: MEASURABLE }
    }

    pub(super) fn clip(&mut self, at: usize) {
        self.seconds += self.person.clip_s + self.person.walk_s;
        self.clips += 1;
        self.clipped = Some(at);
    }

    /// The fit, odd readings read again; where they came back the same, the board is believed to
    /// be rougher than assumed.
    fn consistent(&mut self, observations: &mut Observations) -> Option<PlaneFit> {
        let mut came_back: Vec<String> = Vec::new();
        for _ in 0..2 * self.stations.len() {
            let mut found = fit(observations, &self.board).ok()?;
            found.consistency.came_back(&came_back);
            let Some(odd) = found.contradiction() else { return Some(found) };
            let Some(again) = odd.to_read_again().next() else { break };
            let row = observations
                .gaps
                .iter()
                .position(|gap| gap.station.as_deref() == Some(again.name.as_str()))?;
            let name = again.name.clone();
            let station = self.stations.iter().position(|s| s.name == name)?;
            self.clip(station);
            let gap_mm = self.room.take_mm(&self.stations[station]);
            let gap = &mut observations.gaps[row];
            if (gap_mm - gap.gap_mm).abs() < RARE * 2f64.sqrt() * gap.u_mm {
                came_back.push(name);
            }
            gap.gap_mm = gap_mm;
        }
        self.board = self.board.believed(self.expected);
        self.anew = true;
        fit(observations, &self.board).ok()
    }

    /// Built anew where the board is known anew or other places were read.
    pub(super) fn ground(&mut self, found: &PlaneFit) -> Rc<Ground> {
        let places = &found.consistency.places;
        let read: Vec<(f64, f64)> = places.iter().map(|p| (p.x_mm, p.y_mm)).collect();
        match &self.ground {
            Some((board, ground)) if *board == self.board && ground.read() == read => {
                ground.clone()
            }
            _ => {
                let ground = Ground::new(&self.board, SIZE_MM, self.expected, &read);
                self.ground.insert((self.board.clone(), Rc::new(ground))).1.clone()
            }
        }
    }

    fn judge(&mut self, found: &PlaneFit, tally: &mut Tally) -> Option<WholeVerdict> {
        self.looks += 1;
        let ground = self.ground(found);
        let whole = judge_whole(found, &ground, &self.points(), self.band, self.looks);
        let made = self.made;
        let travel = travel(self.learner.adjusters());
        let left =
            [0, 1, 2].map(|i| ((travel[i].0 - made[i]).min(0.0), (travel[i].1 - made[i]).max(0.0)));
        let influence = self.learner.influence();
        let best = whole_setting(&ground, &whole.between, &influence, &left, self.band).ok()?;
        self.best = Some(best);
        let k = t_factor(LEVEL, f64::INFINITY)?;
        for place in &whole.at_places.places {
            let off_mm = place.gap_mm - self.room.gap_mm(place.x_mm, place.y_mm);
            tally.read.0 += 1;
            tally.read.1 += usize::from(off_mm.abs() <= place.expanded_mm);
        }
        for place in &whole.between.places {
            let off_mm = place.gap_mm - self.room.gap_mm(place.x_mm, place.y_mm);
            tally.between.0 += 1;
            tally.between.1 += usize::from(off_mm.abs() <= k * place.u_mm);
        }
        Some(whole)
    }
}
