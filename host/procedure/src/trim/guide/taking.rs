//! Takes, until there is a plan; and after the turns, until there is a verdict.

use super::{Advice, Guide, Of, Stage, Taken, Told};
use crate::takes::TAKE_U_MM;
use crate::trim::says;
use skimgauge_jobfile::Job;
use skimgauge_metrology::assess::{
    AssessError, Assessment, Earlier, Question, Unread, allowed_off_mm, assess,
};
use skimgauge_metrology::plane::board::{Board, ControlPoint};
use skimgauge_metrology::plane::choice::{fewest_stations, stations_to_take};
use skimgauge_metrology::plane::consistency::{Explains, Odd};
use skimgauge_metrology::plane::prior::Expected;
use skimgauge_metrology::trim::plan::Task;
use skimgauge_metrology::verdict::whole::WholeVerdict;
use skimgauge_model::{Station, Verdict};
use skimgauge_quantity::Sentence;

impl Of {
    pub(super) fn this_job(
        job: &Job,
        board: &Board,
        points: &[ControlPoint],
        expected: Option<Expected>,
    ) -> Self {
        let (stations, person) = (job.stations.clone(), job.limits.person);
        Self {
            band: job.bands.gap,
            image: job.image,
            smallest_turn: job.limits.smallest_turn.0,
            seat_u_mm: job.limits.seat.0,
            held: job.image.held(&stations),
            stations,
            person,
            expected,
            first: Vec::new(),
        }
        .choosing(points, board, |_| true)
    }

    pub(super) fn size_mm(&self) -> [f64; 2] {
        [self.image.width.0, self.image.height.0]
    }

    /// The stations to take before the first turn, chosen of those that can be read.
    pub(super) fn choosing(
        mut self,
        points: &[ControlPoint],
        board: &Board,
        can_be_read: impl Fn(usize) -> bool,
    ) -> Self {
        let person = self.person;
        let round_s = Task::round_s(&person, self.stations.len());
        let typical_mm = allowed_off_mm(self.band);
        let of_these = |may: &dyn Fn(usize) -> bool| -> Vec<usize> {
            let (at, of): (Vec<usize>, Vec<Station>) =
                (self.stations.iter().cloned().enumerate()).filter(|(at, _)| may(*at)).unzip();
            let first = stations_to_take(&of, points, board, typical_mm, &person, round_s);
            first.iter().map(|k| at[*k]).collect()
        };
        // A place where the head is held by hand tells little of the plane, and nothing is turned there.
        let first = of_these(&|at| can_be_read(at) && !self.held.contains(&at));
        self.first = if first.is_empty() { of_these(&can_be_read) } else { first };
        // The last of them is where the head is while the first adjuster is turned: near the
        // emitter, where the light stays longest.
        let stations = &self.stations;
        let from_emitter = |k: &usize| stations[*k].at.x.0.hypot(stations[*k].at.y.0);
        self.first.sort_by(|a, b| from_emitter(b).total_cmp(&from_emitter(a)));
        self
    }
}

impl Guide {
    /// Takes as they stand now.
    pub(crate) fn takes(&mut self, now: Taken) {
        let Taken { observations, taken, came_back, emitter_missing, looks, seat_u_mm, eye } = now;
        self.sight.read(eye);
        self.of.seat_u_mm = seat_u_mm.unwrap_or(self.of.seat_u_mm);
        if !matches!(self.work.stage, Stage::Take)
            || (observations == self.observations
                && taken == self.taken
                && came_back == self.came_back
                && emitter_missing == self.emitter_missing)
        {
            return;
        }
        self.observations = observations;
        self.came_back = came_back;
        self.taken = taken;
        self.emitter_missing = emitter_missing;
        self.looks = looks;
        self.judge();
    }

