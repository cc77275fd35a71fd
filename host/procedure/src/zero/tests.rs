//! A zeroing on a clock that the test moves, at a head that answers as the protocol has it.

use super::{Begin, Block, Ended, Zero};
use crate::input::{Answer, Input};
use crate::output::{Entry, News, Output};
use crate::trial::{SERIAL, TODAY, head};
use crate::view::zero::ZeroView;
use crate::view::{Part, State};
use crate::word::{Said, Speaker, Word};
use crate::{Procedure, View};
use skimgauge_metrology::measure::Limits;
use skimgauge_metrology::zero::{Light, Session};
use skimgauge_quantity::{Style, say};
use skimgauge_session::{Event, Told, Trouble};
use skimgauge_shared::calibration::{Calibration, CalibrationState};
use skimgauge_shared::message::{Ask, CalibrationCheck, Codes, Press, Refusal, Report, Request};
use skimgauge_shared::reading::Sample;
use skimgauge_shared::units::Microseconds;
use std::time::Duration;

/// Where the distance sensor's range begins at a gap of nothing, codes.
const AT_NOTHING: f64 = 16_000.0;
/// Codes of the stand-off for a millimetre of block.
const PER_MM: f64 = 1_200.0;

struct Rig {
    zero: Zero,
    now: Duration,
    /// What is under the spot.
    block_mm: f64,
    level: i16,
    lean: i16,
    streams: bool,
    answers: bool,
    refuses: Option<Refusal>,
    /// The disk is full.
    full: bool,
    staged: Option<Calibration>,
    entries: Vec<Entry>,
    steps: Vec<String>,
    heard: String,
    over: bool,
}

fn begin(session: Session) -> Begin {
    Begin {
        head: head(),
        port: "port".to_owned(),
        limits: Limits::default(),
        today: TODAY,
        by: "A. Tester".to_owned(),
        going_on: !session.blocks.is_empty(),
        session,
        blocks: [1.0, 2.5, 4.0].map(|mm| Block { mm, u_mm: 0.003 }).to_vec(),
        rounds: 1,
        put_aside: "zero.json".to_owned(),
        record: "record.sqlite".to_owned(),
        check: None,
    }
}

/// Of a head without an eye.
fn fresh() -> Session {
    let light = Light { height_mm: 8.0, u_mm: 0.01, on_the_spot: false };
    Session {
        head: SERIAL.to_string(),
        light: Some(light),
        seat_u_mm: 0.05,
        sight_u_mm: 0.25,
        ..Session::default()
    }
}

impl Rig {
    fn new(begin: Begin) -> Self {
        let mut rig = Self {
            zero: Zero::new(begin),
            now: Duration::from_secs(1),
            block_mm: 1.0,
            level: 100,
            lean: -40,
            streams: false,
            answers: true,
            refuses: None,
            full: false,
            staged: None,
            entries: Vec::new(),
            steps: Vec::new(),
            heard: String::new(),
            over: false,
        };
        rig.on(Input::Tick);
        rig
    }

    fn on(&mut self, input: Input) {
        for output in self.zero.on(self.now, input) {
            match output {
                Output::Tell(News::Step(says)) => self.steps.push(says.text(Style::default())),
                Output::Tell(News::Message(message)) => {
                    self.heard += &message.says.text(Style::default());
                    self.heard.push('\n');
                }
                Output::Keep(entry) => {
                    self.entries.push(entry.clone());
                    let answer = if self.full {
                        Answer::NotKept { entry, why: say!("the disk is full") }
                    } else {
                        Answer::Kept { entry, event: None, place: None }
                    };
                    self.on(Input::Record(answer));
                }
                Output::Ask(request) if self.answers => self.asked(request),
                Output::End(trouble) => {
                    assert_eq!(trouble, None);
                    self.over = true;
                }
                _ => (),
            }
        }
    }

