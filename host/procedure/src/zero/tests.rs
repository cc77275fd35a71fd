//! A zeroing on a clock that the test moves, at a head that answers as the protocol has it.

use super::{Begin, Ended, Zero};
use crate::input::{Answer, Input};
use crate::output::{Entry, News, Output};
use crate::trial::{SERIAL, TODAY, head};
use crate::view::zero::ZeroView;
use crate::view::{Part, State};
use crate::word::{Said, Speaker, Word};
use crate::{Procedure, View};
use skimgauge_metrology::measure::Limits;
use skimgauge_metrology::zero::{Gauge, Lamp, Session};
use skimgauge_quantity::{Style, say};
use skimgauge_session::{Arrived, Event, Told, Trouble};
use skimgauge_shared::calibration::{Calibration, CalibrationState};
use skimgauge_shared::light::LightState;
use skimgauge_shared::message::{
    Answer as HeadAnswer, Ask, CalibrationCheck, Codes, Press, Refusal, Request,
};
use skimgauge_shared::pixels::PIXELS;
use skimgauge_shared::reading::{Absence, Reading, Sample, TiltSteps};
use skimgauge_shared::sequence::{Placed, Position};
use skimgauge_shared::units::{Micrometres, Microseconds};
use std::time::Duration;

/// The stand-off's code on the board: 33 mm by the nominal curve.
const HOME: f64 = 11_994.0;
/// Codes of the stand-off a millimetre.
const PER_MM: f64 = 585.07;
const SLITS_MM: [f64; 2] = [3.0, 9.0];

/// What is before the eye.
#[derive(Clone, Copy, PartialEq)]
enum Before {
    Gauge,
    /// The gauge, its lamp off.
    Unlit,
    Cover,
    Card,
}

struct Rig {
    zero: Zero,
    now: Duration,
    /// Leaves under the feet.
    lifted_mm: f64,
    before: Before,
    level: i16,
    streams: bool,
    answers: bool,
    refuses: Option<Refusal>,
    /// The head wants its button pressed before it writes.
    wants_press: bool,
    /// The disk is full.
    full: bool,
    staged: Option<Calibration>,
    asked_unattended: bool,
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
        going_on: !session.stands.is_empty(),
        session,
        seats: 2,
        lifts: 1,
        put_aside: "zero.json".to_owned(),
        record: "record.sqlite".to_owned(),
        check: false,
        nobody_at_head: false,
    }
}

fn fresh() -> Session {
    let gauge = Gauge { heights_mm: SLITS_MM.to_vec(), u_mm: 0.006, lamp: Lamp::Own };
    Session { head: SERIAL.to_string(), gauge: Some(gauge), seat_u_mm: 0.012, ..Session::default() }
}