    /// What this round's takes come to.
    pub(super) fn judge(&mut self) {
        if self.takes_so_far() >= 3 {
            self.told.push(Told::Unsaid(super::round::too_few()));
        }
        let answer = (self.takes_so_far() >= 3).then(|| self.assess());
        self.surveys = matches!(answer, Some(Ok((_, true))));
        self.answer = answer.map(|answer| answer.map(|(answer, _)| Box::new(answer)));
        self.advice = self.what_to_take();
        self.say_contradiction();
        self.asks_the_blind_again();
        if self.advice == Advice::Over {
            self.told.push(Told::Judged);
            let within = self.answer().is_some_and(|answer| answer.word() == Verdict::Within);
            if self.is_turned_out() && !within {
                self.says_turned_out();
            }
            self.over();
        }
    }

    pub(super) fn takes_so_far(&self) -> usize {
        self.taken.iter().filter(|taken| **taken).count()
    }

    /// The answer, and whether a survey is what comes now, once every station is read.
    fn assess(&self) -> Result<(Assessment, bool), AssessError> {
        let mut learner = self.work.learner.clone();
        let blind = self.blind_places();
        if (!self.work.as_found || !blind.is_empty())
            && let Ok(found) = skimgauge_metrology::plane::fit::fit(&self.observations, &self.board)
        {
            learner.round(&self.observations, &found, &self.board);
            learner.blind(&blind, self.of.size_mm(), &self.board);
        }
        let adjusters = self.turnable();
        let earlier = Earlier { learner: &learner, made: self.work.made };
        let question = Question {
            observations: &self.observations,
            board: &self.board,
            adjusters: &adjusters[..],
            band: self.of.band,
            points: &self.points,
            live: &self.of.stations,
            held: &self.of.held,
            measurable: self.sight.watched(),
            smallest_turn: Some(self.of.smallest_turn),
            seat_u_mm: self.of.seat_u_mm,
            came_back: &self.came_back,
            unread: self.of.expected.map(|expected| Unread {
                size_mm: self.of.size_mm(),
                expected,
                looks: self.looks,
            }),
            person: self.of.person,
            earlier: Some(earlier),
            contradicted: false,
            more_is_judged: false,
        };
        let answer = assess(&question)?;
        // Asked where nothing else is in the way alone: the places to survey are a search.
        let surveys = self.untaken().next().is_none()
            && answer.whole.as_ref().is_some_and(WholeVerdict::only_between)
            && answer.survey(&question, TAKE_U_MM).is_some();
        Ok((answer, surveys))
    }

    pub(super) fn untaken(&self) -> impl Iterator<Item = (usize, &Station)> {
        self.of.stations.iter().enumerate().filter(|(at, _)| !self.is_taken(*at))
    }

    /// Those that may be taken still.
    fn unread(&self) -> impl Iterator<Item = (usize, &Station)> {
        self.untaken().filter(|(at, _)| self.sight.is_open(*at))
    }

    /// What to do while stations are taken.
    pub(super) fn what_to_take(&self) -> Advice {
        let next = self.next_station();
        let Some(answer) = self.answer() else {
            return match next {
                Some(station) => Advice::Take { station },
                // What is left sees no light: it is brought back by what is known.
                None if self.is_brought_back() && !self.is_turned_out() => Advice::Begin,
                None => Advice::Over,
            };
        };
        if let Some(odd) = answer.fit.contradiction() {
            return self.what_to_take_again(odd, next);
        }
        let turns = self.planned().map_or(0, |plan| plan.left()) > 0;
        let missing = match next {
            Some(station) => Some(Advice::Take { station }),
            None => self.emitter_is_missing().then_some(Advice::TakeEmitter),
        };
        let as_found = self.work.as_found;
        let done = |at: &usize| self.is_taken(*at) || !self.sight.is_open(*at);
        let as_many = self.takes_so_far() >= self.of.first.len();
        let enough = as_found && as_many && self.of.first.iter().all(done);
        match missing {
            Some(missing) if !(enough && turns) => missing,
            _ if turns && self.is_worth_turning(answer) => Advice::Begin,
            Some(missing) => missing,
            None => Advice::Over,
        }
    }

