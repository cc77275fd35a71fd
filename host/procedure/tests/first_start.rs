//! A head's first start, walked through on the bench: a head without a fault is as it should be, and
//! each fault of its wiring is named with its part and its wire. All on the bench's own clock.

use skimgauge_bench::bench::Bench;
use skimgauge_bench::virtual_head::VirtualHead;
use skimgauge_bench::{Fault, Wiring, first_start, zeroed};
use skimgauge_procedure::birth::{Begin, Birth, Certificate, Check, Found, Step};
use skimgauge_procedure::view::{Part, State};
use skimgauge_procedure::{Input, Output, Procedure, Said, Speaker, View, Word};
use skimgauge_session::{Session, Told};
use skimgauge_shared::calibration::Date;
use std::time::Duration;

const STEP_US: u64 = 2_000;
const TICK_US: u64 = 100_000;
const TODAY: Date = Date { year: 2026, month: 6, day: 1 };

/// A head on a bench, and somebody who does what the view asks for.
struct Bed {
    bench: Bench,
    head: VirtualHead,
    session: Session,
    walk: Birth,
    ticked_us: u64,
    set_up: Option<usize>,
    over: bool,
    lamp: [bool; 2],
    buzzer: bool,
}

impl Bed {
    fn new(wrong: impl FnOnce(&Bench), left_out: Vec<(Step, String)>) -> Self {
        let bench = Bench::new(71);
        let mut head = VirtualHead::new(bench.clone());
        assert!(zeroed::write(&mut head, &zeroed::of(&bench, TODAY, "tests")));
        bench.scene(|scene| scene.head.warm_up_s = 1.0);
        wrong(&bench);
        // Power comes with the fault there already.
        let head = VirtualHead::new(bench.clone());
        let begin = Begin { port: "port".to_owned(), today: TODAY, left_out };
        Self {
            session: Session::new(None, Duration::from_micros(bench.now_us())),
            walk: Birth::new(begin),
            ticked_us: bench.now_us(),
            bench,
            head,
            set_up: None,
            over: false,
            lamp: [false; 2],
            buzzer: false,
        }
    }

    fn now(&self) -> Duration {
        Duration::from_micros(self.bench.now_us())
    }

    fn on(&mut self, input: Input) {
        for output in self.walk.on(self.now(), input) {
            match output {
                Output::Ask(request) => drop(self.session.ask(&request)),
                Output::End(trouble) => {
                    assert_eq!(trouble, None);
                    self.over = true;
                }
                _ => (),
            }
        }
    }

    fn step(&mut self) {
        let asked = self.session.take_out();
        let mut sent = Vec::new();
        self.head.run_until(self.bench.now_us() + STEP_US, &asked, &mut |bytes| {
            sent.extend_from_slice(bytes);
        });
        let (now, mut told) = (self.now(), Vec::new());
        self.session.poll(now, &sent, &mut |event| told.push(event));
        for event in told {
            self.on(Input::Head(Told::Head(event)));
        }
        self.lamp[usize::from(self.bench.lamp_is_on())] = true;
        self.buzzer |= self.bench.buzzer_hz().is_some();
        if self.bench.now_us() >= self.ticked_us + TICK_US {
            self.ticked_us = self.bench.now_us();
            self.on(Input::Tick);
        }
    }

    fn wait(&mut self, us: u64) {
        let until_us = self.bench.now_us() + us;
        while self.bench.now_us() < until_us {
            self.step();
        }
    }

    fn say(&mut self, word: Word) {
        self.on(Input::Said(Said::by(Speaker::Typed, word)));
    }

    fn view(&self) -> View {
        self.walk.view(self.now())
    }

    fn key(&self) -> Option<(usize, &'static str)> {
        let Part::Birth(part) = self.view().part else { panic!("no walk") };
        part.now.map(|now| (now, part.steps[now].key))
    }

    /// What the view asks for is done, as a person does it, once a step.
    fn does(&mut self) {
        let Some((at, key)) = self.key() else { return };
        let waits = matches!(self.view().state, State::Ready | State::Asked);
        if !waits || self.set_up == Some(at) {
            return;
        }
        self.set_up = Some(at);
        first_start::set_up(&self.bench, key);
        self.wait(1_000_000);
        match key {
            // Both hands hold it: no word is said.
            "left" | "back" => (),
            "button" => {
                self.bench.press_button(true);
                self.wait(150_000);
                self.bench.press_button(false);
                self.wait(300_000);
                // Nothing came of it.
                if self.key().is_some_and(|(_, key)| key == "button") {
                    self.say(Word::Ready);
                }
            }
            "lamp" | "buzzer" => {
                (self.lamp, self.buzzer) = ([false; 2], false);
                self.wait(1_500_000);
                let yes = if key == "lamp" { self.lamp == [true; 2] } else { self.buzzer };
                self.say(if yes { Word::Yes } else { Word::No });
            }
            _ => self.say(Word::Ready),
        }
    }

    fn walked(mut self) -> Certificate {
        let until_us = self.bench.now_us() + 120_000_000;
        while !self.over {
            self.step();
            self.does();
            assert!(self.bench.now_us() < until_us, "not over: {:?}", self.view().instruction);
        }
        assert!(self.walk.is_over());
        self.walk.certificate()
    }
}

fn walked(wrong: impl FnOnce(&Bench)) -> Certificate {
    Bed::new(wrong, Vec::new()).walked()
}

fn at_fault(certificate: &Certificate) -> Vec<&Check> {
    certificate.checks.iter().filter(|check| check.verdict == Found::Fault).collect()
}

