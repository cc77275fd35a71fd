//! Whatever hands do wrong, on whatever board, with whatever adjusters: there is always something
//! to do, and the trim comes to a verdict or to an end that has a name.

use super::Trim;
use crate::Entry;
use crate::trial::{Trial, begin, part};
use crate::view::trim::{Advice, TurnView};
use crate::view::{State, View};
use crate::word::{Stop, Word};
use skimgauge_bench::noise::Noise;
use skimgauge_bench::room::Room;
use skimgauge_bench::room::board::Bump;
use skimgauge_metrology::assess::MEASURABLE;
use skimgauge_model::Point;
use skimgauge_quantity::{Mm, Turns};
use skimgauge_shared::light::Fault;

/// One look in so many goes wrong.
const GOES_WRONG: f64 = 0.12;
/// A trim says its end after no more words. The longest of 300 took 85.
const MOST_WORDS: u32 = 250;

/// A simulated person in a simulated room.
struct Hands {
    trial: Trial<Trim>,
    room: Room,
    noise: Noise,
    at: Option<Point>,
    /// The head stands askew by so much, mm.
    askew_mm: f64,
    lit: bool,
    words: u32,
    /// What was done of the turn at hand.
    turned: f64,
    turn: Option<(usize, u64)>,
    /// What was turned instead of what was told, to be turned back.
    owed: Option<(usize, f64)>,
    story: Vec<String>,
}

/// A room with a board of any kind and adjusters with any fault.
fn room(noise: &mut Noise, seed: u64) -> Room {
    let mut room = super::walked::room(&begin().job, seed);
    let width_mm = room.board.width_mm;
    match (noise.unit() * 5.0) as u32 {
        0 => (room.board.bow_x_mm, room.board.bow_y_mm, room.board.twist_mm) = (0.0, 0.0, 0.0),
        1 => room.board.twist_mm += noise.normal(1.5),
        2 => room.board.bumps.push(Bump {
            x_mm: noise.uniform(-0.5, 0.5) * width_mm,
            y_mm: -noise.uniform(0.0, room.board.height_mm),
            height_mm: noise.normal(1.0),
            radius_mm: noise.uniform(80.0, 400.0),
        }),
        3 => room.board.bow_x_mm += noise.normal(1.5),
        _ => (),
    }
    for adjuster in &mut room.emitter.adjusters {
        adjuster.pitch_mm *= 1.0 + noise.normal(0.15);
        adjuster.backlash_turns = noise.uniform(0.0, 0.15);
        adjuster.clockwise_out ^= noise.chance(0.1);
        if noise.chance(0.1) {
            adjuster.grip = noise.uniform(0.0, 0.8);
        }
        if noise.chance(0.1) {
            let left_turns = noise.uniform(0.0, 1.5);
            adjuster.nominal.clockwise_turns = left_turns;
            adjuster.nominal.anticlockwise_turns = left_turns;
        }
    }
    // Set by sight, and sometimes not at all.
    let wild = if noise.chance(0.3) { 3.0 } else { 1.0 };
    room.emitter.start.c_mm += noise.normal(1.0) * wild;
    room.emitter.start.p += noise.normal(0.001) * wild;
    room.emitter.start.q += noise.normal(0.0015) * wild;
    room
}

impl Hands {
    fn new(seed: u64) -> Self {
        let mut noise = Noise::new(seed, 0xE4D);
        let room = room(&mut noise, seed);
        Self {
            trial: Trial::at(Trim::new(begin()).unwrap()),
            room,
            noise,
            at: None,
            askew_mm: 0.0,
            lit: true,
            words: 0,
            turned: 0.0,
            turn: None,
            owed: None,
            story: Vec::new(),
        }
    }

    fn gap_mm(&mut self) -> Option<f64> {
        let at = self.at?;
        Some(self.room.live_gap(at.x.0, at.y.0, self.askew_mm, &mut self.noise))
    }

    /// Time goes by; the head reads what it sees.
    fn read(&mut self, ms: u32) {
        for _ in 0..ms / 100 {
            let gap_mm = self.gap_mm();
            let window = MEASURABLE;
            self.trial.scan = gap_mm.and_then(|gap_mm| match Mm(gap_mm) {
                _ if !self.lit => Some(Fault::NoLight),
                gap if window.contains(gap) => None,
                gap if window.beyond(gap) < Mm(1.2) => Some(Fault::Cut),
                _ => Some(Fault::NoLight),
            });
            self.trial.read_gap(gap_mm, 100);
        }
    }

