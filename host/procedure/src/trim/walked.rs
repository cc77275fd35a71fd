//! A trim from its first take to its last turn: a user who reads the view, and nothing else, and
//! says words; a head that reads the gaps of a simulated room.

use super::Trim;
use crate::trial::{Trial, begin, part};
use crate::view::trim::Advice;
use crate::view::{State, View};
use crate::word::{Stop, Word};
use crate::{Entry, Procedure};
use skimgauge_bench::noise::Noise;
use skimgauge_bench::room::emitter::Nominal;
use skimgauge_bench::room::{Plan, Room};
use skimgauge_jobfile::Job;
use skimgauge_model::Sense;
use skimgauge_model::{Point, Verdict};
use skimgauge_quantity::{Band, Mm, Style};

/// The simulated room of a job, with its adjusters where the job has them.
pub(super) fn room(job: &Job, seed: u64) -> Room {
    let nominal = |at: usize, name| {
        let a = &job.adjusters[at];
        Nominal {
            name,
            x_mm: a.at.x.0,
            y_mm: a.at.y.0,
            pitch_mm: a.pitch.0,
            clockwise_out: a.clockwise == Sense::Out,
            clockwise_turns: a.travel_clockwise.0,
            anticlockwise_turns: a.travel_anticlockwise.0,
        }
    };
    let plan = Plan {
        width_mm: job.image.width.0,
        height_mm: job.image.height.0,
        adjusters: [nominal(0, "left"), nominal(1, "right"), nominal(2, "upper")],
        ..Plan::default()
    };
    Room::planned(seed, &plan)
}

/// The user, the room and the head.
struct Walk {
    trial: Trial<Trim>,
    room: Room,
    noise: Noise,
    /// Where the head is clipped on; `None` in the hand or on the emitter.
    at: Option<Point>,
    turns: usize,
}

impl Walk {
    fn new(seed: u64) -> Self {
        let begin = begin();
        let room = room(&begin.job, seed);
        let trial = Trial::at(Trim::new(begin).unwrap());
        Self { trial, room, noise: Noise::new(seed, 7), at: None, turns: 0 }
    }

    fn read(&mut self, ms: u32) {
        let gap_mm = self.at.map(|at| self.room.live_gap(at.x.0, at.y.0, 0.0, &mut self.noise));
        self.trial.read_gap(gap_mm, ms);
    }

    /// Takes the head off, and to where the view says that the user is.
    fn carry(&mut self) {
        self.at = self.trial.place();
        self.trial.lift();
        self.read(2_500);
    }

    /// Does what the view asks for, once.
    fn step(&mut self) {
        let view = self.trial.view();
        assert_ne!(view.state, State::Asked, "{}", self.trial.heard());
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
            Advice::Survey | Advice::Over => panic!("{:?}", part(&view).advice),
        }
        self.read(1_000);
    }

    /// Turns a little toward where the view says, and looks.
    fn turn(&mut self, view: &View) {
        let turn = part(view).turn.as_ref().unwrap();
        let Some(watched) = turn.watched else {
            self.room.turn(turn.adjuster, turn.turns.0);
            self.turns += 1;
            self.read(300);
            self.trial.say(Word::Ready);
            return;
        };
        let aim = view.aim.unwrap();
        assert_eq!((watched.to, watched.within), (aim.to, aim.within));
        if !aim.there {
            let twist = (0.8 * turn.left.0).clamp(-0.3, 0.3);
            self.room.turn(turn.adjuster, twist);
            self.turns += 1;
        }
    }
}

