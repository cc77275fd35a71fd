//! A finger works proofs through, as a browser would tell of it.

use super::*;
use crate::proof::view::State;
use crate::word::{Speaker, Word};
use proptest::prelude::*;
use skimgauge_proof::finger::{Ailment, Display, Finger, Hand, Setting};
use skimgauge_proof::judge::CauseIs;
use skimgauge_proof::raw::{Contact, Kind, Window};
use skimgauge_quantity::Style;

const IMAGE: Image = Image::mm(2025.0, 1265.6);
/// The browser's clock is another one.
const CLOCK_MS: f64 = 1_700_000_000_000.0;

fn begin(gap: Gap) -> Begin {
    Begin {
        title: "practice wall".to_owned(),
        image: IMAGE,
        tool: Tool::Rod,
        limits: Limits::default(),
        gap,
        left_out: Vec::new(),
        leaves: Vec::new(),
        gaps: Vec::new(),
    }
}

/// A browser, and a finger on the display in front of it.
struct Browser {
    proving: Proving,
    finger: Finger,
    now_ms: f64,
    made: Option<Made>,
    nothing: Option<String>,
    says: Vec<String>,
}

impl Browser {
    fn open(begin: Begin, ailment: Ailment) -> Self {
        let allowed = begin.limits.of(begin.tool);
        let display = Display { reports_per_s: 60.0, ..Display::with(ailment, allowed) };
        let finger = Finger::new(display, Hand::with(begin.tool), 4);
        let mut browser = Self {
            proving: Proving::new(begin),
            finger,
            now_ms: 500.0,
            made: None,
            nothing: None,
            says: Vec::new(),
        };
        browser.window(1920.0, 1200.0);
        browser
    }

    fn now(&self) -> Duration {
        Duration::from_secs_f64(self.now_ms / 1000.0)
    }

    fn on(&mut self, input: Input) {
        for output in self.proving.on(self.now(), input) {
            match output {
                Output::Tell(says) => self.says.push(says.text(Style::default())),
                Output::Over(made) => self.made = Some(*made),
                Output::Nothing(why) => self.nothing = Some(why.text(Style::default())),
            }
        }
    }

    fn window(&mut self, width: f64, height: f64) {
        let told = format!(
            r#"{{"sent_ms":{},"window":{{"width":{width},"height":{height},"screen_width":1920,"screen_height":1200,"scale":1,"left":0,"top":0,"secure":true}}}}"#,
            CLOCK_MS + self.now_ms
        );
        self.on(Input::Told(serde_json::from_str(&told).unwrap()));
    }

    fn say(&mut self, word: Word) {
        self.on(Input::Said(Said::by(Speaker::Phone, word)));
    }

    fn ask(&self) -> Option<Ask> {
        self.proving.current().map(|asked| asked.ask.clone())
    }

    fn tell(&mut self, contacts: &[Contact]) {
        let mut events: Vec<Event> = Vec::new();
        for contact in contacts {
            let reports = contact.reports();
            for (n, report) in reports.iter().enumerate() {
                let phase = if n == 0 { Phase::Down } else { Phase::Move };
                let event = Event {
                    at_ms: CLOCK_MS + report.at_ms,
                    phase,
                    id: contact.id,
                    x: report.x,
                    y: report.y,
                    width: 12.0,
                    pressure: 0.5,
                    kind: contact.kind,
                };
                events.push(event);
                if n + 1 == reports.len() {
                    events.push(Event { phase: Phase::Up, pressure: 0.0, ..event });
                }
            }
        }
        let sent_ms = CLOCK_MS + self.now_ms;
        for events in events.chunks(500) {
            let events = events.to_vec();
            self.on(Input::Told(Told { sent_ms, window: None, events }));
        }
    }