impl Rig {
    fn new(begin: Begin) -> Self {
        let mut rig = Self {
            zero: Zero::new(begin),
            now: Duration::from_secs(1),
            lifted_mm: 0.0,
            before: Before::Gauge,
            level: 100,
            streams: false,
            answers: true,
            refuses: None,
            wants_press: false,
            full: false,
            staged: None,
            asked_unattended: false,
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

    fn answer(&mut self, ask: Ask, answer: HeadAnswer) {
        self.on(Input::Head(Told::Head(Event::Answer(ask, answer))));
    }

    fn asked(&mut self, request: Request) {
        let ask = request.ask();
        let answer = match (self.refuses, request) {
            (_, Request::ProfileWanted) => {
                let scan = Box::new(self.scan());
                self.on(Input::Head(Told::Head(Event::Profile { sequence: 0, scan })));
                return;
            }
            (Some(why), _) => HeadAnswer::Refused(why),
            (None, Request::StreamCodes { on }) => {
                self.streams = on;
                HeadAnswer::Done
            }
            (None, Request::StagePixels { bytes, .. }) => {
                let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);
                HeadAnswer::Staged { check: crc.checksum(&bytes) }
            }
            (None, Request::StageCalibration(constants)) => {
                let check = constants.check();
                self.staged = Some(constants);
                HeadAnswer::Staged { check }
            }
            (None, Request::CommitCalibration { .. }) if self.wants_press => {
                HeadAnswer::PressWanted { seconds: 10 }
            }
            (None, Request::Unattended) => {
                self.asked_unattended = true;
                return self.pressed();
            }
            (None, Request::CommitCalibration { .. }) => return self.pressed(),
            (None, other) => panic!("{other:?}"),
        };
        self.answer(ask, answer);
    }

    /// The head's button: what waits for it is written.
    fn pressed(&mut self) {
        let calibration = self.staged.clone().unwrap();
        let state = CalibrationState { check: CalibrationCheck::Good, calibration };
        self.answer(Ask::CommitCalibration, HeadAnswer::Calibration(state));
    }

    /// Two slits of 0.3 mm, the dark, or even light.
    fn scan(&self) -> [u16; PIXELS] {
        std::array::from_fn(|at| {
            let place = 0.4 + self.lifted_mm + at as f64 * 0.0635;
            let slit = |mm: f64| ((0.2 - (place - mm).abs()) / 0.1).clamp(0.0, 1.0);
            let light = match self.before {
                Before::Gauge => SLITS_MM.iter().map(|mm| 1_500.0 * slit(*mm)).sum(),
                Before::Unlit | Before::Cover => 0.0,
                Before::Card => 1_500.0,
            };
            // By chance (splitmix64's last step), 3 % either way.
            let z = (at as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            let z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            let unequal = ((z >> 40) % 1_000) as f64 / 16_667.0 - 0.03;
            let jitter = ((self.now.as_millis() as usize / 10 + at) % 3) as f64;
            (60.0 + light * (1.0 + unequal) + jitter) as u16
        })
    }

    /// Time passes; a hundred readings a second.
    fn pass(&mut self, ms: u32) {
        for count in 0..ms / 10 {
            self.now += Duration::from_millis(10);
            let jitter = [0.0, 2.0, -2.0, 1.0, -1.0][count as usize % 5];
            let tilt = Sample::Value(TiltSteps { level: self.level, lean: -40 });
            let reading = Reading {
                sequence: count as u8,
                at_low_us: 0,
                stand_off: Sample::Value(Micrometres(33_000)),
                middle: Sample::Absent(Absence::NoMiddle),
                tilt,
                state: LightState::UNKNOWN,
            };
            let position =
                Position { number: count, at: Microseconds(self.now.as_micros() as u64) };
            let placed = Placed { position, lost: 0 };
            let arrived = Arrived { reading, placed, arrival: self.now };
            self.on(Input::Head(Told::Head(Event::Reading(arrived))));
            if self.streams {
                let code = ((HOME + PER_MM * self.lifted_mm + jitter) * 16.0) as i32;
                let codes = Codes { sequence: count as u8, stand_off: Sample::Value(code) };
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
        self.pass(6_000);
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

    /// Hands that do what is asked.
    fn hands(&mut self) {
        let asks = self.asks();
        let begins = |with: &str| asks.starts_with(with);
        self.lifted_mm = if begins("Lifted") { 0.8 } else { 0.0 };
        self.level = if begins("Level: now") { -80 } else { 100 };
        self.before = if begins("Dark") {
            Before::Cover
        } else if begins("Even") {
            Before::Card
        } else {
            Before::Gauge
        };
    }

    /// All stands before the gauge.
    fn stands(&mut self) {
        for _ in 0..3 {
            self.hands();
            self.make();
        }
    }

    fn leave_out(&mut self, steps: usize) {
        for _ in 0..steps {
            self.say(Word::Skip);
        }
    }
}

/// A user who does what the view asks and reads nothing else.
#[test]
fn a_head_is_zeroed_written_and_recorded() {
    let mut rig = Rig::new(begin(fresh()));
    rig.wants_press = true;
    assert!(rig.heard.starts_with(&format!("Head {SERIAL}, firmware")), "{}", rig.heard);
    while rig.view().state != State::Over {
        rig.hands();
        let asks = rig.asks();
        if rig.heard.ends_with("Press the head's button within 10 s: then it is written.\n") {
            rig.pressed();
            continue;
        }
        let word = rig.view().words[0].word;
        assert!(matches!(word, Word::Ready | Word::Yes), "{asks}: {word:?}");
        rig.say(word);
        rig.pass(6_000);
        assert!(rig.now < Duration::from_secs(90), "{asks}: {}", rig.heard);
    }
    assert_eq!(rig.zero.ended(), Some(&Ended::Written), "{}", rig.heard);
    assert!(rig.over && rig.heard.contains("read back the same"), "{}", rig.heard);
    assert!(!rig.asked_unattended);
    let Some(Entry::Zeroed(zeroed)) = rig.entries.last() else { panic!("{:?}", rig.entries) };
    assert_eq!(Some(&zeroed.after), rig.staged.as_ref());
    assert_eq!((zeroed.after.by.as_str(), zeroed.after.date), ("A. Tester", TODAY));
    assert!(zeroed.reference.contains("3 mm and 9 mm (u 0.006 mm)"), "{}", zeroed.reference);
    // What is found again: a nominal curve at 33 mm, the first pixel 0.4 mm over the board.
    assert!((zeroed.after.zero.mm() + 32.6).abs() < 0.01, "{:?}", zeroed.after);
    assert!(zeroed.after.pixels != 0 && zeroed.after.tilt_offset.level.0 > 0);
    // Each step was kept as soon as it was read: three stands, level, dark, even light.
    let kept = rig.entries.iter().filter(|entry| matches!(entry, Entry::Zeroing(_)));
    assert_eq!(kept.count(), 6);
}

#[test]
fn nothing_is_written_without_a_yes() {
    let mut rig = Rig::new(begin(fresh()));
    rig.stands();
    rig.leave_out(3);
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

/// Nobody presses: nothing is lost, and it can be said again.
#[test]
fn what_was_not_pressed_is_asked_again_and_a_head_alone_needs_no_press() {
    let mut rig = Rig::new(begin(fresh()));
    rig.wants_press = true;
    rig.stands();
    rig.leave_out(3);
    rig.say(Word::Yes);
    assert!(rig.heard.contains("Press the head's button within 10 s"), "{}", rig.heard);
    rig.answer(Ask::CommitCalibration, HeadAnswer::Refused(Refusal::NotPressed));
    assert!(rig.heard.contains("its button was not pressed"), "{}", rig.heard);
    assert_eq!((rig.view().state, rig.zero.ended()), (State::Asked, None));
    rig.zero.begin.nobody_at_head = true;
    rig.say(Word::Yes);
    assert_eq!(rig.zero.ended(), Some(&Ended::Written), "{}", rig.heard);
    assert!(rig.asked_unattended);
}

#[test]
fn it_is_taken_up_where_it_was_put_aside() {
    let mut rig = Rig::new(begin(fresh()));
    rig.make();
    rig.say(Word::Quit);
    let Some(Entry::Zeroing(session)) = rig.entries.pop() else { panic!("{}", rig.heard) };
    let again = Rig::new(begin(*session));
    assert!(again.heard.contains("Going on with the zeroing put aside in zero.json (1 stands"));
    assert!(again.asks().starts_with("On the board, 2 of 2"), "{}", again.asks());
}

#[test]
fn any_step_can_be_gone_to_and_made_again() {
    let mut rig = Rig::new(begin(fresh()));
    rig.stands();
    assert!(rig.asks().starts_with("Level"), "{}", rig.asks());
    let former = rig.zero.session.stands.clone();
    rig.say(Word::Back);
    rig.say(Word::Back);
    assert!(rig.asks().starts_with("On the board, 2 of 2"), "{}", rig.asks());
    rig.lifted_mm = 0.02;
    rig.make();
    let now = &rig.zero.session.stands;
    assert_eq!((now.len(), &now[0], &now[2]), (3, &former[0], &former[2]));
    assert!(now[1].still.stand_off != former[1].still.stand_off && !now[1].lifted);
    // It goes on with what is still missing.
    assert!(rig.asks().starts_with("Level"), "{}", rig.asks());
    rig.say(Word::Next);
    rig.say(Word::Next);
    assert!(rig.asks().starts_with("Even") && !rig.offers(Word::Next), "{}", rig.asks());
    rig.say(Word::Skip);
    assert!(rig.asks().starts_with("Level"), "what was passed by is asked for again");
}

#[test]
fn any_step_can_be_taken_back() {
    let mut rig = Rig::new(begin(fresh()));
    assert!(!rig.offers(Word::Clear));
    rig.stands();
    rig.make();
    assert!(rig.asks().starts_with("Level: now"), "{}", rig.asks());
    // The first position of a reversal.
    rig.say(Word::Clear);
    assert!(rig.asks().starts_with("Level: the head"), "{}", rig.asks());
    // The step read last: the lifted stand.
    rig.say(Word::Clear);
    assert!(rig.heard.contains("Taken back: lifted 1 of 1."), "{}", rig.heard);
    assert_eq!(rig.zero.session.stands.len(), 2);
    assert!(rig.asks().starts_with("Lifted"), "{}", rig.asks());
    let Some(Entry::Zeroing(kept)) = rig.entries.last() else { panic!() };
    assert_eq!(kept.stands.len(), 2);
    rig.say(Word::Clear);
    rig.say(Word::Clear);
    assert!(rig.zero.session.stands.is_empty() && !rig.offers(Word::Clear));
    assert!(rig.asks().starts_with("On the board: wipe"), "{}", rig.asks());
    // From the question it is the last step too, and the constants are found anew.
    rig.stands();
    rig.leave_out(3);
    assert_eq!(rig.view().state, State::Asked);
    rig.say(Word::Clear);
    assert!(rig.part().found.is_none() && rig.asks().starts_with("Lifted"), "{}", rig.asks());
}

#[test]
fn what_moves_is_not_read() {
    let mut rig = Rig::new(begin(fresh()));
    rig.say(Word::Ready);
    for _ in 0..60 {
        rig.lifted_mm += 0.05;
        rig.pass(100);
    }
    assert!(rig.heard.contains("moved meanwhile") && rig.entries.is_empty(), "{}", rig.heard);
    assert_eq!(rig.steps.len(), 2, "it is asked for again: {:?}", rig.steps);
}

/// What stands before the eye is held against what was said of the gauge at once, and asked for again.
#[test]
fn light_that_is_not_the_gauges_is_not_read() {
    let mut rig = Rig::new(begin(fresh()));
    rig.before = Before::Unlit;
    rig.make();
    assert!(rig.heard.contains("no line of light") && rig.entries.is_empty(), "{}", rig.heard);
    assert_eq!(rig.part().eye.unwrap().text(Style::default()), "no line of light");
    let mut session = fresh();
    session.gauge.as_mut().unwrap().heights_mm = vec![3.0, 9.5];
    let mut rig = Rig::new(begin(session));
    rig.make();
    assert!(rig.heard.contains("6.00 mm apart") && rig.heard.contains("--light"), "{}", rig.heard);
    assert!(rig.part().eye.unwrap().text(Style::default()).starts_with("two lines"));
    // Not lifted where it should be.
    let mut rig = Rig::new(begin(fresh()));
    rig.make();
    rig.make();
    rig.make();
    assert!(rig.heard.contains("that is not lifted"), "{}", rig.heard);
    assert_eq!(rig.zero.session.stands.len(), 2);
    // The dark and the even light are held against each other.
    rig.leave_out(2);
    rig.before = Before::Cover;
    rig.make();
    rig.make();
    assert!(rig.heard.contains("In even light the pixels read"), "{}", rig.heard);
    assert!(rig.zero.session.even.is_none() && rig.asks().starts_with("Even"));
}

#[test]
fn what_cannot_be_kept_does_not_count() {
    let mut rig = Rig::new(begin(fresh()));
    rig.full = true;
    rig.make();
    assert!(rig.heard.contains("NOT kept: what was read (the disk is full)"), "{}", rig.heard);
    assert!(rig.zero.session.stands.is_empty() && rig.asks().starts_with("On the board: wipe"));
    rig.full = false;
    rig.make();
    assert!(rig.asks().starts_with("On the board, 2"), "{}", rig.asks());
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
    rig.say(Word::Ready);
    rig.pass(2_000);
    assert_eq!(rig.zero.ended(), None);
    rig.pass(4_000);
    assert!(ended(&rig).starts_with("The head on port does not answer."));
    let mut rig = Rig::new(begin(fresh()));
    rig.on(Input::Head(Told::Lost(Trouble::Unplugged { port: "port".to_owned() })));
    assert!(ended(&rig).starts_with("The head is gone; what was read so far is kept."));
}

#[test]
fn constants_that_are_being_written_are_written_whole() {
    let mut rig = Rig::new(begin(fresh()));
    rig.stands();
    rig.leave_out(3);
    rig.answers = false;
    rig.say(Word::Yes);
    rig.say(Word::Quit);
    rig.on(Input::Ending);
    assert!(rig.zero.ended().is_none() && rig.view().saving.is_some());
    rig.answers = true;
    let constants = rig.part().found.unwrap().calibration.clone();
    let check = constants.check();
    rig.staged = Some(constants);
    rig.answer(Ask::StageCalibration, HeadAnswer::Staged { check });
    assert_eq!(rig.zero.ended(), Some(&Ended::Written), "{}", rig.heard);
    assert!(rig.view().saving.is_none());
}

/// An answer lost on its way: the request is asked once more, which writes nothing twice.
#[test]
fn a_lost_answer_is_asked_for_again() {
    let mut rig = Rig::new(begin(fresh()));
    rig.stands();
    rig.leave_out(3);
    rig.answers = false;
    rig.say(Word::Yes);
    rig.pass(2_000);
    rig.answers = true;
    rig.pass(2_000);
    assert_eq!(rig.zero.ended(), Some(&Ended::Written), "{}", rig.heard);
}

#[test]
fn where_nobody_types_it_is_put_aside_and_a_check_comes_to_nothing() {
    for check in [false, true] {
        let mut rig = Rig::new(Begin { check, ..begin(fresh()) });
        rig.on(Input::Unattended);
        rig.pass(200);
        assert_eq!(rig.zero.ended(), Some(&Ended::PutAside));
        assert_eq!(rig.heard.contains("Put aside in"), !check, "{}", rig.heard);
    }
}

#[test]
fn a_check_takes_seconds_and_says_whether_the_zero_holds() {
    use skimgauge_metrology::zero::Checked;
    let check = |off_um: i32, before: Before| {
        let mut begin = Begin { check: true, ..begin(fresh()) };
        let constants = &mut begin.head.calibration.calibration;
        *constants = Calibration::nominal(SERIAL);
        (constants.zero, constants.zero_u) = (Micrometres(-32_600 + off_um), Micrometres(20));
        let mut rig = Rig::new(begin);
        rig.before = before;
        let began = rig.now;
        rig.say(Word::Ready);
        while rig.zero.ended().is_none() && rig.now < began + Duration::from_secs(10) {
            rig.pass(100);
        }
        rig
    };
    for (off_um, wanted) in
        [(0, Checked::StillGood), (-60, Checked::CannotTell), (200, Checked::NotGood)]
    {
        let rig = check(off_um, Before::Gauge);
        assert_eq!(rig.zero.ended(), Some(&Ended::Checked(wanted)), "{off_um}: {}", rig.heard);
    }
    let rig = check(0, Before::Unlit);
    assert!(rig.zero.ended().is_none() && rig.heard.contains("no line of light"), "{}", rig.heard);
    assert_eq!(rig.steps.len(), 2, "{:?}", rig.steps);
}

/// Without a gauge there is level, and the pixels; what is missing is said.
#[test]
fn without_a_gauge_there_is_level_and_the_pixels() {
    let mut rig = Rig::new(begin(Session { gauge: None, ..fresh() }));
    assert!(rig.heard.contains("Without the gauge") && rig.heard.contains("--light 3.002,9.004"));
    assert!(rig.asks().starts_with("Level"), "{}", rig.asks());
    rig.make();
    rig.level = -80;
    rig.make();
    rig.leave_out(2);
    assert_eq!(rig.view().state, State::Asked, "{}", rig.heard);
    rig.say(Word::Yes);
    assert_eq!(rig.zero.ended(), Some(&Ended::Written), "{}", rig.heard);
}