#[test]
fn a_user_who_reads_the_view_and_says_words_brings_the_light_into_the_band() {
    for seed in [3, 11, 27] {
        let mut walk = Walk::new(seed);
        let mut numbers = vec![walk.trial.view().number];
        for step in 0.. {
            let view = walk.trial.view();
            if matches!(part(&view).advice, Advice::Over | Advice::Survey) {
                break;
            }
            assert!(step < 1_500, "seed {seed} gets no further: {:?}", part(&view).advice);
            walk.step();
            numbers.push(walk.trial.view().number);
        }
        let view = walk.trial.view();
        let whole = view.whole.clone().unwrap();
        let said = whole.because.text(Style::default());
        assert!(walk.turns > 0, "seed {seed}");
        // Nobody is told that there is nothing to turn, and to turn.
        let over = view.instruction.text(Style::default());
        assert!(over.contains("nothing more to turn"), "seed {seed}: {over}");
        assert!(!said.contains("bring it further") && !said.contains("turn it"), "{said}");
        assert_ne!(whole.verdict, Verdict::Outside, "seed {seed}: {said}");
        // A head that was never zeroed promises nothing; the light is where it should be all the same.
        let band = view.bands.unwrap().gap;
        for station in &view.stations {
            let (x_mm, y_mm) = (station.at.x.0, station.at.y.0);
            let gap = Mm(walk.room.live_gap(x_mm, y_mm, 0.0, &mut walk.noise));
            assert!(band.contains(gap), "seed {seed}: {gap:?} at {}", station.name);
        }
        assert!(numbers.is_sorted() && numbers.last() > Some(&20), "{numbers:?}");
        assert!(part(&view).field.is_some() && part(&view).spots.len() == 9);
        assert!(view.words.iter().all(|offer| offer.word != Word::Begin));
    }
}

/// Whatever was turned last, what is kept as left was read after it.
#[test]
fn after_the_last_turns_the_stations_are_taken_again_before_it_ends() {
    let mut ends = 0;
    for seed in [3, 11, 21, 27] {
        let mut walk = Walk::new(seed);
        let mut begin = begin();
        // Narrower than anything that is read: no setting passes.
        begin.job.bands.gap = Band { low: Mm(2.46), high: Mm(2.54) };
        walk.trial = Trial::at(Trim::new(begin).unwrap());
        for step in 0.. {
            let view = walk.trial.view();
            let trim = part(&view);
            assert!(trim.round <= trim.last_round, "seed {seed}: {} rounds", trim.round);
            if matches!(trim.advice, Advice::Over | Advice::Survey) {
                break;
            }
            assert!(step < 1_500, "seed {seed}: {}", walk.trial.heard());
            walk.step();
        }
        let turned_out = walk.trial.heard().contains("after 5 rounds");
        let entries = &walk.trial.entries;
        let last = |is: fn(&Entry) -> bool| entries.iter().rposition(is);
        let turned = last(|entry| matches!(entry, Entry::Observed { .. }));
        let Some(left) = last(|entry| matches!(entry, Entry::AsLeft)) else { continue };
        let round = last(|entry| matches!(entry, Entry::Round(_)));
        assert!(turned.is_some() && turned < round && round < Some(left), "seed {seed}");
        let after = &entries[round.unwrap()..left];
        let takes = after.iter().filter(|entry| matches!(entry, Entry::Take { .. })).count();
        assert!(takes >= walk.trial.view().stations.len(), "seed {seed}: {takes}");
        let view = walk.trial.view();
        assert!(!turned_out || part(&view).round == part(&view).last_round, "seed {seed}");
        ends += usize::from(turned_out);
    }
    assert!(ends > 0, "no room used up its rounds");
}

#[test]
fn after_each_take_it_leads_to_where_the_next_is_wanted_and_says_where_takes_go_meanwhile() {
    let mut walk = Walk::new(11);
    walk.read(200);
    let view = walk.trial.view();
    let Advice::Take { index, .. } = part(&view).advice else { panic!("{:?}", part(&view).advice) };
    let place = view.place.unwrap();
    assert_eq!((place.stop, place.wanted), (Stop::Station(index), None));
    // The user goes elsewhere, and is let go there; it is said.
    let other = Stop::Station((index + 3) % view.stations.len());
    walk.trial.say(Word::Go(other));
    let place = walk.trial.view().place.unwrap();
    assert_eq!((place.stop, place.wanted), (other, Some(Stop::Station(index))));
    // Taken there, the walk goes on to what it misses; the guide leads to what is wanted.
    walk.carry();
    assert_eq!(walk.trial.say(Word::Take).len(), 1, "{}", walk.trial.heard());
    let view = walk.trial.view();
    let Advice::Take { index, .. } = part(&view).advice else { panic!("{:?}", part(&view).advice) };
    let place = view.place.unwrap();
    assert_eq!((place.stop, place.wanted), (Stop::Station(index), None));
}

