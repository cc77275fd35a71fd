//! The view of a trim.

use super::guide::{self, Stage};
use super::turning::{End, Turning};
use super::{Trim, says};
use crate::takes::{SURVEY_IT, about};
use crate::view::trim::{AdjusterView, Advice, PlannedView, TrimView, TurnView, WatchedView};
use crate::view::{Offer, Part, Question, State, View};
use crate::word::Word;
use skimgauge_quantity::{Mm, Name, Sentence, Turns, say};
use std::time::Duration;

/// A number for each thing that can be asked of the user.
pub(super) fn stage(stage: &Stage, advice: &guide::Advice) -> u64 {
    match stage {
        Stage::Take if *advice == guide::Advice::Begin => 1,
        Stage::Take => 2,
        Stage::Clip { station, ready, doubted, .. } => {
            8 + 4 * *station as u64 + 2 * u64::from(*ready) + u64::from(*doubted)
        }
        Stage::Turn(turning) => {
            // Another turn is another number, whichever adjuster it is of.
            let aim = turning.aim_mm().map_or(turning.turns, |(to_mm, _)| to_mm);
            1 << 36
                | (aim.to_bits() >> 32) << 4
                | u64::from(turning.back) << 3
                | u64::from(turning.wrong_way) << 2
                | turning.adjuster as u64
        }
        Stage::Over => 3,
    }
}

/// Whether two advices are one: a turn's count goes down while it is followed.
pub(super) fn is_same(told: &Advice, now: &Advice) -> bool {
    match (told, now) {
        (
            Advice::Turn { adjuster: a, dial_to: x, .. },
            Advice::Turn { adjuster: b, dial_to: y, .. },
        ) => {
            let near = match (x, y) {
                (Some(x), Some(y)) => (*x - *y).abs() < Mm(0.005),
                (None, None) => true,
                _ => false,
            };
            a == b && near
        }
        (told, now) => told == now,
    }
}

impl Trim {
    /// What to do now, as data.
    pub(super) fn advice(&self) -> Advice {
        let name = |at: usize| {
            self.guide.station(at).map_or(String::new(), |station| station.name.clone())
        };
        match self.guide.advice() {
            guide::Advice::Take { station } => {
                Advice::Take { station: name(*station), index: *station }
            }
            guide::Advice::TakeEmitter => Advice::TakeEmitter,
            guide::Advice::Begin => Advice::Begin,
            guide::Advice::Clip { station } => {
                Advice::Clip { station: name(*station), index: *station }
            }
            guide::Advice::Turn { adjuster, turns, dial_to_mm } => Advice::Turn {
                adjuster: self.guide.name_of(*adjuster).to_owned(),
                turns: Turns(*turns),
                dial_to: dial_to_mm.map(Mm),
            },
            guide::Advice::Survey => Advice::Survey,
            guide::Advice::Over => Advice::Over,
        }
    }

    /// The same in one line.
    pub(super) fn advice_says(&self) -> Sentence {
        let guide = &self.guide;
        let name = |at: usize| guide.station(at).map_or("", |station| station.name.as_str());
        match guide.advice() {
            guide::Advice::Take { station } if guide.is_taken(*station) => {
                let name = Name(name(*station));
                if guide.is_held(*station) {
                    say!("take {name} again: lift the head, hold it there anew")
                } else {
                    say!("take {name} again: lift the head, clip it on there anew")
                }
            }
            guide::Advice::Take { station } if guide.is_held(*station) => {
                say!("take {}: hold the head on the board there by hand", Name(name(*station)))
            }
            guide::Advice::Take { station } => say!("take {}", Name(name(*station))),
            guide::Advice::TakeEmitter => say!("hold the head on the emitter and take its tilt"),
            guide::Advice::Begin => say!("enough is known: begin to turn"),
            guide::Advice::Clip { station } => say!(
                "clip the head on at {}, its eye turned to the emitter, then say that it is there",
                Name(name(*station))
            ),
            guide::Advice::Turn { .. } => match guide.stage() {
                Stage::Turn(turning) => self.turn_says(turning),
                _ => Sentence::new(),
            },
            guide::Advice::Survey => say!("the board is not what was assumed: {SURVEY_IT}"),
            guide::Advice::Over => {
                says::over(self.takes.whole(), self.takes.stations().all_taken())
            }
        }
    }