    fn asked(&mut self, request: Request) {
        let report = match (self.refuses, request) {
            (Some(why), _) => Report::Refused { ask: Ask::StreamCodes, why },
            (None, Request::StreamCodes { on }) => {
                self.streams = on;
                Report::Done(Ask::StreamCodes)
            }
            (None, Request::StageCalibration(constants)) => {
                let check = constants.check();
                self.staged = Some(constants);
                Report::Staged { check }
            }
            (None, Request::CommitCalibration { .. }) => Report::Calibration(CalibrationState {
                check: CalibrationCheck::Good,
                calibration: self.staged.clone().unwrap(),
            }),
            (None, other) => panic!("{other:?}"),
        };
        self.on(Input::Head(Told::Head(Event::Answer(report))));
    }

    /// Time passes; a hundred readings a second while they are asked for.
    fn pass(&mut self, ms: u32) {
        for count in 0..ms / 10 {
            self.now += Duration::from_millis(10);
            if self.streams {
                let jitter = [0.0, 2.0, -2.0, 1.0, -1.0][count as usize % 5];
                let code = ((AT_NOTHING - PER_MM * self.block_mm + jitter) * 16.0) as i32;
                let codes = Codes {
                    sequence: count as u8,
                    converter: Sample::Value([code, 0, 0]),
                    angles: Sample::Value([self.level, self.lean]),
                };
                self.on(Input::Head(Told::Head(Event::Codes(codes))));
            }
            if count % 10 == 9 {
                self.on(Input::Tick);
            }
        }
    }

    fn say(&mut self, word: Word) {
        self.on(Input::Said(Said::by(Speaker::Typed, word)));
    }

    /// The step is made.
    fn make(&mut self) {
        self.say(Word::Ready);
        self.pass(2_500);
    }

    fn view(&self) -> View {
        self.zero.view(self.now)
    }

    fn part(&self) -> ZeroView {
        let Part::Zero(part) = self.view().part else { panic!("no zeroing") };
        part
    }

    fn asks(&self) -> String {
        self.view().instruction.text(Style::default())
    }

    fn offers(&self, word: Word) -> bool {
        self.view().words.iter().any(|offer| offer.word == word)
    }

    /// All three blocks.
    fn blocks(&mut self) {
        for mm in [1.0, 2.5, 4.0] {
            self.block_mm = mm;
            self.make();
        }
    }
}

/// A user who does what the view asks and reads nothing else.
#[test]
fn a_head_is_zeroed_written_and_recorded() {
    let mut rig = Rig::new(begin(fresh()));
    assert!(rig.heard.starts_with(&format!("Head {SERIAL}, firmware")), "{}", rig.heard);
    let mut turned = false;
    while rig.view().state != State::Over {
        let asks = rig.asks();
        let block = asks.split(" mm block").next().and_then(|text| text.rsplit(' ').next());
        if let Some(mm) = block.and_then(|mm| mm.parse().ok()) {
            rig.block_mm = mm;
        } else if asks.contains("other face") && !turned {
            (rig.level, rig.lean, turned) = (-80, 60, true);
        }
        let word = rig.view().words[0].word;
        assert!(matches!(word, Word::Ready | Word::Yes), "{asks}: {word:?}");
        rig.say(word);
        rig.pass(2_500);
        assert!(rig.now < Duration::from_secs(60), "{asks}: {}", rig.heard);
    }
    assert_eq!(rig.zero.ended(), Some(&Ended::Written), "{}", rig.heard);
    assert!(rig.over && rig.heard.contains("read back the same"), "{}", rig.heard);
    let Some(Entry::Zeroed(zeroed)) = rig.entries.last() else { panic!("{:?}", rig.entries) };
    assert_eq!(Some(&zeroed.after), rig.staged.as_ref());
    assert_eq!((zeroed.after.by.as_str(), zeroed.after.date), ("A. Tester", TODAY));
    assert!(zeroed.reference.contains("1 mm (u 0.003 mm)"), "{}", zeroed.reference);
    // Each step was kept as soon as it was read.
    let kept = rig.entries.iter().filter(|entry| matches!(entry, Entry::Zeroing(_)));
    assert_eq!(kept.count(), 4);
    let Some(Entry::Zeroing(last)) = rig.entries.iter().rev().nth(1) else { panic!() };
    assert!(last.level.is_some() && last.level == last.lean);
}