/// A press while a live gap is watched takes nothing: it says that the head is there.
#[test]
fn a_word_said_to_what_is_gone_is_refused() {
    let mut walk = Walk::new(11);
    walk.carry();
    let seen = walk.trial.view().number;
    assert_eq!(walk.trial.say(Word::Take).len(), 1);
    let late =
        crate::Said { seen: Some(seen), ..crate::Said::by(crate::Speaker::Phone, Word::Take) };
    walk.read(1_000);
    let now = walk.trial.now();
    let outputs = walk.trial.takes.on(now, crate::Input::Said(late));
    walk.trial.tell(&outputs);
    assert!(walk.trial.heard().contains("meant for what stood here before"));
    assert_eq!(walk.trial.view().whole.unwrap().taken, 1);
    // The same word with the number of what stands there now counts.
    walk.carry();
    let seen = Some(walk.trial.view().number);
    let outputs = walk.trial.on(crate::Input::Said(crate::Said { seen, ..late }));
    assert_eq!(walk.trial.follow(outputs).len(), 1, "{}", walk.trial.heard());
}

#[test]
fn a_gap_that_is_aimed_at_is_in_the_view_as_quantities() {
    let mut walk = Walk::new(11);
    for _ in 0..200 {
        if walk.trial.view().aim.is_some() {
            break;
        }
        walk.step();
    }
    let view = walk.trial.view();
    let aim = view.aim.unwrap();
    let live = view.live.gap.good().unwrap();
    assert!((aim.to - live - aim.to_go.unwrap()).abs() < Mm(1e-9));
    assert_eq!(view.state, State::Turn);
    let first: Vec<Word> = view.words.iter().map(|offer| offer.word).take(5).collect();
    let own = [Word::Ready, Word::Turned(None), Word::Wrong, Word::Stuck, Word::Undo];
    assert_eq!(first, own);
    assert!(part(&view).adjusters.iter().filter(|one| one.now).count() == 1);
    let json = serde_json::to_value(&view).unwrap();
    assert_eq!(json["part"]["advice"]["do"], "turn", "{json}");
}

/// To the first turn that is watched.
fn at_a_watched_turn(seed: u64) -> Walk {
    let mut walk = Walk::new(seed);
    for _ in 0..300 {
        if part(&walk.trial.view()).turn.as_ref().is_some_and(|turn| turn.watched.is_some()) {
            break;
        }
        walk.step();
    }
    walk
}

fn instruction(walk: &Walk) -> String {
    walk.trial.view().instruction.text(Style::default())
}

/// What the screen says to stop for is over once it is turned back: it does not stay said.
/// The smallest screen shows the first caution alone.
#[test]
fn the_hand_at_an_adjuster_is_cautioned_of_the_turn_first() {
    let mut walk = Walk::new(11);
    let first = |walk: &Walk| walk.trial.view().cautions[0].text(Style::default());
    assert!(first(&walk).contains("Ladder"), "{}", first(&walk));
    walk = at_a_watched_turn(11);
    assert!(first(&walk).starts_with("Turn gently"), "{}", first(&walk));
    assert!(first(&walk).contains("Ladder"), "of ladder and light it is still cautioned");
    assert_eq!(walk.trial.view().cautions.len(), 1, "those before the last are of what is so now");
    // What the job's band hides from the head is said here as it is while taking.
    let mut begin = begin();
    begin.job.bands.gap = skimgauge_quantity::Band { low: Mm(0.2), high: Mm(1.2) };
    let near = Trial::at(Trim::new(begin).unwrap()).view();
    assert!(near.cautions[0].text(Style::default()).contains("seen from"), "{near:?}");
}

#[test]
fn a_gap_that_went_the_wrong_way_and_came_back_is_gone_on_with() {
    let mut walk = at_a_watched_turn(11);
    let turn = part(&walk.trial.view()).turn.clone().unwrap();
    let by = -turn.turns.0.signum() * (0.5 * turn.turns.0.abs()).max(0.3);
    walk.room.turn(turn.adjuster, by);
    walk.read(1_500);
    assert!(part(&walk.trial.view()).turn.as_ref().unwrap().wrong_way);
    assert!(walk.trial.heard().contains("STOP"));
    // Beyond where it stood, for the play in the thread.
    walk.room.turn(turn.adjuster, -1.3 * by);
    walk.read(1_500);
    assert!(!part(&walk.trial.view()).turn.as_ref().unwrap().wrong_way);
    let view = walk.trial.view();
    let last = part(&view).said.last().unwrap();
    assert!(last.says.text(Style::default()).contains("go on") && !last.bad, "{last:?}");
}