    fn turn_says(&self, turning: &Turning) -> Sentence {
        let station = |at: usize| self.guide.station(at).map_or("", |s| s.name.as_str());
        let adjuster = self.guide.name_of(turning.adjuster);
        match turning.end {
            End::Reading { seen, .. } if turning.back => {
                says::turn_back(Some((station(seen.station), seen.before_mm)))
            }
            End::Count { .. } if turning.back => says::turn_back(None),
            End::Reading { seen, to_mm, outside_band, .. } => {
                let watched = (station(seen.station), to_mm);
                // Some of the count is made: what is left of it the gap alone tells.
                if turning.doubted {
                    let left = turning.left(self.guide.live_mm());
                    return says::turn_on(adjuster, left, watched);
                }
                says::turn(adjuster, turning.turns, watched, outside_band, turning.held)
            }
            End::Count { .. } => {
                let then = turning.then.map(|(at, to_mm)| (station(at), to_mm));
                says::turn_by_count(adjuster, turning.turns, then, turning.held)
            }
        }
    }

    pub(super) fn shown(&self, now: Duration) -> View {
        let mut view = self.takes.shown(now);
        let stage = self.guide.stage();
        let says = self.advice_says();
        if let Some(place) = &mut view.place {
            place.wanted = self.wanted().filter(|wanted| *wanted != place.stop);
        }
        // Lost, asked and saving hide whatever the trim is at.
        if self.takes.is_up() && view.state < State::Taken {
            view.state = match (stage, self.guide.advice()) {
                (Stage::Over, _) | (_, guide::Advice::Survey) => State::Over,
                (Stage::Turn(_), _) => State::Turn,
                (Stage::Clip { ready: true, .. }, _) => State::Hold,
                (Stage::Clip { .. }, _) => State::Move,
                (Stage::Take, guide::Advice::Begin) => State::Ready,
                (Stage::Take, _) if view.state == State::Over => State::Ready,
                (Stage::Take, _) => view.state,
            };
        }
        if !matches!(self.guide.advice(), guide::Advice::Take { .. } | guide::Advice::TakeEmitter) {
            view.instruction = says.clone();
        }
        // Where no take was made nobody asks whether the head has left.
        if let guide::Advice::Take { station } = self.guide.advice()
            && self.guide.is_still_there()
            && self.takes.is_up()
            && matches!(view.state, State::Waiting | State::Move | State::Hold | State::Ready)
        {
            let name = self.guide.station(*station).map_or("", |station| station.name.as_str());
            view.instruction = say!("put the head at {}", Name(name));
            view.state = State::Move;
        }
        let asks = self.guide.question().or_else(|| self.question_of_dents());
        if let Some(asks) = asks.filter(|_| self.takes.is_up() && view.question.is_none()) {
            view.question = Some(Question { asks, yes: Word::Yes, yes_by_button: false });
            view.state = State::Asked;
        }
        view.words = self.words(view.words, view.live.can_take);
        if view.state == State::Lost {
            view.words.retain(|offer| offer.word != Word::Ready);
        }
        if let Some(whole) = &mut view.whole
            && let Some(says) = self.guide.contradiction()
        {
            whole.contradicts = Some(says);
        }
        let is_turned = matches!(self.guide.advice(), guide::Advice::Turn { .. });
        view.cautions = self.takes.caution_of_near_band().into_iter().collect();
        let caution = if is_turned { says::caution_at_adjuster() } else { says::caution() };
        view.cautions.push(caution);
        view.part = Part::Trim(Box::new(self.part(says)));
        view
    }