    /// Does what is asked now.
    fn does(&mut self) {
        let Some(ask) = self.ask() else { return };
        let setting = Setting { image: IMAGE, inset: 0.05, window: Window::full(1920.0, 1200.0) };
        // The page's times count from when the browser's clock was first heard of.
        let from_ms = self.now_ms + if ask == Ask::HandsOff { STEP_BACK_MS + 50.0 } else { 50.0 };
        let answer = self.finger.answers(&ask, &setting, from_ms);
        self.now_ms = answer.to_ms;
        self.tell(&answer.contacts);
        if answer.came == Came::NoReaction {
            self.say(Word::Missed);
        }
        if matches!(ask, Ask::Dashes { .. }) && self.ask() == Some(ask.clone()) {
            // However long nothing comes: that fewer are seen than were drawn the person says.
            self.now_ms += 20_000.0;
            self.on(Input::Tick);
            if self.ask() == Some(ask.clone()) {
                self.say(Word::Ready);
            }
        }
        for _ in 0..60 {
            if self.ask() != Some(ask.clone()) || self.made.is_some() {
                break;
            }
            self.now_ms += 100.0;
            self.on(Input::Tick);
        }
    }

    fn played_out(mut self) -> Made {
        for _ in 0..400 {
            if let Some(made) = self.made {
                return made;
            }
            self.does();
        }
        panic!("it does not end: {:?} {:?}", self.ask(), self.says.last());
    }
}

#[test]
fn a_good_display_is_proved_and_judged_the_same_from_its_record() {
    let made = Browser::open(begin(Gap::Within), Ailment::Well).played_out();
    let because = made.judged.because.text(Style::default());
    assert_eq!(made.judged.verdict, Verdict::Within, "{because}");
    let text = serde_json::to_string(&made.proof).unwrap();
    assert!(text.len() < 400_000, "{} bytes", text.len());
    let read: Proof = serde_json::from_str(&text).unwrap();
    assert_eq!(judge(&read).unwrap(), made.judged);
}

#[test]
fn while_the_gap_is_not_within_a_proof_runs_and_is_not_within() {
    for gap in [Gap::NotWithin, Gap::OlderThanTurn, Gap::NotJudged] {
        let made = Browser::open(begin(gap), Ailment::Well).played_out();
        assert_eq!(made.judged.verdict, Verdict::Unsure, "{gap:?}");
        assert_eq!(made.judged.cause.unwrap().is, CauseIs::GapFirst);
    }
}

#[test]
fn what_ails_the_display_is_found_through_the_machine() {
    for (ailment, cause) in [
        (Ailment::Offset, CauseIs::Recalibrate),
        (Ailment::High, CauseIs::PlaneTooHigh),
        (Ailment::Bend, CauseIs::MarkBent),
    ] {
        let made = Browser::open(begin(Gap::Within), ailment).played_out();
        assert_eq!(made.judged.cause.map(|cause| cause.is), Some(cause), "{ailment:?}");
    }
}

#[test]
fn a_tap_that_was_not_seen_is_counted_and_made_again() {
    let mut browser = Browser::open(begin(Gap::Within), Ailment::Well);
    let first = browser.ask();
    browser.now_ms += 2000.0;
    browser.say(Word::Missed);
    assert_eq!(browser.ask(), first);
    let made = browser.played_out();
    assert_eq!((made.judged.seen.missed, made.judged.seen.asked), (1, 51));
    assert_eq!(made.judged.verdict, Verdict::Within, "one of 51 says fewer than 10 %");
}

#[test]
fn the_last_mark_can_be_taken_back() {
    let mut browser = Browser::open(begin(Gap::Within), Ailment::Well);
    let (first, _) = (browser.ask(), browser.does());
    let second = browser.ask();
    assert_ne!(first, second);
    browser.say(Word::Redo);
    assert_eq!(browser.ask(), first);
    browser.does();
    assert_eq!(browser.ask(), second);
    let made = browser.played_out();
    assert_eq!(made.judged.verdict, Verdict::Within);
    assert_eq!(made.proof.asked.iter().filter(|asked| asked.came == Came::Undone).count(), 2);
    assert_eq!(made.judged.marks.iter().map(|mark| mark.taps).sum::<usize>(), 39);
}