/// One instruction, on its own line, and said once: what a turn that was taken back is ended by.
#[test]
fn a_turn_that_was_taken_back_says_on_its_own_line_how_it_is_ended() {
    let mut walk = at_a_watched_turn(11);
    let before = part(&walk.trial.view()).turn.clone().unwrap();
    assert!(!instruction(&walk).contains("then say"), "{}", instruction(&walk));
    for _ in 0..60 {
        let now = part(&walk.trial.view()).turn.clone();
        if now.is_none_or(|now| now.adjuster != before.adjuster) {
            break;
        }
        walk.step();
    }
    walk.trial.say(Word::Undo);
    walk.read(500);
    if matches!(part(&walk.trial.view()).advice, Advice::Clip { .. }) {
        walk.step();
    }
    let says = instruction(&walk);
    assert!(says.contains(&before.name) && says.ends_with(", then say that it is made"), "{says}");
    let view = walk.trial.view();
    let said = part(&view).said.last().unwrap().says.text(Style::default());
    assert!(!said.contains("then say"), "said twice: {said}");
}

/// What was asked about one turn is not asked of the next.
#[test]
fn a_hint_goes_with_its_turn() {
    let mut walk = at_a_watched_turn(11);
    let before = part(&walk.trial.view()).turn.clone().unwrap();
    let hinted = |walk: &Walk| {
        let view = walk.trial.view();
        let said = part(&view).said.iter().map(|said| said.says.text(Style::default()));
        said.filter(|says| says.contains("does not move")).count()
    };
    walk.read(14_000);
    assert_eq!(hinted(&walk), 1, "{}", walk.trial.heard());
    for _ in 0..60 {
        let now = part(&walk.trial.view()).turn.clone();
        if now.is_none_or(|now| now.adjuster != before.adjuster) {
            break;
        }
        walk.step();
    }
    assert_eq!(hinted(&walk), 0);
}

/// A key that can be pressed stands where a narrow screen still shows it.
#[test]
fn where_no_light_is_seen_leaving_out_stands_first() {
    let mut walk = Walk::new(11);
    walk.carry();
    assert_ne!(walk.trial.view().words[0].word, Word::Skip);
    walk.trial.scan = Some(skimgauge_shared::light::Fault::NoLight);
    walk.read(4_000);
    let words: Vec<Word> = walk.trial.view().words.iter().map(|offer| offer.word).collect();
    assert_eq!(words[0], Word::Skip, "{words:?}");
}

/// For as long as takes contradict one another the view says so, with which is odd and that nothing is
/// turned on them; and no longer.
#[test]
fn that_takes_contradict_one_another_is_shown_while_it_is_so() {
    let text = |says: &skimgauge_quantity::Sentence| says.text(Style::default());
    let mut walk = Walk::new(11);
    let stations = walk.trial.view().stations.len();
    for station in 0..stations {
        walk.trial.say(Word::Go(Stop::Station(station)));
        walk.carry();
        let at = walk.at.unwrap();
        let off_mm = if station == 3 { 1.5 } else { 0.0 };
        let gap_mm = walk.room.live_gap(at.x.0, at.y.0, 0.0, &mut walk.noise) + off_mm;
        walk.trial.read_gap(Some(gap_mm), 2_500);
        walk.trial.say(Word::Take);
        walk.trial.read_gap(Some(gap_mm), 500);
    }
    let view = walk.trial.view();
    let odd = view.stations[3].name.clone();
    let whole = view.whole.as_ref().unwrap();
    let says = text(whole.contradicts.as_ref().unwrap());
    assert!(says.contains("there are no turns") && says.contains(&odd), "{says}");
    assert_eq!((&whole.odd, whole.verdict), (&vec![odd.clone()], Verdict::Unsure));
    let trim = part(&view);
    assert_eq!((trim.turns_left, trim.planned.len(), &trim.field), (0, 0, &None));
    // It stays shown, whatever else is said meanwhile.
    walk.trial.say(Word::Sound);
    walk.read(8_000);
    assert!(walk.trial.view().whole.unwrap().contradicts.is_some());
    // Taken again, and right.
    walk.step();
    let view = walk.trial.view();
    assert_eq!(view.whole.as_ref().unwrap().contradicts, None, "{}", walk.trial.heard());
    let trim = part(&view);
    assert!(trim.said.iter().all(|said| !text(&said.says).contains("contradict")), "{trim:?}");
    assert!(trim.turns_left > 0);
}