    /// The emitter's tilt is asked for, and neither taken nor left out.
    pub(super) fn emitter_is_missing(&self) -> bool {
        self.emitter_missing && !self.sight.emitter_is_left_out()
    }

    /// Whether turning is what helps: not where it is within, nor where only what lies between the
    /// places read is in the way, and a survey tells it.
    fn is_worth_turning(&self, answer: &Assessment) -> bool {
        let only_between = answer.whole.as_ref().is_some_and(|whole| whole.only_between());
        let all = self.next_station().is_none();
        let read = self.untaken().next().is_none();
        let nothing_but_between = only_between && !self.work.as_found && read && self.surveys;
        !(all && (answer.word() == Verdict::Within || nothing_but_between))
    }

    /// The station to take next: of those that give a plan before the first turn, and after it the
    /// one that is nearest to the head.
    pub(super) fn next_station(&self) -> Option<usize> {
        let as_found = self.work.as_found;
        let open = |at: &&usize| !self.is_taken(**at) && self.sight.is_open(**at);
        if as_found && let Some(first) = self.of.first.iter().find(open) {
            return Some(*first);
        }
        if as_found && self.answer().is_none() && self.takes_so_far() >= 3 {
            // What was taken lies in a line.
            let (at, left): (Vec<usize>, Vec<Station>) =
                self.unread().map(|(at, s)| (at, s.clone())).unzip();
            let all = self.of.stations.iter().zip(&self.taken);
            let taken: Vec<Station> =
                all.filter(|(_, taken)| **taken).map(|(s, _)| s.clone()).collect();
            let fewest = fewest_stations(&taken, &left, &self.points, &self.board, false);
            if let Some(k) = fewest.unwrap_or_default().first() {
                return Some(at[*k]);
            }
        }
        let here = self.stands.and_then(|at| self.of.stations.get(at));
        let far = |s: &Station| match here {
            Some(here) => (s.at.x.0 - here.at.x.0).hypot(s.at.y.0 - here.at.y.0),
            None => 0.0,
        };
        self.unread().min_by(|(_, a), (_, b)| far(a).total_cmp(&far(b))).map(|(at, _)| at)
    }

    /// What to do while the takes contradict one another: one more station where that tells which
    /// of several is odd, else the odd one again; nothing of it is left once it came back the
    /// same.
    fn what_to_take_again(&self, odd: &Odd, next: Option<usize>) -> Advice {
        let named = |name: &str| self.of.stations.iter().position(|station| station.name == name);
        let left = |at: &usize| !self.sight.is_left_out(*at);
        let again = odd.to_read_again().find_map(|one| named(&one.name).filter(left));
        match (again, next) {
            (Some(_), Some(station)) if odd.explains == Explains::Any => Advice::Take { station },
            (Some(station), _) => Advice::Take { station },
            (None, _) => Advice::Survey,
        }
    }

    /// That the takes contradict one another, and which is odd, for as long as it is so.
    pub(crate) fn contradiction(&self) -> Option<Sentence> {
        Some(says::no_turns(self.answer()?.fit.contradiction()?))
    }

    /// Whether it makes sense to say that the turning begins: not on takes one of which is odd and
    /// has not come back the same.
    pub(crate) fn may_be_begun(&self) -> bool {
        if self.is_turned_out() {
            return false;
        }
        let odd = self.answer().map(|answer| answer.fit.contradiction());
        odd.is_some_and(|odd| odd.is_none_or(Odd::came_back))
    }

    /// Says which take is odd, once; and takes it back once it is so no more.
    fn say_contradiction(&mut self) {
        let says = self.contradiction().unwrap_or_default();
        if says == self.contradiction_said {
            return;
        }
        let former = std::mem::replace(&mut self.contradiction_said, says.clone());
        self.told.push(Told::Unsaid(former));
        if !says.is_empty() {
            self.say(says, true);
        }
    }
}