    fn say(&mut self, word: Word) {
        self.words += 1;
        self.story.push(format!("says {word:?}"));
        self.trial.say(word);
        self.read(800);
    }

    /// The head off the board, and on again there; `None`: on the emitter.
    fn put(&mut self, to: Option<Point>) {
        self.at = None;
        self.trial.in_hand = true;
        self.read(500);
        self.trial.in_hand = false;
        self.at = to;
        self.askew_mm = 0.0;
        self.read(2_500);
    }

    fn put_where_it_should_be(&mut self) {
        self.put(self.trial.place());
    }

    fn offers(view: &View, word: Word) -> bool {
        view.words.iter().any(|offer| offer.word == word)
    }

    /// Something that nobody asked for.
    fn mistake(&mut self, view: &View) {
        let pick = |noise: &mut Noise, count: usize| (noise.bits() % count as u64) as usize;
        match pick(&mut self.noise, 8) {
            0 => {
                let (adjuster, turns) = (pick(&mut self.noise, 3), self.noise.normal(0.4));
                self.story.push(format!("turns {adjuster} by {turns:.2}, which nobody asked for"));
                self.room.turn(adjuster, turns);
                self.owed = self.noise.chance(0.5).then_some((adjuster, turns));
                if Self::offers(view, Word::Wrong) && self.owed.is_some() {
                    self.say(Word::Wrong);
                }
            }
            1 => {
                let at = view.stations[pick(&mut self.noise, view.stations.len())].at;
                self.story.push("puts the head elsewhere".into());
                self.put(Some(at));
            }
            2 => {
                self.askew_mm = self.noise.normal(0.5);
                self.story.push("knocks the head".into());
                self.read(500);
            }
            3 => {
                self.lit ^= true;
                self.story.push(format!("the emitter is {}", if self.lit { "on" } else { "off" }));
                self.read(1_000);
            }
            4 => {
                let by_mm = self.noise.normal(0.4);
                self.story.push(format!("touches the emitter: {by_mm:.2} mm"));
                self.room.emitter.start.c_mm += by_mm;
            }
            _ => {
                let words: Vec<Word> = view
                    .words
                    .iter()
                    .map(|offer| offer.word)
                    .filter(|w| *w != Word::Quit)
                    .collect();
                if !words.is_empty() {
                    let word = words[pick(&mut self.noise, words.len())];
                    self.say(word);
                }
            }
        }
    }

    /// What is asked for.
    fn follow(&mut self, view: &View) {
        if let Some(question) = &view.question {
            // Of the end of travel or of where the head is: true now and then.
            let word = if self.noise.chance(0.5) { question.yes } else { Word::No };
            return self.say(word);
        }
        if let Some(wanted) = view.place.as_ref().and_then(|place| place.wanted) {
            return self.say(Word::Go(wanted));
        }
        match &part(view).advice {
            Advice::Take { .. } | Advice::TakeEmitter => self.take(view),
            Advice::Begin => self.say(Word::Begin),
            Advice::Clip { .. } => {
                self.put_where_it_should_be();
                self.say(Word::Ready);
                self.read(17_000);
            }
            Advice::Turn { .. } => {
                if let Some(turn) = part(view).turn.clone() {
                    self.turn(view, &turn);
                }
            }
            Advice::Survey | Advice::Over => (),
        }
    }

    fn take(&mut self, view: &View) {
        self.put_where_it_should_be();
        let now = self.trial.view();
        let emitter = now.place.as_ref().is_some_and(|place| place.stop == Stop::Emitter);
        if emitter || now.live.can_take {
            return self.say(Word::Take);
        }
        // Whoever switched it off sees by and by that it is.
        self.lit |= self.noise.chance(0.7);
        self.read(10_000);
        let after = self.trial.view();
        if part(&after).advice == part(view).advice && !after.live.can_take {
            assert!(Self::offers(&after, Word::Skip), "{:?}: {:#?}", after.words, self.story);
            self.say(Word::Skip);
        }
    }