#[test]
fn nothing_is_written_without_a_yes() {
    let mut rig = Rig::new(begin(fresh()));
    rig.blocks();
    rig.say(Word::Skip);
    rig.say(Word::Skip);
    assert_eq!((rig.view().state, rig.part().found.is_some()), (State::Asked, true));
    let asked = rig.steps.len();
    for word in [Word::Ready, Word::Take] {
        rig.say(word);
    }
    rig.on(Input::Head(Told::Head(Event::Button(Press::Short, Microseconds(0)))));
    assert_eq!((rig.steps.len(), rig.staged.is_none()), (asked + 3, true));
    rig.say(Word::No);
    assert_eq!(rig.zero.ended(), Some(&Ended::PutAside));
    assert!(rig.heard.contains("Put aside in zero.json. Nothing was written to the head."));
}

#[test]
fn it_is_taken_up_where_it_was_put_aside() {
    let mut rig = Rig::new(begin(fresh()));
    rig.make();
    rig.say(Word::Quit);
    let Some(Entry::Zeroing(session)) = rig.entries.pop() else { panic!() };
    let again = Rig::new(begin(*session));
    assert!(again.heard.contains("Going on with the zeroing put aside in zero.json (1 blocks"));
    assert!(again.asks().starts_with("Block 2 of 3: the 2.5 mm block"), "{}", again.asks());
}

#[test]
fn any_step_can_be_gone_to_and_made_again() {
    let mut rig = Rig::new(begin(fresh()));
    rig.blocks();
    assert!(rig.asks().starts_with("Level and lean"), "{}", rig.asks());
    let former = rig.zero.session.blocks.clone();
    rig.say(Word::Back);
    rig.say(Word::Back);
    assert!(rig.asks().starts_with("Block 2 of 3"), "{}", rig.asks());
    rig.block_mm = 2.6;
    rig.make();
    let now = &rig.zero.session.blocks;
    assert_eq!((now.len(), now[0], now[2]), (3, former[0], former[2]));
    assert!(now[1].still.stand_off != former[1].still.stand_off && now[1].block_mm == 2.5);
    // It goes on with what is still missing.
    assert!(rig.asks().starts_with("Level and lean"), "{}", rig.asks());
    rig.say(Word::Next);
    assert!(rig.asks().starts_with("Lean:") && !rig.offers(Word::Next), "{}", rig.asks());
    rig.say(Word::Skip);
    assert!(rig.asks().starts_with("Level and lean"), "what was passed by is asked for again");
}

#[test]
fn a_block_behind_the_next_cannot_be_gone_to() {
    let mut rig = Rig::new(begin(fresh()));
    rig.say(Word::Next);
    assert!(rig.asks().starts_with("Level and lean"), "{}", rig.asks());
    rig.say(Word::Back);
    assert!(rig.asks().starts_with("Block 1 of 3"), "{}", rig.asks());
}

#[test]
fn only_level_is_taken_of_a_head_that_was_turned_upside_down() {
    let mut rig = Rig::new(begin(fresh()));
    rig.say(Word::Next);
    assert!(!rig.offers(Word::Other));
    rig.make();
    assert!(rig.offers(Word::Other), "{}", rig.heard);
    rig.say(Word::Other);
    rig.pass(2_500);
    assert!(rig.zero.session.level.is_some() && rig.zero.session.lean.is_none());
}

#[test]
fn what_moves_is_not_read() {
    let mut rig = Rig::new(begin(fresh()));
    rig.say(Word::Ready);
    for _ in 0..25 {
        rig.block_mm += 0.05;
        rig.pass(100);
    }
    assert!(rig.heard.contains("moved meanwhile") && rig.entries.is_empty(), "{}", rig.heard);
    assert_eq!(rig.steps.len(), 2, "it is asked for again: {:?}", rig.steps);
}

