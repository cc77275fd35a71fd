//! One guided trim in one room, from the first clip to the as-left verdict.

use crate::board::{HEIGHT_MM, Kind, WIDTH_MM, grid};
use crate::room::{READING_U_MM, Room, SEAT_U_MM, ZERO_U_MM, nominal, stations};
use crate::tally::Tally;
use skimgauge_metrology::assess::MEASURABLE;
use skimgauge_metrology::coverage::{LEVEL, t_factor};
use skimgauge_metrology::plane::between::Ground;
use skimgauge_metrology::plane::board::{Board, ControlPoint, Shape, Unsurveyed};
use skimgauge_metrology::plane::choice::stations_to_take;
use skimgauge_metrology::plane::fit::{PlaneFit, fit};
use skimgauge_metrology::plane::looking::places_to_survey;
use skimgauge_metrology::plane::observation::{GapObservation, Observations, SharedError};
use skimgauge_metrology::plane::prior::BoardPrior;
use skimgauge_metrology::plane::seating::{Seating, StatedSeat};
use skimgauge_metrology::plane::surface::Surface;
use skimgauge_metrology::report::Feasibility;
use skimgauge_metrology::trim::feasible::whole_setting;
use skimgauge_metrology::trim::influence::{GeometryUncertainty, Influence};
use skimgauge_metrology::trim::learn::{Hand, Tracker};
use skimgauge_metrology::trim::person::Person;
use skimgauge_metrology::trim::plan::{Instruction, Plan, Task, Watch};
use skimgauge_metrology::trim::response::implied_turns;
use skimgauge_metrology::trim::solve::travel;
use skimgauge_metrology::verdict::whole::{WholeVerdict, judge_whole};
use skimgauge_model::{Adjuster, Point, Sense, Station, Verdict};
use skimgauge_quantity::{Band, Mm};

/// Low end of every band, mm.
const LOW_MM: f64 = 2.0;
/// Seats that `zero` shows.
const ZERO_SEATS: usize = 6;
const MOST_ROUNDS: usize = 3;
/// What a hand can make, turns.
const SMALLEST_TURN: f64 = 5.0 / 360.0;
/// Two seats that differ by more than so many standard uncertainties did not come back the same.
const RARE: f64 = 2.58;
const SIZE_MM: [f64; 2] = [WIDTH_MM, HEIGHT_MM];
const GEOMETRY: GeometryUncertainty =
    GeometryUncertainty { u_position_mm: 1.5, u_pitch_share: 0.05 };
const LIVE_U_MM: f64 = 0.02;

/// A band of this width.
pub fn band(width_mm: f64) -> Band<Mm> {
    Band { low: Mm(LOW_MM), high: Mm(LOW_MM + width_mm) }
}

/// One room.
pub fn run(kind: Kind, seed: u64, width_mm: f64) -> Tally {
    let room = Room::new(kind, seed);
    let band = band(width_mm);
    let mut tally = Tally::default();
    let Some(best) = room.best(band) else { return Tally::failed() };
    tally.feasible = usize::from(best.is_feasible());
    tally.rooms = 1;
    tally.spare = usize::from(best.margin_mm >= 0.1);
    let mut trial = Trial::new(room, band);
    if trial.go(&mut tally).is_none() {
        return Tally::failed();
    }
    trial.close(&mut tally, &best);
    tally
}