#[test]
fn a_head_without_a_fault_is_as_it_should_be() {
    let certificate = walked(|_| ());
    assert_eq!(certificate.verdict, Found::AsItShouldBe, "{:#?}", certificate.checks);
    for step in Step::ALL {
        for name in step.checks() {
            assert!(certificate.check(name).is_some(), "{name}");
        }
    }
    assert_eq!(certificate.number.as_ref().map(String::len), Some(32));
    let zero = certificate.zero.expect("it was zeroed");
    assert_eq!((zero.date.as_str(), zero.by.as_str()), ("2026-06-01", "tests"));
    assert!((zero.zero_mm + 32.6).abs() < 1.0 && zero.u_mm > 0.0, "{zero:?}");
}

/// Each fault of the wiring: the check that finds it, and what of the wiring is named with it.
#[test]
fn each_fault_of_the_wiring_is_named_with_its_part_and_its_wire() {
    for (wiring, check, named) in [
        (Wiring::TiltSwapped, "level's sign", "U3"),
        (Wiring::TiltXReversed, "level's sign", "U3"),
        (Wiring::TiltYReversed, "lean's sign", "U3"),
        (Wiring::TiltLying, "tilt at rest", "U3"),
        (Wiring::PixelClock, "eye", "pixel_clock (GPIO 8, board pin 11)"),
        (Wiring::PixelsUpsideDown, "which end is up", "U6"),
        (Wiring::PixelsAtStop, "dark", "R23"),
        (Wiring::SupplyDivider, "supply", "TP9 to TP3: half of TP1, 1 %"),
        (Wiring::StandOffDivider, "stand-off", "R15, R16"),
        (Wiring::ButtonStuck, "button", "button (GPIO 14, board pin 19)"),
        (Wiring::ButtonOpen, "button", "SW1"),
        (Wiring::LampDark, "lamp", "lamp (GPIO 13, board pin 17)"),
        (Wiring::BuzzerSilent, "buzzer", "buzzer (GPIO 12, board pin 16)"),
    ] {
        let certificate = walked(|bench| bench.set_wiring(wiring, true));
        let faults = at_fault(&certificate);
        let found = faults.iter().find(|fault| fault.check == check);
        let found = found.unwrap_or_else(|| panic!("{wiring}: {faults:#?}"));
        let look = found.wire.map(|wire| wire.look()).unwrap_or_default();
        assert!(look.contains(named), "{wiring}: {look}");
        // A quarter turn shows in both signs; every other fault in its own check alone.
        let most = if wiring == Wiring::TiltSwapped { 2 } else { 1 };
        assert!(faults.len() <= most, "{wiring}: {faults:#?}");
    }
}

#[test]
fn each_fault_of_a_part_is_named_with_its_part_and_its_wire() {
    for (fault, check, named) in [
        (Fault::ConverterSilent, "converter", "ready (GPIO 6, board pin 9)"),
        (Fault::ConverterFrozen, "converter", "U2"),
        (Fault::BusStuck, "converter", "TP10 to TP3: 3.1 V or more, moving"),
        (Fault::MemorySilent, "memory", "sda (GPIO 4, board pin 6)"),
        (Fault::InclinometerSilent, "inclinometer", "tilt_miso (GPIO 16, board pin 21)"),
        (Fault::InclinometerFrames, "inclinometer", "tilt_clock (GPIO 18, board pin 24)"),
        (Fault::InclinometerSelfTest, "inclinometer", "U3"),
        (Fault::InclinometerStatusTwo, "inclinometer", "U3"),
        (Fault::PixelsUnplugged, "eye", "J3"),
        (Fault::PixelsFrozen, "eye", "pixel_start (GPIO 7, board pin 10)"),
        (Fault::PixelsDead, "pixels", "U6"),
        (Fault::SpotLost, "stand-off", "TP12 to TP3"),
        (Fault::StandoffTooNear, "stand-off", "TP5 to TP3"),
        (Fault::StandoffFrozen, "stand-off moves", "TP6 to TP3"),
        (Fault::GlossyPatch, "stand-off's noise", "C13"),
        (Fault::SupplyLow, "supply", "F1"),
        (Fault::CalibrationDamaged, "zero", "U4"),
        (Fault::CalibrationOfOtherHead, "zero", "U4"),
    ] {
        let certificate = walked(|bench| bench.set_fault(fault, true));
        let faults = at_fault(&certificate);
        let found = faults.iter().find(|fault| fault.check == check);
        let found = found.unwrap_or_else(|| panic!("{fault}: {:#?}", certificate.checks));
        let look = found.wire.map(|wire| wire.look()).unwrap_or_default();
        assert!(look.contains(named), "{fault}: {look}");
    }
}

#[test]
fn what_is_left_out_is_not_seen_and_why_is_kept() {
    let left_out = vec![(Step::Light, "no halogen lamp".to_owned())];
    let certificate = Bed::new(|_| (), left_out).walked();
    assert_eq!(certificate.verdict, Found::NotSeen);
    let not_seen: Vec<&str> = certificate
        .checks
        .iter()
        .filter(|check| check.verdict == Found::NotSeen)
        .map(|check| check.check)
        .collect();
    // The card before the slit needs the lamp behind it.
    assert_eq!(not_seen, ["light", "pixels", "which end is up"]);
    let says = certificate.check("light").unwrap().says.text(skimgauge_quantity::Style::default());
    assert_eq!(says, "left out: no halogen lamp");
}

#[test]
fn a_head_that_was_never_zeroed_is_not_all_seen() {
    let certificate = walked(|bench| bench.set_fault(Fault::CalibrationMissing, true));
    assert_eq!(certificate.verdict, Found::NotSeen, "{:#?}", certificate.checks);
    assert_eq!(certificate.zero, None);
}