#[test]
fn a_mark_out_of_reach_is_left_out_for_good_and_said() {
    let mut browser = Browser::open(begin(Gap::Within), Ailment::Well);
    browser.say(Word::Skip);
    let made = browser.played_out();
    assert_eq!(made.proof.left_out, [0]);
    let told: Vec<String> = made.judged.told.iter().map(|t| t.text(Style::default())).collect();
    assert!(told.iter().any(|told| told.contains("top left was left out")), "{told:?}");
    assert!(made.proof.standing().all(|asked| asked.ask != Ask::Mark { mark: 0, round: 1 }));
    assert_eq!(made.judged.verdict, Verdict::Within);
}

#[test]
fn a_pause_counts_nothing_and_loses_nothing() {
    let mut browser = Browser::open(begin(Gap::Within), Ailment::Well);
    browser.does();
    browser.say(Word::Pause);
    assert_eq!(browser.proving.view(browser.now()).state, State::Paused);
    let contact = Contact {
        lifted: true,
        ..Contact::new(
            9000,
            Kind::Touch,
            skimgauge_proof::raw::Report { at_ms: browser.now_ms, x: 700.0, y: 500.0 },
        )
    };
    browser.tell(&[contact]);
    browser.now_ms += 60_000.0;
    browser.say(Word::Ready);
    let made = browser.played_out();
    assert_eq!(made.proof.paused.len(), 1);
    assert_eq!(made.judged.verdict, Verdict::Within);
}

#[test]
fn a_page_that_is_loaded_anew_goes_on_and_a_smaller_window_is_said() {
    let mut browser = Browser::open(begin(Gap::Within), Ailment::Well);
    browser.does();
    let before = browser.ask();
    browser.window(1920.0, 1200.0);
    assert_eq!(browser.ask(), before);
    browser.window(1000.0, 613.0);
    let view = browser.proving.view(browser.now());
    assert!(view.doubt.unwrap().text(Style::default()).contains("not full screen"));
    browser.does();
    browser.window(1920.0, 1200.0);
    let made = browser.played_out();
    assert_eq!(made.judged.verdict, Verdict::Unsure, "a mark was tapped in a small window");
}

#[test]
fn a_hold_that_is_lifted_too_soon_is_asked_again() {
    let mut browser = Browser::open(begin(Gap::Within), Ailment::Well);
    while !matches!(browser.ask(), Some(Ask::Hold { .. })) {
        browser.does();
    }
    let hold = browser.ask();
    let Some(Ask::Hold { mark }) = hold else { unreachable!() };
    let at = skimgauge_proof::marks::at(IMAGE, 0.05, mark).unwrap();
    let setting = Setting { image: IMAGE, inset: 0.05, window: Window::full(1920.0, 1200.0) };
    let mut contact = Contact::new(77, Kind::Touch, setting.report(at, browser.now_ms + 10.0));
    contact.report(setting.report(at, browser.now_ms + 700.0));
    browser.now_ms += 800.0;
    browser.tell(&[contact]);
    assert_eq!(browser.ask(), hold);
    assert!(browser.says.last().unwrap().contains("too soon"), "{:?}", browser.says);
    assert_eq!(browser.played_out().judged.verdict, Verdict::Within);
}

#[test]
fn without_a_page_there_is_nothing_to_judge() {
    let mut proving = Proving::new(begin(Gap::Within));
    assert_eq!(proving.view(Duration::ZERO).state, State::Waiting);
    let quit = Input::Said(Said::by(Speaker::Typed, Word::Quit));
    let out = proving.on(Duration::from_secs(1), quit);
    assert!(matches!(&out[..], [Output::Nothing(_)]), "{out:?}");
}