    fn turn(&mut self, view: &View, turn: &TurnView) {
        let this = (turn.adjuster, view.number);
        if self.turn.replace(this).is_none_or(|(adjuster, _)| adjuster != turn.adjuster) {
            self.turned = 0.0;
        }
        if turn.back {
            if let Some((adjuster, turns)) = self.owed.take() {
                self.room.turn(adjuster, -turns);
                self.read(1_000);
            }
            return self.say(Word::Ready);
        }
        if turn.wrong_way {
            let told = self.turned;
            let turned = if self.noise.chance(0.5) { None } else { Some(Turns(told)) };
            if turn.watched.is_none() {
                self.room.turn(turn.adjuster, -told);
            }
            self.turned = 0.0;
            return self.say(Word::Turned(turned));
        }
        let live = view.live.gap.good();
        let left = match (&turn.watched, live) {
            (Some(watched), Some(gap)) if (watched.to - gap).abs() < watched.within * 0.6 => {
                self.read(1_500);
                if part(&self.trial.view()).advice == part(view).advice {
                    self.say(Word::Ready);
                }
                return;
            }
            (Some(watched), Some(gap)) => {
                let per_turn = (watched.to - watched.from) / turn.turns.0;
                0.8 * ((watched.to - gap) / per_turn)
            }
            (Some(_), None) => {
                self.read(16_000);
                let after = self.trial.view();
                if part(&after).advice == part(view).advice && Self::offers(&after, Word::Skip) {
                    self.say(Word::Skip);
                }
                return;
            }
            (None, _) => turn.turns.0 - self.turned,
        };
        if turn.watched.is_none() && left.abs() < 1e-6 {
            return self.say(Word::Ready);
        }
        if self.turned.abs() > 1.5 * turn.turns.0.abs() + 0.5 {
            let told = Turns(std::mem::take(&mut self.turned));
            return self.say(Word::Turned(Some(told)));
        }
        let twist = left.clamp(-0.4, 0.4);
        let turned = self.room.turn(turn.adjuster, twist);
        self.turned += twist;
        self.read(900);
        if turned.at_stop && Self::offers(&self.trial.view(), Word::Stuck) {
            self.say(Word::Stuck);
            if self.trial.view().question.is_some() {
                self.say(Word::Yes);
            }
        }
    }

    /// What is kept as left was read after the last turn.
    fn as_left_was_read_after_the_last_turn(&self, seed: u64) {
        let (mut stands, mut turned) = (Vec::new(), 0);
        for (at, entry) in self.trial.entries.iter().enumerate() {
            match entry {
                Entry::Take { .. } | Entry::Tilt { .. } => stands.push(at),
                Entry::Round(_) => stands.clear(),
                Entry::Observed { .. } => turned = at,
                Entry::AsLeft => assert!(
                    stands.iter().all(|take| *take >= turned),
                    "room {seed}: left by the turn {turned}, read at {stands:?}\n{:#?}",
                    self.story
                ),
                _ => (),
            }
        }
    }

    /// To the end, which has a name: how many words it took.
    fn play(&mut self, seed: u64) -> u32 {
        self.read(300);
        for look in 0.. {
            let view = self.trial.view();
            let over = matches!(part(&view).advice, Advice::Over | Advice::Survey);
            if over && view.question.is_none() && view.state == State::Over {
                assert!(!part(&view).says.is_empty() && view.whole.is_some(), "{seed}");
                self.as_left_was_read_after_the_last_turn(seed);
                return self.words;
            }
            let tail = self.story.iter().rev().take(40).rev().collect::<Vec<_>>();
            assert!(
                self.words <= MOST_WORDS && look < 4 * MOST_WORDS,
                "room {seed} does not end after {} words, {look} looks: {:?} {:?}\n{}\n{tail:#?}",
                self.words,
                part(&view).advice,
                view.live,
                self.trial.heard()
            );
            assert!(!view.words.is_empty(), "room {seed}: nothing can be said");
            match self.noise.chance(GOES_WRONG) {
                true => self.mistake(&view),
                false => self.follow(&view),
            }
        }
        unreachable!("every loop ends")
    }
}

#[test]
fn every_trim_ends_whatever_hands_do_and_whatever_the_room_is() {
    for seed in 0..24 {
        Hands::new(seed).play(seed);
    }
}
