//! Within which time what goes wrong shows: a head on the bench, its bytes through the conversation
//! into a watch, all on the bench's own clock, so that no machine is too slow for it.

use skimgauge_bench::Fault;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::virtual_head::VirtualHead;
use skimgauge_bench::zeroed;
use skimgauge_jobfile::Job;
use skimgauge_procedure::takes::{Begin, Takes, unsurveyed};
use skimgauge_procedure::{Input, Procedure, View};
use skimgauge_session::{Session, Told, Trouble};
use skimgauge_shared::calibration::Date;
use std::time::Duration;

const STEP_US: u64 = 2_000;
const TODAY: Date = Date { year: 2026, month: 6, day: 1 };
/// What a part does shows at once; what the light and the board do needs a moment to be told from a
/// hand.
const AT_ONCE_US: u64 = 300_000;
const IN_A_MOMENT_US: u64 = 1_500_000;

struct Bed {
    bench: Bench,
    head: VirtualHead,
    session: Session,
    takes: Takes,
    stalled: bool,
}

impl Bed {
    fn new(seed: u64) -> Self {
        let bench = Bench::new(seed);
        let mut head = VirtualHead::new(bench.clone());
        let constants = zeroed::of(&bench, TODAY, "tests");
        assert!(zeroed::write(&mut head, &constants));
        bench.scene(|scene| {
            scene.head.warm_up_s = 1.0;
            scene.clip(-950.0, 0.0);
            scene.turn_eye_to_emitter(0.0);
        });
        let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
        let board = unsurveyed(&job);
        let mut bed = Self {
            session: Session::new(None, Duration::from_micros(bench.now_us())),
            takes: Takes::new(Begin::new(job, board, TODAY, "port")),
            bench,
            head,
            stalled: false,
        };
        bed.settle();
        bed
    }

    fn now(&self) -> Duration {
        Duration::from_micros(self.bench.now_us())
    }

    fn view(&self) -> View {
        self.takes.view(self.now())
    }

    fn step(&mut self) {
        let asked = self.session.take_out();
        let mut sent = Vec::new();
        self.head.run_until(self.bench.now_us() + STEP_US, &asked, &mut |bytes| {
            sent.extend_from_slice(bytes);
        });
        if self.stalled {
            sent.clear();
        }
        let (now, mut told) = (self.now(), Vec::new());
        self.session.poll(now, &sent, &mut |event| told.push(event));
        for event in told {
            drop(self.takes.on(now, Input::Head(Told::Head(event))));
        }
    }

    fn good(&self) -> bool {
        self.view().live.gap.good().is_some()
    }

    fn settle(&mut self) {
        let until_us = self.bench.now_us() + 30_000_000;
        // What a fault did just before may show a moment later.
        (0..100).for_each(|_| self.step());
        while !self.view().live.can_take {
            self.step();
            assert!(self.bench.now_us() < until_us, "{:?}", self.view().live);
        }
    }

    /// How long until there is no good gap any more, us.
    fn until_shown(&mut self) -> u64 {
        let from_us = self.bench.now_us();
        while self.good() {
            self.step();
            assert!(
                self.bench.now_us() - from_us < 5_000_000,
                "never shown: {:?}",
                self.view().live
            );
        }
        assert!(!self.view().live.can_take, "a gap that is not good can be taken");
        self.bench.now_us() - from_us
    }
}

#[test]
fn what_a_part_does_shows_within_0_3_s() {
    let mut bed = Bed::new(71);
    for fault in [
        Fault::NoLight,
        Fault::TooMuchLight,
        Fault::TooMuchRoomLight,
        Fault::TwoSheets,
        Fault::LightLeavesWindow,
        Fault::SheetTooThick,
        Fault::SheetTooThin,
        Fault::PixelsDead,
        Fault::PixelsFrozen,
        Fault::SpotLost,
        Fault::StandoffTooNear,
        Fault::ConverterSilent,
        Fault::InclinometerSilent,
        Fault::InclinometerFrames,
    ] {
        bed.settle();
        bed.bench.set_fault(fault, true);
        let after_us = bed.until_shown();
        assert!(after_us <= AT_ONCE_US, "{fault}: {after_us} us");
        bed.bench.set_fault(fault, false);
    }
    for fault in [
        Fault::UnevenRoomLight,
        Fault::EyeTurnedAway,
        Fault::BusStuck,
        Fault::ConverterFrozen,
        Fault::InclinometerStatusTwo,
        Fault::SupplyLow,
        Fault::Knocked,
    ] {
        bed.settle();
        bed.bench.set_fault(fault, true);
        let after_us = bed.until_shown();
        assert!(after_us <= IN_A_MOMENT_US, "{fault}: {after_us} us");
        bed.bench.set_fault(fault, false);
    }
}

#[test]
fn a_link_that_falls_silent_shows_within_0_3_s() {
    let mut bed = Bed::new(64);
    for _ in 0..5 {
        bed.settle();
        bed.stalled = true;
        let after_us = bed.until_shown();
        assert!(after_us <= AT_ONCE_US, "{after_us} us");
        bed.stalled = false;
    }
}

#[test]
fn a_plug_that_is_pulled_shows_at_once() {
    let mut bed = Bed::new(61);
    let now = bed.now();
    let trouble = Trouble::Unplugged { port: "port".to_owned() };
    drop(bed.takes.on(now, Input::Head(Told::Lost(trouble))));
    assert!(!bed.good());
}