/// What nobody read in this round is marked and limits nothing; what was taken is shown as it was.
#[test]
fn the_picture_tells_what_was_read_from_what_was_worked_out() {
    let (mut read, mut worked_out) = (0, 0);
    for seed in [3, 11] {
        let mut walk = Walk::new(seed);
        for _ in 0..400 {
            let view = walk.trial.view();
            if matches!(part(&view).advice, Advice::Over | Advice::Survey) {
                break;
            }
            let turned = matches!(part(&view).advice, Advice::Clip { .. } | Advice::Turn { .. });
            for spot in &part(&view).spots {
                let number = spot.number(Style::default());
                let taken = view.stations.iter().any(|station| {
                    station.taken.as_ref().is_some_and(|taken| taken.gap == spot.gap)
                });
                assert_eq!(spot.read, !number.starts_with('~'), "{number}");
                assert!(spot.read || !spot.worst, "{number}");
                assert!(!spot.read || (taken && !turned), "{number}: {:?}", view.stations);
                assert!(spot.gap >= Mm::ZERO || number == "~<0", "{number}");
                (read, worked_out) =
                    (read + usize::from(spot.read), worked_out + usize::from(!spot.read));
            }
            walk.step();
        }
    }
    assert!(read > 0 && worked_out > 0, "{read} {worked_out}");
}

/// A head that was not lifted stands where it stood, whatever it sees there.
#[test]
fn after_a_station_is_left_out_the_head_is_sent_on_until_it_is_lifted() {
    for light in [None, Some(skimgauge_shared::light::Fault::NoLight)] {
        let mut walk = Walk::new(11);
        walk.carry();
        walk.trial.scan = light;
        walk.read(3_000);
        walk.trial.say(Word::Skip);
        walk.read(1_000);
        let view = walk.trial.view();
        let Advice::Take { station, .. } = &part(&view).advice else { panic!("{view:?}") };
        assert_eq!(instruction(&walk), format!("put the head at {station}"), "{light:?}");
        assert_eq!(view.state, State::Move);
        walk.trial.scan = None;
        walk.carry();
        assert!(!instruction(&walk).starts_with("put the head"), "{}", instruction(&walk));
    }
}

/// What was asked for and is there by now is not asked for any more.
#[test]
fn that_three_stations_are_missing_is_said_no_longer_than_they_are() {
    let mut walk = Walk::new(11);
    let asked = |walk: &Walk| {
        let view = walk.trial.view();
        part(&view)
            .said
            .iter()
            .any(|one| one.says.text(Style::default()).contains("three stations"))
    };
    walk.step();
    walk.trial.say(Word::Begin);
    assert!(asked(&walk), "{}", walk.trial.heard());
    while part(&walk.trial.view()).advice != Advice::Begin {
        walk.step();
    }
    assert!(!asked(&walk), "{}", walk.trial.heard());
}

/// A turn that falls short asks for what is left of it, not for its whole count again.
#[test]
fn a_turn_that_falls_short_is_gone_on_with_without_its_count() {
    let mut walk = at_a_watched_turn(11);
    walk.read(1_500);
    let before = instruction(&walk);
    assert!(before.contains("turn"), "{before}");
    walk.trial.say(Word::Ready);
    let says = instruction(&walk);
    assert!(says.contains(" on ") && says.contains("until"), "{says}");
    assert!(!says.contains("turns)"), "{says}");
}

/// Whoever turned the light out of the eye turns it back in before anything is counted.
#[test]
fn light_that_is_lost_while_an_adjuster_is_turned_is_turned_back_to() {
    let mut walk = at_a_watched_turn(11);
    walk.read(1_500);
    walk.trial.scan = Some(skimgauge_shared::light::Fault::NoLight);
    walk.read(5_000);
    let heard = walk.trial.heard();
    assert!(heard.contains("Turn it back until light is seen"), "{heard}");
    assert!(!heard.contains("the turn is counted"), "{heard}");
}