/// A page that was opened and never touched says nothing of touch.
#[test]
fn without_a_touch_there_is_nothing_to_judge() {
    let mut proving = Proving::new(begin(Gap::Within));
    let told = r#"{"sent_ms":5000,"window":{"width":1920,"height":1200,"screen_width":1920,"screen_height":1200,"scale":1,"left":0,"top":0,"secure":true}}"#;
    proving.on(Duration::from_secs(1), Input::Told(serde_json::from_str(told).unwrap()));
    let quit = Input::Said(Said::by(Speaker::Typed, Word::Quit));
    let out = proving.on(Duration::from_secs(9), quit);
    assert!(!proving.proof().windows.is_empty());
    let said = out.iter().any(|output| match output {
        Output::Nothing(why) => {
            why.text(Style::default()).contains("nothing that it asks for was done")
        }
        _ => false,
    });
    assert!(said, "{out:?}");
}

#[test]
fn dashes_that_take_their_time_are_not_taken_for_joined_ones() {
    let mut browser = Browser::open(begin(Gap::Within), Ailment::Offset);
    while !matches!(browser.ask(), Some(Ask::Dashes { .. })) {
        browser.does();
    }
    let asked = browser.ask();
    let setting = Setting { image: IMAGE, inset: 0.05, window: Window::full(1920.0, 1200.0) };
    let answer = browser.finger.answers(&asked.clone().unwrap(), &setting, browser.now_ms + 50.0);
    let (first, rest) = answer.contacts.split_at(2);
    browser.now_ms = answer.to_ms;
    browser.tell(first);
    browser.now_ms += 30_000.0;
    browser.on(Input::Tick);
    assert_eq!(browser.ask(), asked, "half a minute after the second of ten");
    browser.tell(rest);
    browser.now_ms += 2000.0;
    browser.on(Input::Tick);
    assert_ne!(browser.ask(), asked, "ten are there");
}

#[test]
fn whoever_has_enough_ends_with_what_there_is() {
    let mut browser = Browser::open(begin(Gap::Within), Ailment::Well);
    for _ in 0..20 {
        browser.does();
    }
    browser.say(Word::Quit);
    let made = browser.made.unwrap();
    assert_eq!(made.judged.verdict, Verdict::Unsure);
    assert_eq!(made.proof.asked.len(), 20);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn whatever_a_page_tells_nothing_panics(
        events in prop::collection::vec((-1e6f64..1e6, 0u8..4, 0i64..4, -1e5f64..1e5, -1e5f64..1e5, 0u8..3), 0..200),
        words in prop::collection::vec(0usize..6, 0..12),
    ) {
        let mut browser = Browser::open(begin(Gap::Within), Ailment::Well);
        let said = [Word::Missed, Word::Redo, Word::Skip, Word::Pause, Word::Ready, Word::Take];
        let mut words = words.into_iter();
        for chunk in events.chunks(20) {
            let events = chunk.iter().map(|&(t, phase, id, x, y, kind)| {
                let json = format!("[{},{phase},{id},{x},{y},1,0.5,{kind}]", CLOCK_MS + t);
                serde_json::from_str(&json).unwrap()
            });
            let told = Told { sent_ms: CLOCK_MS + browser.now_ms, window: None, events: events.collect() };
            browser.on(Input::Told(told));
            if let Some(word) = words.next() {
                browser.say(said[word]);
            }
            browser.now_ms += 500.0;
            let view = browser.proving.view(browser.now());
            prop_assert!(view.progress.0 <= view.progress.1);
        }
        browser.say(Word::Quit);
        // Where nothing that was asked was done, nothing is judged.
        let Some(made) = browser.made else {
            let nothing = browser.nothing.expect("what a page told can always be judged");
            prop_assert!(nothing.contains("nothing that it asks for was done"), "{}", nothing);
            return Ok(());
        };
        prop_assert_ne!(made.judged.verdict, Verdict::Within);
    }
}