#[test]
fn what_cannot_be_kept_does_not_count() {
    let mut rig = Rig::new(begin(fresh()));
    rig.full = true;
    rig.make();
    assert!(rig.heard.contains("NOT kept: what was read (the disk is full)"), "{}", rig.heard);
    assert!(rig.zero.session.blocks.is_empty() && rig.asks().starts_with("Block 1"));
    rig.full = false;
    rig.make();
    assert!(rig.asks().starts_with("Block 2"), "{}", rig.asks());
}

#[test]
fn a_head_that_refuses_falls_silent_or_goes_ends_it_in_a_sentence() {
    let ended = |rig: &Rig| match rig.zero.ended() {
        Some(Ended::Failed(why)) => why.text(Style::default()),
        other => panic!("{other:?}"),
    };
    let mut rig = Rig::new(begin(fresh()));
    rig.refuses = Some(Refusal::Busy);
    rig.make();
    assert_eq!(ended(&rig), "The head does not send raw codes: it is still busy.");
    let mut rig = Rig::new(begin(fresh()));
    rig.answers = false;
    rig.make();
    assert_eq!(rig.zero.ended(), None);
    rig.pass(2_000);
    assert!(ended(&rig).starts_with("The head on port does not answer."));
    let mut rig = Rig::new(begin(fresh()));
    rig.on(Input::Head(Told::Lost(Trouble::Unplugged { port: "port".to_owned() })));
    assert!(ended(&rig).starts_with("The head is gone; what was read so far is kept."));
}

#[test]
fn constants_that_are_being_written_are_written_whole() {
    let mut rig = Rig::new(begin(fresh()));
    rig.blocks();
    rig.say(Word::Skip);
    rig.say(Word::Skip);
    rig.answers = false;
    rig.say(Word::Yes);
    rig.say(Word::Quit);
    rig.on(Input::Ending);
    assert!(rig.zero.ended().is_none() && rig.view().saving.is_some());
    rig.answers = true;
    let constants = rig.part().found.unwrap().calibration.clone();
    let check = constants.check();
    rig.staged = Some(constants);
    rig.on(Input::Head(Told::Head(Event::Answer(Report::Staged { check }))));
    assert_eq!(rig.zero.ended(), Some(&Ended::Written), "{}", rig.heard);
    assert!(rig.view().saving.is_none());
}

#[test]
fn where_nobody_types_it_is_put_aside_and_a_check_comes_to_nothing() {
    let light = Light { height_mm: 8.0, u_mm: 0.01, on_the_spot: false };
    for check in [None, Some((Block { mm: 3.0, u_mm: 0.003 }, light))] {
        let mut rig = Rig::new(Begin { check, ..begin(fresh()) });
        rig.on(Input::Unattended);
        rig.pass(200);
        assert_eq!(rig.zero.ended(), Some(&Ended::PutAside));
        assert_eq!(rig.heard.contains("Put aside in"), check.is_none(), "{}", rig.heard);
    }
}

#[test]
fn a_check_that_gets_no_reading_asks_again() {
    let light = Light { height_mm: 8.0, u_mm: 0.01, on_the_spot: false };
    let check = Some((Block { mm: 3.0, u_mm: 0.003 }, light));
    let mut rig = Rig::new(Begin { check, ..begin(fresh()) });
    assert!(rig.asks().starts_with("Put the 3 mm block under"), "{}", rig.asks());
    rig.say(Word::Ready);
    rig.pass(10_200);
    assert!(rig.heard.contains("No reading came.") && rig.steps.len() == 2, "{}", rig.heard);
}

#[test]
fn a_head_with_an_eye_begins_in_the_dark_and_is_rolled() {
    let mut rig = Rig::new(begin(Session { eye: true, ..fresh() }));
    assert!(rig.asks().starts_with("Dark:"), "{}", rig.asks());
    rig.make();
    assert!(rig.asks().starts_with("Roll:"), "{}", rig.asks());
    rig.say(Word::Ready);
    rig.pass(25_200);
    assert!(rig.heard.contains("did not cross the light") && rig.steps.len() == 3);
}
