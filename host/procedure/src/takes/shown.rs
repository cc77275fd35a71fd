//! The view of a walk.

use super::{Link, Takes};
use crate::view::{
    Aim, EmitterView, LinkView, Live, Offer, Part, PlaceView, Question, Reading, State,
    StationView, TakenView, TiltJudged, TiltView, View, WholeView,
};
use crate::word::{Stop, Word};
use skimgauge_metrology::measure::seats::Seats;
use skimgauge_metrology::measure::{self, At, Bearing, Fault};
use skimgauge_quantity::{Celsius, Deg, Mm, Name, Sentence, Tell, say};
use std::time::Duration;

use super::whole::says::contradict;
use super::whole::{TiltVerdict, Undecided};

/// On every screen on which a head with a laser measures an emitter's light.
const CAUTION: &str =
    "Invisible light: follow the emitter's label. Do not look into the head's laser.";

impl Takes {
    pub(crate) fn shown(&self, now: Duration) -> View {
        let live = self.live(now);
        let view = |fault: &Fault| self.fault_view(now, *fault, &live);
        let faults: Vec<_> = live.faults.iter().map(view).collect();
        let at_emitter = self.stations.stop() == Stop::Emitter;
        let good_tilt = live.level_deg.good().is_some();
        // What is a mere notice stands in nobody's way.
        let stops = |fault: &&Fault| fault.bearing() != Bearing::Notice;
        let in_the_way = live.faults.first().filter(stops).filter(|_| !at_emitter || !good_tilt);
        View {
            number: self.situation.number(),
            at_s: now.as_secs_f64(),
            title: self.job.about.name.clone(),
            link: self.link_view(),
            counts: self.counts,
            image: Some(self.job.image),
            place: Some(PlaceView {
                place: self.place(),
                stop: self.stations.stop(),
                still_at: self.seen_at().map(At::name).map(str::to_owned),
                wanted: None,
            }),
            bands: Some(self.job.bands),
            aim: self.dial.map(|dial| {
                let to_go = live.gap_mm.good().map(|(gap_mm, _)| Mm(dial.to_mm - gap_mm));
                let within = Mm(dial.within_mm);
                let there = to_go.is_some_and(|to_go| to_go.abs() <= within);
                Aim { to: Mm(dial.to_mm), within, to_go, there }
            }),
            state: self.state(now, &live),
            instruction: self.instruction(now, &live),
            question: self.left_question().or_else(|| {
                self.asked.as_ref().map(|asked| Question {
                    asks: asked.asks.clone(),
                    yes: asked.yes(),
                    yes_by_button: asked.at != At::Emitter,
                })
            }),
            message: self.message.as_ref().map(|(message, _)| message.clone()),
            saving: self.busy(),
            stations: (0..self.stations.rows().len())
                .filter_map(|at| self.station_view(at))
                .collect(),
            emitter: self.emitter_view(),
            whole: Some(self.whole_view()),
            emitter_off: None,
            part: Part::Takes,
            words: self.words(),
            in_the_way: in_the_way.map(view),
            faults,
            cautions: self.caution_of_near_band().into_iter().chain([CAUTION.into()]).collect(),
            sound: self.sound,
            live: self.live_view(live),
        }
    }

    fn live_view(&self, live: measure::Live) -> Live {
        let verdict = self.live_verdict(&live);
        let rests = self.observer.level_rests();
        let live = live_of(live);
        match self.seen_at() {
            // The number is that of another place: it is none of the due one's to be judged.
            Some(still) => {
                let (still, due) = (Name(still.name()), Name(self.stations.name()));
                let says = say!("head still at {still}: put it at {due}");
                Live { verdict: None, says, rests, ..live }
            }
            None => Live { verdict, rests, ..live },
        }
    }

    /// Where the head still stands, if not where it is due: nobody can know once it is gone.
    fn seen_at(&self) -> Option<&At> {
        self.still_at().filter(|_| matches!(self.link, Link::Up(_)))
    }

    fn left_question(&self) -> Option<Question> {
        let asks = self.asks_as_left()?;
        Some(Question { asks, yes: Word::Yes, yes_by_button: false })
    }

    fn link_view(&self) -> LinkView {
        match &self.link {
            Link::Greeting => LinkView::Greeting,
            Link::Up(head) => LinkView::up(head),
            Link::Lost(trouble) => LinkView::Lost { trouble: trouble.tell() },
        }
    }

    fn state(&self, now: Duration, live: &measure::Live) -> State {
        let at_emitter = self.stations.stop() == Stop::Emitter;
        match &self.link {
            Link::Lost(_) => State::Lost,
            Link::Greeting => State::Waiting,
            Link::Up(_) if self.asked.is_some() || self.resumed.is_some() => State::Asked,
            Link::Up(_) if self.busy().is_some() => State::Saving,
            Link::Up(_) if self.kept_at.is_some_and(|until| now < until) => State::Taken,
            Link::Up(_) if self.stations.all_taken() => State::Over,
            Link::Up(_) if self.still_at().is_some() => State::Move,
            Link::Up(_) if at_emitter && !self.arrival.is_off() => State::Move,
            Link::Up(_) if at_emitter && self.observer.level_rests() => State::Ready,
            Link::Up(_) if at_emitter => State::Hold,
            Link::Up(_) if live.can_take.is_ok() => State::Ready,
            Link::Up(_) if live.state == measure::State::Waiting => State::Waiting,
            Link::Up(_) => State::Hold,
        }
    }