struct Trial {
    room: Room,
    band: Band<Mm>,
    person: Person,
    stations: Vec<Station>,
    adjusters: [Adjuster; 3],
    seating: Seating,
    board: Board,
    survey: Vec<[f64; 3]>,
    tracker: Option<Tracker>,
    influence: Influence,
    made: [f64; 3],
    clipped: Option<usize>,
    seconds: f64,
    clips: usize,
    instructions: usize,
    /// Truly in the band at the end of each round.
    inside: Vec<bool>,
    looks: u32,
    /// Too few stations see the light.
    lost: bool,
    said: Option<Verdict>,
    called: Feasibility,
    /// Turned by count in the round before, and the fit before that.
    counted: [f64; 3],
    before: Option<PlaneFit>,
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
        let adjusters = nominal();
        Self {
            room,
            band,
            person: Person::default(),
            stations: stations(),
            influence: Influence::of(&adjusters).expect("three adjusters not in a line"),
            adjusters,
            seating,
            board: Board { u_shape_mm: 0.03, ..Board::unsurveyed(unknown) },
            survey: Vec::new(),
            tracker: None,
            made: [0.0; 3],
            clipped: None,
            seconds: 0.0,
            clips: 0,
            instructions: 0,
            inside: Vec::new(),
            looks: 0,
            lost: false,
            said: None,
            called: Feasibility::Unsure,
            counted: [0.0; 3],
            before: None,
        }
    }

    fn go(&mut self, tally: &mut Tally) -> Option<()> {
        let points = self.points();
        let round_s = Task::round_s(&self.person, self.stations.len());
        let typical_mm = (self.band.width().0 / 2.0 - 0.35).max(0.1);
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
        let mut observations = self.takes(&first);
        let mut found = self.consistent(&mut observations)?;
        for round in 1..=MOST_ROUNDS {
            if self.lost {
                self.take_what_is_seen(&observations);
            } else {
                self.learn(&observations, &found, round);
            }
            let turned = self.turn()?;
            self.inside.push(self.room.is_within(self.band));
            if turned || round == 1 {
                self.looks = 0;
                let all: Vec<usize> = (0..self.stations.len()).collect();
                observations = self.takes(&all);
                let Some(seen) = self.consistent(&mut observations) else {
                    // Too few stations see the light: it is brought back by what is known.
                    self.lost = true;
                    continue;
                };
                (found, self.lost) = (seen, false);
            }
            let mut whole = self.judge(&found, tally, true)?;
            if whole.verdict != Verdict::Within
                && self.survey.is_empty()
                && self.worth_a_survey(&whole)
            {
                self.take_survey(&found, &whole)?;
                found = fit(&observations, &self.board).ok()?;
                self.tracker = None;
                whole = self.judge(&found, tally, true)?;
            }
            self.said = Some(whole.verdict);
            if whole.verdict == Verdict::Within || (!turned && round > 1) {
                break;
            }
        }
        Some(())
    }

    fn points(&self) -> Vec<ControlPoint> {
        self.board.control_points(WIDTH_MM, HEIGHT_MM)
    }

    fn takes(&mut self, at: &[usize]) -> Observations {
        let u_mm = self.seating.u_mm.hypot(READING_U_MM);
        let mut gaps = Vec::with_capacity(at.len());
        for &k in at {
            self.clip(k);
            if !self.room.is_seen(&self.stations[k]) {
                continue;
            }
            let gap_mm = self.room.take_mm(&self.stations[k]);
            let gap = GapObservation::at(&self.stations[k], gap_mm, u_mm);
            gaps.push(GapObservation { dof: self.seating.dof, ..gap });
        }
        let zero = SharedError { name: "zero".into(), u_mm: ZERO_U_MM, dof: f64::INFINITY };
        Observations { gaps, lean: None, shared: vec![zero] }
    }

    fn clip(&mut self, at: usize) {
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
        self.board = self.board.believed(BoardPrior::Unknown);
        self.tracker = None;
        fit(observations, &self.board).ok()
    }

    fn learn(&mut self, observations: &Observations, found: &PlaneFit, round: usize) {
        self.reversed_by_count(found);
        if let (Some(tracker), true) = (&mut self.tracker, round > 1) {
            let surprised = observations.gaps.iter().any(|gap| {
                let expected = tracker.unseated(gap.x_mm, gap.y_mm);
                (gap.gap_mm - expected.gap_mm).abs() > 4.0 * expected.u_mm.hypot(gap.u_mm)
            });
            if surprised {
                tracker.lose_plane();
            }
            observations.gaps.iter().for_each(|gap| {
                tracker.take(gap);
            });
        } else {
            self.tracker = Some(Tracker::new(
                found,
                &self.board,
                &self.influence,
                &self.adjusters,
                GEOMETRY,
                Hand::default(),
            ));
        }
        self.before = Some(found.clone());
        self.counted = [0.0; 3];
    }

    fn take_what_is_seen(&mut self, observations: &Observations) {
        let Some(tracker) = &mut self.tracker else { return };
        for gap in &observations.gaps {
            tracker.take(gap);
        }
        self.before = None;
    }

    /// An adjuster turned by count that moved the plane the other way.
    fn reversed_by_count(&mut self, found: &PlaneFit) {
        let Some(before) = &self.before else { return };
        let influence = self.tracker.as_ref().map_or(self.influence, Tracker::influence);
        let Some(implied) = implied_turns(before, found, &influence) else { return };
        for adjuster in 0..3 {
            let (made, seems) = (self.counted[adjuster], implied.turns[adjuster]);
            let u_turns = implied.u_turns[adjuster].hypot(0.1 * made.abs() + 0.1);
            if made.abs() > 4.0 * u_turns && (seems + made).abs() < 0.5 * made.abs() {
                self.reverse(adjuster);
            }
        }
    }

    fn reverse(&mut self, adjuster: usize) {
        let whole = &mut self.adjusters[adjuster];
        whole.clockwise = if whole.clockwise == Sense::Out { Sense::In } else { Sense::Out };
        if let Some(tracker) = &mut self.tracker {
            tracker.reverse(adjuster);
            self.influence = tracker.influence();
        }
    }

    /// One round of turning; whether anything was turned.
    fn turn(&mut self) -> Option<bool> {
        let (points, stations, adjusters) =
            (self.points(), self.stations.clone(), self.adjusters.clone());
        let task = Task {
            adjusters: &adjusters,
            points: &points,
            band: self.band,
            stations: &stations,
            measurable: MEASURABLE,
            smallest_turn: SMALLEST_TURN,
            worth_mm: 0.02,
            inside_mm: if self.survey.is_empty() { 1.0 } else { 0.2 },
            person: self.person,
            hand: Hand::default(),
            live_u_mm: LIVE_U_MM * 2f64.sqrt(),
            next_round_s: Task::round_s(&self.person, stations.len()),
        };
        let mut plan = Plan::new(&task, self.tracker.as_ref()?, &self.made, self.clipped).ok()?;
        let any = plan.left() > 0;
        let mut seat: Option<(usize, f64)> = None;
        loop {
            let seated = seat.map(|(at, _)| at);
            let next = plan.next(&task, self.tracker.as_ref()?, &self.made, self.clipped).ok()?;
            let Some(next) = next else { break };
            match next.watch {
                Watch::Count { sense_at } => self.by_count(next, sense_at),
                Watch::Reading { station, .. } if seated != Some(station) => {
                    // The head may still sit where the last take was; its seat is read anew.
                    if self.clipped != Some(station) {
                        self.clip(station);
                    }
                    let seat_mm = self.room.seat();
                    let at = &stations[station];
                    let live_mm = self.room.live_mm(at, seat_mm);
                    let tracker = self.tracker.as_mut()?;
                    tracker.seat(self.seating.u_mm);
                    tracker.read(at.at.x.0, at.at.y.0, live_mm, LIVE_U_MM);
                    seat = Some((station, seat_mm));
                    continue;
                }
                Watch::Reading { station, to, .. } => {
                    self.by_reading(next, station, seat?.1, to.gap_mm)?;
                }
            }
            plan.done();
        }
        if let Some(tracker) = &self.tracker {
            self.influence = tracker.influence();
        }
        Some(any)
    }

    fn by_count(&mut self, next: Instruction, sense_at: Option<usize>) {
        let (adjuster, mut turns) = (next.adjuster, next.turns);
        self.instructions += 1;
        self.seconds += self.person.instruction_s(turns, false);
        if self.goes_wrong(adjuster, turns, sense_at) {
            // Said, and turned back beyond.
            self.reverse(adjuster);
            turns = -turns;
            self.instructions += 1;
            self.seconds += self.person.instruction_s;
        }
        self.room.turn_by_count(adjuster, turns);
        self.made[adjuster] += turns;
        self.counted[adjuster] += turns;
        if let Some(tracker) = &mut self.tracker {
            tracker.turn(adjuster, turns);
        }
    }

    /// Whether the first quarter of a turn, which is then turned back, takes the gap the wrong way
    /// where the head is clipped on.
    fn goes_wrong(&mut self, adjuster: usize, turns: f64, sense_at: Option<usize>) -> bool {
        let Some(at) = sense_at.map(|k| self.stations[k].clone()) else { return false };
        let Some(tracker) = &self.tracker else { return false };
        let first = 0.25 * turns.signum();
        let effect_mm = tracker.influence().effect(at.at.x.0, at.at.y.0)[adjuster];
        let before_mm = self.room.live_mm(&at, 0.0);
        if turns.abs() < 0.5 || !self.room.is_seen(&at) {
            return false;
        }
        self.room.turn_watching(adjuster, first);
        let moved_mm = self.room.live_mm(&at, 0.0) - before_mm;
        let seen = self.room.is_seen(&at);
        self.room.turn_watching(adjuster, -first);
        seen && moved_mm / (first * effect_mm) < -0.2
    }

    /// Turns until the live reading is where it should be: the first turn as told, the rest by
    /// looking.
    fn by_reading(
        &mut self,
        next: Instruction,
        station: usize,
        seat_mm: f64,
        to_mm: f64,
    ) -> Option<()> {
        self.instructions += 1;
        self.seconds += self.person.instruction_s;
        let at = self.stations[station].clone();
        let adjuster = next.adjuster;
        let before_mm = self.room.live_mm(&at, seat_mm);
        let effect = |trial: &Self| {
            Some(trial.tracker.as_ref()?.influence().effect(at.at.x.0, at.at.y.0)[adjuster])
        };
        let mut effect_mm = effect(self)?;
        let within_mm = (0.0055 * effect_mm.abs()).clamp(0.02, 0.06);
        let (mut live_mm, mut reversed) = (before_mm, false);
        for step in 0..20 {
            if (to_mm - live_mm).abs() <= within_mm {
                break;
            }
            let mut turns = (to_mm - live_mm) / effect_mm;
            if step == 0 {
                // The first part of a turn shows which way it goes.
                turns = turns.clamp(-0.5, 0.5);
            }
            self.seconds += self.person.turn_s * turns.abs();
            self.room.turn_watching(adjuster, turns);
            let now_mm = self.room.live_mm(&at, seat_mm);
            let answered = (now_mm - live_mm) / (turns * effect_mm);
            if step == 0 && turns.abs() > 0.15 && answered < -0.2 && !reversed {
                // It goes the wrong way: said, and turned back beyond.
                reversed = true;
                self.reverse(adjuster);
                effect_mm = effect(self)?;
                self.instructions += 1;
                self.seconds += self.person.instruction_s;
            }
            live_mm = now_mm;
        }
        let turned = (live_mm - before_mm) / effect_mm;
        let tracker = self.tracker.as_mut()?;
        tracker.turn(adjuster, turned);
        tracker.read(at.at.x.0, at.at.y.0, live_mm, LIVE_U_MM);
        self.made[adjuster] += turned;
        Some(())
    }

    fn ground(&self, found: &PlaneFit) -> Ground {
        let places = &found.consistency.places;
        let read: Vec<(f64, f64)> = places.iter().map(|p| (p.x_mm, p.y_mm)).collect();
        Ground::new(&self.board, SIZE_MM, BoardPrior::Unknown, &read)
    }

    fn judge(&mut self, found: &PlaneFit, tally: &mut Tally, last: bool) -> Option<WholeVerdict> {
        self.looks += 1;
        let ground = self.ground(found);
        let whole = judge_whole(found, &ground, &self.points(), self.band, self.looks);
        let made = self.made;
        let travel = travel(&self.adjusters);
        let left =
            [0, 1, 2].map(|i| ((travel[i].0 - made[i]).min(0.0), (travel[i].1 - made[i]).max(0.0)));
        self.called = whole_setting(&ground, &whole.between, &self.influence, &left, self.band)
            .ok()?
            .feasible;
        if last {
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
        }
        Some(whole)
    }

    /// A survey is offered where nothing but the board between the places is in the way, or where
    /// the board is not as assumed.
    fn worth_a_survey(&self, whole: &WholeVerdict) -> bool {
        let deep = whole.at_places.places.iter().all(|p| p.inside_mm(self.band) > 0.0);
        whole.only_between() || (deep && whole.between.verdict != Verdict::Outside)
    }

    fn take_survey(&mut self, found: &PlaneFit, whole: &WholeVerdict) -> Option<()> {
        let ground = self.ground(found);
        let known = ground.read().to_vec();
        let u_mm = self.seating.u_mm.hypot(READING_U_MM);
        let looking =
            places_to_survey(&ground, &whole.between, &known, self.band, u_mm, &self.person);
        self.seconds += looking.seconds;
        let mut at = looking.places;
        at.extend(known);
        for (x_mm, y_mm) in at {
            let place = Station { name: String::new(), at: Point::mm(x_mm, y_mm) };
            let gap_mm = self.room.take_mm(&place);
            self.survey.push([x_mm, y_mm, -gap_mm]);
        }
        let surface = Surface::new(self.survey.clone(), u_mm, SIZE_MM, BoardPrior::Unknown).ok()?;
        self.board = Board::surveyed(Shape::Surface(surface), 0.0);
        Some(())
    }

    fn close(mut self, tally: &mut Tally, best: &skimgauge_metrology::trim::solve::Setting) {
        let truly = grid()
            .all(|(x, y)| (self.band.low.0..=self.band.high.0).contains(&self.room.gap_mm(x, y)));
        let feasible = best.is_feasible();
        let last = self.inside.last().copied().unwrap_or(false);
        self.inside.resize(MOST_ROUNDS, last);
        for (round, inside) in self.inside.iter().enumerate() {
            tally.in_rounds[round] += usize::from(feasible && *inside);
        }
        if best.margin_mm >= 0.1 && !self.survey.is_empty() {
            tally.spare_surveyed += 1;
            tally.spare_in_two += usize::from(self.inside[1]);
        }
        let within = self.said == Some(Verdict::Within);
        tally.within += usize::from(within);
        tally.false_within += usize::from(within && !truly);
        tally.truly += usize::from(truly);
        tally.truly_said += usize::from(within && truly);
        tally.surveys += usize::from(!self.survey.is_empty());
        tally.wrong_yes += usize::from(self.called == Feasibility::Yes && !feasible);
        tally.wrong_no += usize::from(self.called == Feasibility::No && feasible);
        if feasible {
            tally.instructions.push(self.instructions as f64);
            tally.clips.push(self.clips as f64);
            tally.minutes.push(self.seconds / 60.0);
        }
    }
}