    fn part(&self, says: Sentence) -> TrimView {
        let guide = &self.guide;
        let turning = match guide.stage() {
            Stage::Turn(turning) => Some(turning),
            _ => None,
        };
        let names = |adjuster: usize| guide.name_of(adjuster).to_owned();
        let adjusters = guide.adjusters().iter().zip(guide.made()).enumerate();
        let left = match guide.advice() {
            guide::Advice::Turn { turns, .. } => *turns,
            _ => 0.0,
        };
        TrimView {
            round: guide.round(),
            last_round: guide.last_round(),
            advice: self.advice(),
            says,
            adjusters: adjusters
                .map(|(at, (adjuster, made))| AdjusterView {
                    name: adjuster.name.clone(),
                    at: adjuster.at,
                    made: Turns(*made),
                    per_turn: Mm(guide.per_turn_mm(at)),
                    now: turning.is_some_and(|turning| turning.adjuster == at),
                })
                .collect(),
            turn: turning.map(|turning| TurnView {
                adjuster: turning.adjuster,
                name: names(turning.adjuster),
                turns: Turns(turning.turns),
                left: Turns(left),
                watched: match (turning.end, turning.aim_mm()) {
                    (End::Reading { seen, outside_band, .. }, Some((to_mm, within_mm))) => {
                        Some(WatchedView {
                            station: seen.station,
                            from: Mm(seen.before_mm),
                            to: Mm(to_mm),
                            within: Mm(within_mm),
                            outside_band,
                        })
                    }
                    _ => None,
                },
                back: turning.back,
                wrong_way: turning.wrong_way,
            }),
            planned: guide
                .planned_turns()
                .into_iter()
                .map(|(at, turns)| PlannedView { adjuster: names(at), turns: Turns(turns) })
                .collect(),
            turns_left: guide.turns_left(),
            field: self.picture.0.clone(),
            spots: self.picture.1.clone(),
            seconds_left: guide.seconds_left(),
            time_left: guide.seconds_left().map(about),
            feasibility: guide.answer().and_then(|answer| {
                says::feasibility(answer, guide.points(), &names, guide.image())
            }),
            said: self.said.clone(),
        }
    }

    /// The takes' words with the trim's among them.
    fn words(&self, takes: Vec<Offer>, can_take: bool) -> Vec<Offer> {
        let offer = |word: Word, does: Sentence| Offer { word, does };
        let ends = |offer: &Offer| matches!(offer.word, Word::Sound | Word::Quit);
        if self.takes.asks_as_left().is_some() {
            return takes;
        }
        if self.asks() {
            let mut words = vec![offer(Word::Yes, say!("yes")), offer(Word::No, say!("no"))];
            words.extend(takes.into_iter().filter(ends));
            return words;
        }
        let (answers, rest): (Vec<Offer>, Vec<Offer>) = takes
            .into_iter()
            .partition(|offer| self.takes.asks() && matches!(offer.word, Word::Yes | Word::No));
        let own = match self.guide.stage() {
            _ if self.takes.busy().is_some() => Vec::new(),
            Stage::Clip { .. } => vec![offer(Word::Ready, say!("the head is clipped on"))],
            Stage::Turn(turning) if turning.back => {
                vec![offer(Word::Ready, say!("it is turned back"))]
            }
            Stage::Turn(turning) => {
                let name = Name(self.guide.name_of(turning.adjuster));
                let told = match turning.aim_mm() {
                    Some(_) => say!("turned as told, and the gap is not there"),
                    None => say!("turned as told"),
                };
                vec![
                    offer(Word::Ready, say!("the turn is made")),
                    offer(Word::Turned(None), told),
                    offer(Word::Wrong, say!("I turned another one than {name}")),
                    offer(Word::Stuck, say!("{name} will not go further")),
                ]
            }
            Stage::Take if self.guide.may_be_begun() => {
                vec![offer(Word::Begin, say!("begin to turn"))]
            }
            Stage::Take | Stage::Over => Vec::new(),
        };
        let back = self.guide.can_take_back().filter(|_| self.takes.busy().is_none());
        let back = back.map(|does| offer(Word::Undo, does));
        let sees = match self.guide.stage() {
            Stage::Take => can_take,
            _ => self.guide.sees(),
        };
        let leaves = self.guide.can_leave_out().filter(|_| !sees);
        let leaves = leaves.filter(|_| self.takes.busy().is_none());
        let leaves = leaves.map(|does| offer(Word::Skip, does));
        let back = leaves.into_iter().chain(back);
        let begins = *self.guide.advice() == guide::Advice::Begin;
        let over = matches!(self.guide.stage(), Stage::Over);
        let again = |offer: &Offer| matches!(offer.word, Word::Redo | Word::More);
        let mut words = answers;
        if self.watches() || over {
            words.extend(own);
            words.extend(back);
            words.extend(rest.into_iter().filter(|one| ends(one) || (over && again(one))));
        } else if begins {
            words.extend(own);
            words.extend(back);
            words.extend(rest);
        } else {
            let before_rest = words.len();
            words.extend(rest);
            // Where no light is seen nothing can be taken.
            let at = match self.guide.is_missed() {
                true => before_rest,
                false => words.iter().position(ends).unwrap_or(words.len()),
            };
            words.splice(at..at, own.into_iter().chain(back));
        }
        words
    }
}