    pub(crate) fn station_view(&self, at: usize) -> Option<StationView> {
        let (station, kept) = self.stations.rows().nth(at)?;
        let taken = kept.map(|kept| TakenView {
            gap: Mm(kept.take.gap_mm),
            u: Mm(kept.take.u_mm),
            expanded: Mm(kept.expanded_mm),
            dof: kept.take.dof,
            verdict: self.whole.told(kept.verdict),
            seats: kept.seats.len(),
            last: Mm(kept.seats.last().map_or(kept.take.gap_mm, |seat| seat.gap_mm)),
            differ: match kept.agree {
                Seats::Agreeing => None,
                Seats::Differing { range_mm } => Some(Mm(range_mm)),
            },
            readings: kept.take.readings,
            window_s: kept.take.window_s,
            came: kept.came.clone(),
        });
        Some(StationView {
            name: station.name.clone(),
            at: station.at,
            index: at,
            here: self.stations.stop() == Stop::Station(at),
            taken,
        })
    }

    fn emitter_view(&self) -> Option<EmitterView> {
        let (asked, tilt) = self.stations.emitter();
        asked.then(|| EmitterView {
            here: self.stations.stop() == Stop::Emitter,
            taken: tilt.map(|tilt| TiltView {
                level: Deg(tilt.level_deg),
                lean: Deg(tilt.lean_deg),
                u: Deg(tilt.u_deg),
            }),
        })
    }

    /// The verdict over everything, to be shown.
    pub fn whole_view(&self) -> WholeView {
        let whole = &self.whole;
        let because = whole.because(self.job.bands.gap, self.job.image);
        let (headline, because) = if self.nothing_taken() {
            ("nothing taken yet".into(), say!("nothing taken yet: {because}"))
        } else {
            (whole.headline(), because)
        };
        WholeView {
            verdict: whole.verdict,
            headline,
            because,
            judged_at: whole.judged_at.clone(),
            odd: whole
                .contradiction()
                .into_iter()
                .flat_map(|odd| &odd.suspects)
                .map(|suspect| suspect.name.clone())
                .collect(),
            contradicts: whole.contradiction().map(contradict),
            level: judged(whole.level.as_ref()),
            lean: judged(whole.lean.as_ref()),
            taken: self.stations.taken(),
            nothing_taken: self.nothing_taken(),
            all_taken: self.stations.all_taken(),
            simulated: self.is_simulated,
        }
    }

    /// Neither a gap nor the emitter's tilt.
    fn nothing_taken(&self) -> bool {
        self.stations.taken() == 0 && self.stations.emitter().1.is_none()
    }

    /// What can be said now, the most important first.
    fn words(&self) -> Vec<Offer> {
        let offer = |word: Word, does: Sentence| Offer { word, does };
        let mut words = Vec::new();
        if self.asks_as_left().is_some() {
            words.push(offer(Word::Yes, say!("yes: go on where it was left")));
            words.push(offer(Word::No, say!("no: take everything anew")));
        }
        if let Some(asked) = &self.asked {
            words.push(offer(asked.yes(), say!("yes, it is")));
            words.push(offer(Word::No, say!("no, it is not")));
        }
        // A head that is gone takes nothing.
        let lost = matches!(self.link, Link::Lost(_));
        if self.busy().is_none() && !lost {
            let name = Name(self.stations.name());
            words.push(match self.stations.stop() {
                Stop::Station(_) => offer(Word::Take, say!("take {name}")),
                Stop::Emitter => offer(Word::Take, say!("take the emitter's tilt")),
            });
            if self.keeps > 0 {
                words.push(offer(Word::Redo, say!("take again, in place of the last take")));
                words.push(offer(Word::More, say!("take one more seat")));
            }
        }
        if self.busy().is_none() {
            words.push(offer(Word::Next, say!("next station")));
            words.push(offer(Word::Back, say!("station before")));
            if self.stations.emitter().0 && self.asked.is_none() {
                words.push(offer(Word::Go(Stop::Emitter), say!("go to the emitter")));
            }
        }
        let sound = if self.sound { say!("sound off") } else { say!("sound on") };
        words.push(offer(Word::Sound, sound));
        words.push(offer(Word::Quit, say!("end")));
        if self.busy().is_none() {
            words.extend(self.stations.rows().enumerate().map(|(at, (station, _))| {
                offer(Word::Go(Stop::Station(at)), say!("go to {}", Name(&station.name)))
            }));
        }
        words
    }
}

/// What the head says now, without a band.
pub(crate) fn live_of(live: measure::Live) -> Live {
    Live {
        gap: Reading::of(live.gap_mm, Mm),
        verdict: None,
        level: Reading::of(live.level_deg, Deg),
        lean: Reading::of(live.lean_deg, Deg),
        says: super::says::state(live.state),
        state: live.state,
        can_take: live.can_take.is_ok(),
        rests: false,
        eye: live.eye,
        stand_off: live.stand_off_mm.map(Mm),
        temperature: live.temperature_c.map(Celsius),
        supply_v: live.supply_v,
    }
}

fn judged(tilt: Option<&Result<TiltVerdict, Undecided>>) -> Option<TiltJudged> {
    let tilt = tilt?.as_ref().ok()?;
    Some(TiltJudged {
        emitter: Deg(tilt.emitter_deg),
        board: Deg(tilt.board_deg),
        value: Deg(tilt.value_deg),
        expanded: Deg(tilt.expanded_deg),
        verdict: tilt.verdict,
    })
}
