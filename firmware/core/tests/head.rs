//! The head on the bench: what it says on the wire, part by part, fault by fault.
//!
//! Over 400 lines: one head on one bench, asked in every way.

use skimgauge_bench::bench::Bench;
use skimgauge_bench::room::fault::Fault;
use skimgauge_bench::virtual_head::VirtualHead;
use skimgauge_shared::calibration::{Calibration, Date};
use skimgauge_shared::check::crc32;
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::light::{Light, Sheet};
use skimgauge_shared::message::{
    Answer, CalibrationCheck, Call, Capabilities, Hello, LOADER_KEY, PROTOCOL, Press, Rate,
    Refusal, Report, Request, SCHEMA, SerialNumber, Token,
};
use skimgauge_shared::pixels::{PIXELS, Pixels, TABLE_PART, Together};
use skimgauge_shared::reading::{Absence, Reading, Sample};
use skimgauge_shared::units::Micrometres;

struct Desk {
    head: VirtualHead,
    decoder: Decoder,
    heard: Vec<Report>,
    token: u16,
}

impl Desk {
    fn new(seed: u64) -> Self {
        Self::with(Bench::new(seed))
    }

    fn with(bench: Bench) -> Self {
        Self { head: VirtualHead::new(bench), decoder: Decoder::new(), heard: Vec::new(), token: 0 }
    }

    fn bench(&self) -> Bench {
        self.head.bench().clone()
    }

    /// Sends the bytes, then runs for so long; what was heard meanwhile.
    fn run_bytes(&mut self, bytes: &[u8], ms: u64) -> Vec<Report> {
        let until = self.bench().now_us() + ms * 1_000;
        let Self { head, decoder, heard, .. } = self;
        head.run_until(until, bytes, &mut |sent| {
            for byte in sent {
                match decoder.feed(*byte) {
                    Fed::More => (),
                    Fed::Message(report) => heard.push(report),
                    Fed::Skipped { why, .. } => panic!("the head sent what is no message: {why:?}"),
                }
            }
        });
        std::mem::take(&mut self.heard)
    }

    fn run(&mut self, ms: u64) -> Vec<Report> {
        self.run_bytes(&[], ms)
    }

    /// Asks, then runs for so long; what was heard meanwhile.
    fn ask(&mut self, request: &Request, ms: u64) -> Vec<Report> {
        self.token += 1;
        let call = Call { token: Token(self.token), request: request.clone() };
        let mut buffer = [0; MAX_FRAME];
        let bytes = encode(&call, &mut buffer).unwrap().to_vec();
        self.run_bytes(&bytes, ms)
    }

    /// Asks; what it was answered, all of it with the request's own token.
    fn answers(&mut self, request: &Request, ms: u64) -> Vec<Answer> {
        let heard = self.ask(request, ms);
        let expected = match request {
            Request::EnterLoader { .. } => Token::NONE,
            _ => Token(self.token),
        };
        answers(&heard)
            .into_iter()
            .map(|(token, answer)| {
                assert_eq!(token, expected, "{answer:?}");
                answer
            })
            .collect()
    }

    /// Presses the button and lets it go; what was heard meanwhile.
    fn press(&mut self) -> Vec<Report> {
        self.bench().press_button(true);
        let mut heard = self.run(150);
        self.bench().press_button(false);
        heard.extend(self.run(150));
        heard
    }

    fn readings(&mut self, ms: u64) -> Vec<Reading> {
        readings(&self.run(ms))
    }

    fn hello(&mut self) -> Hello {
        let heard = self.ask(&Request::Greet, 5);
        heard
            .iter()
            .find_map(|r| if let Report::Hello(hello) = r { Some(*hello) } else { None })
            .unwrap()
    }

    /// Stages and commits; the last answer.
    fn write(&mut self, calibration: &Calibration) -> Answer {
        let commit = self.stage(calibration);
        assert_eq!(self.answers(&commit, 5), [Answer::PressWanted { seconds: 10 }]);
        let token = Token(self.token);
        let heard = self.ask(&Request::Unattended, 150);
        let answered = answers(&heard);
        let mut answered = answered.into_iter().filter(|(to, _)| *to == token).map(|(_, a)| a);
        answered.next_back().expect("an answer to the commit")
    }

    /// Stages; what commits it.
    fn stage(&mut self, calibration: &Calibration) -> Request {
        let staged = self.answers(&Request::StageCalibration(calibration.clone()), 5);
        let [Answer::Staged { check }] = staged[..] else { panic!("{staged:?}") };
        Request::CommitCalibration { check }
    }

    fn stage_pixels(&mut self, table: &Pixels) {
        for (part, bytes) in table.to_bytes().chunks(TABLE_PART).enumerate() {
            let bytes = heapless::Vec::from_slice(bytes).unwrap();
            let check = crc32(&bytes);
            let staged = self.answers(&Request::StagePixels { part: part as u8, bytes }, 5);
            assert_eq!(staged, [Answer::Staged { check }]);
        }
    }

    /// The calibration in use.
    fn calibration(&mut self) -> (CalibrationCheck, Calibration) {
        let answers = self.answers(&Request::ReadCalibration, 5);
        let [Answer::Calibration(state)] = &answers[..] else { panic!("{answers:?}") };
        (state.check, state.calibration.clone())
    }
}

fn answers(heard: &[Report]) -> Vec<(Token, Answer)> {
    let answer = |report: &Report| match report {
        Report::Answer(token, answer) => Some((*token, answer.clone())),
        _ => None,
    };
    heard.iter().filter_map(answer).collect()
}

fn sheets(heard: &[Report]) -> Vec<Sheet> {
    let sheet = |report: &Report| match report {
        Report::Sheet(sheet) => Some(*sheet),
        _ => None,
    };
    heard.iter().filter_map(sheet).collect()
}

fn readings(heard: &[Report]) -> Vec<Reading> {
    heard
        .iter()
        .filter_map(|r| if let Report::Reading(reading) = r { Some(*reading) } else { None })
        .collect()
}

#[test]
fn ninety_readings_a_second_all_there() {
    let mut desk = Desk::new(1);
    desk.run(1_500);
    let readings = desk.readings(10_000);
    assert!((898..=902).contains(&readings.len()), "{}", readings.len());
    for pair in readings.windows(2) {
        assert_eq!(pair[1].sequence, pair[0].sequence.wrapping_add(1));
        let apart = pair[1].at_low_us.wrapping_sub(pair[0].at_low_us);
        assert!((10_900..=11_400).contains(&apart), "{apart} us");
    }
    for reading in readings {
        assert!(
            reading.stand_off.value().is_some()
                && reading.middle.value().is_some()
                && reading.tilt.value().is_some()
                && reading.state.fault().is_none()
                && reading.state.light() == Light::Seen,
            "{reading:?}"
        );
    }
}

#[test]
fn the_channels_follow_the_truth_within_a_nominal_heads_error() {
    let mut desk = Desk::new(2);
    desk.run(1_500);
    let truth = desk.bench().truth();
    let readings = desk.readings(1_000);
    let mean =
        |pick: fn(&Reading) -> f64| readings.iter().map(pick).sum::<f64>() / readings.len() as f64;
    // A head that nobody has zeroed: its own sensor is off by its tolerance, not by a wrong unit or
    // sign.
    let stand_off = mean(|r| r.stand_off.value().unwrap().mm());
    assert!((stand_off - truth.standoff_mm.unwrap()).abs() < 0.6, "{stand_off} against {truth:?}");
    let middle = mean(|r| r.middle.value().unwrap().mm());
    assert!((middle - truth.middle_mm.unwrap()).abs() < 0.03, "{middle} against {truth:?}");
    let nominal = Calibration::nominal(SerialNumber([0; 16]));
    let tilt = nominal.tilt(readings[10].tilt.value().unwrap()).value().unwrap();
    assert!((tilt.level.degrees() - truth.level_deg).abs() < 1.5, "{tilt:?} against {truth:?}");
    assert!((tilt.lean.degrees() - truth.lean_deg).abs() < 1.5, "{tilt:?} against {truth:?}");
}

#[test]
fn every_fault_of_a_part_is_a_named_absence_within_three_tenths_and_goes_again() {
    type Pick = fn(&Reading) -> Option<Absence>;
    let stand_off: Pick = |r| r.stand_off.absence();
    let tilt: Pick = |r| r.tilt.absence();
    let cases = [
        (Fault::StandoffTooNear, stand_off, Absence::OutOfRange),
        (Fault::SpotLost, stand_off, Absence::NoSpot),
        (Fault::ConverterFrozen, stand_off, Absence::Frozen),
        (Fault::ConverterSilent, stand_off, Absence::NoAnswer),
        (Fault::BusStuck, stand_off, Absence::BusStuck),
        (Fault::InclinometerSilent, tilt, Absence::NoAnswer),
        (Fault::InclinometerFrames, tilt, Absence::FrameError),
        (Fault::InclinometerSelfTest, tilt, Absence::SelfTestFailed),
        (Fault::InclinometerStatusTwo, tilt, Absence::SelfTestFailed),
        (Fault::InclinometerStatusError, tilt, Absence::SelfTestFailed),
    ];
    for (fault, pick, expected) in cases {
        let mut desk = Desk::new(4);
        desk.run(500);
        assert!(desk.readings(300).iter().all(|r| pick(r).is_none()), "{fault}: at fault before");
        desk.bench().set_fault(fault, true);
        desk.run(300);
        let during = desk.readings(500);
        assert!(during.len() >= 40, "{fault}: only {} readings", during.len());
        for reading in &during {
            assert_eq!(pick(reading), Some(expected), "{fault}: {reading:?}");
        }
        desk.bench().set_fault(fault, false);
        desk.run(600);
        assert!(desk.readings(300).iter().all(|r| pick(r).is_none()), "{fault}: at fault after");
    }
}

/// Each fault of the light is named in every reading, and in what is told of the sheet, within a
/// second and a half; taken back, readings are as before.
#[test]
fn every_fault_of_the_light_is_named_and_goes_again() {
    use skimgauge_shared::light::Fault as Named;
    let cases = [
        (Fault::NoLight, Named::NoLight),
        (Fault::TooMuchLight, Named::TooMuchLight),
        (Fault::TooMuchRoomLight, Named::TooMuchRoomLight),
        (Fault::UnevenRoomLight, Named::UnevenRoomLight),
        (Fault::TwoSheets, Named::TwoSheets),
        (Fault::LightLeavesWindow, Named::Cut),
        (Fault::SheetTooThick, Named::Wider),
        (Fault::SheetTooThin, Named::Narrower),
        (Fault::PixelsDead, Named::BadPixels),
        (Fault::PixelsFrozen, Named::Frozen),
    ];
    for (fault, named) in cases {
        let mut desk = Desk::new(4);
        desk.run(2_000);
        let before = desk.readings(300);
        assert!(before.iter().all(|r| r.state.fault().is_none()), "{fault}: {:?}", before[0]);
        desk.bench().set_fault(fault, true);
        desk.run(1_500);
        let heard = desk.run(500);
        let during = readings(&heard);
        for reading in &during {
            assert_eq!(reading.state.fault(), Some(named), "{fault}: {reading:?}");
            assert_eq!(reading.middle, Sample::Absent(Absence::NoMiddle), "{fault}");
        }
        let sheets = sheets(&heard);
        assert!((2..=4).contains(&sheets.len()), "{fault}: {} in half a second", sheets.len());
        assert!(sheets.iter().all(|sheet| sheet.shape.is_none()));
        assert_eq!(sheets[0].bad_pixel.is_some(), fault == Fault::PixelsDead);
        if fault == Fault::NoLight {
            assert_eq!(during[0].state.light(), Light::No);
        }
        desk.bench().set_fault(fault, false);
        desk.run(3_000);
        let after = desk.readings(300);
        assert!(after.iter().all(|r| r.state.fault().is_none()), "{fault}: {:?}", after[0]);
    }
}

/// The sheet is told five times a second, and at once when the light's state changes.
#[test]
fn a_change_of_the_light_is_told_with_the_reading_that_shows_it() {
    let mut desk = Desk::new(14);
    desk.run(2_000);
    let heard = desk.run(2_000);
    assert!((9..=12).contains(&sheets(&heard).len()), "{}", sheets(&heard).len());
    let sheet = sheets(&heard)[3];
    let shape = sheet.shape.expect("a sheet");
    assert!((600..=1_500).contains(&shape.width.0) && shape.height > 1_000, "{sheet:?}");
    desk.bench().set_fault(Fault::NoLight, true);
    let mut heard = desk.run(150);
    heard.retain(|report| matches!(report, Report::Reading(_) | Report::Sheet(_)));
    let dark = |report: &Report| matches!(report, Report::Reading(r) if r.state.fault().is_some());
    let first = heard.iter().position(dark).expect("darkness");
    let (Report::Reading(reading), Report::Sheet(sheet)) = (&heard[first], &heard[first + 1])
    else {
        panic!("{:?}", &heard[first..])
    };
    assert_eq!((reading.sequence, sheet.shape), (sheet.sequence, None));
}

#[test]
fn a_whole_scan_is_sent_at_most_five_times_a_second() {
    let mut desk = Desk::new(15);
    desk.run(2_000);
    let mut together = Together::default();
    let mut scans = 0;
    for _ in 0..10 {
        let heard = desk.ask(&Request::ProfileWanted, 100);
        let of = readings(&heard);
        for report in &heard {
            if let Report::Profile(piece) = report
                && let Some((sequence, scan)) = together.add(piece)
            {
                let reading = of.iter().find(|r| r.sequence == sequence).expect("its reading");
                let middle = reading.middle.value().unwrap().0 * 2 / 127;
                let brightest = (0..PIXELS).max_by_key(|i| scan[*i]).unwrap() as i32;
                assert!((brightest - middle).abs() < 8, "{brightest} {reading:?}");
                scans += 1;
            }
        }
    }
    assert_eq!(scans, 5);
    let refused = Answer::Refused(Refusal::Busy);
    assert_eq!(desk.answers(&Request::ProfileWanted, 20), [Answer::Done]);
    assert_eq!(desk.answers(&Request::ProfileWanted, 20), [refused]);
}

#[test]
fn numbers_stay_countable_whatever_happens_to_the_converter() {
    let mut desk = Desk::new(5);
    desk.run(500);
    let mut all = Vec::new();
    for fault in [Fault::ConverterSilent, Fault::BusStuck] {
        desk.bench().set_fault(fault, true);
        all.extend(desk.readings(400));
        desk.bench().set_fault(fault, false);
        all.extend(desk.readings(400));
    }
    for pair in all.windows(2) {
        assert_eq!(pair[1].sequence, pair[0].sequence.wrapping_add(1));
    }
    assert!(all.len() > 130, "{}", all.len());
}

#[test]
fn it_introduces_itself_and_answers() {
    let mut desk = Desk::new(6);
    let hello = desk.hello();
    assert_eq!((hello.protocol, hello.schema, hello.token), (PROTOCOL, SCHEMA, Token(1)));
    assert!(hello.serial.is_some());
    assert_eq!(hello.calibration, CalibrationCheck::Missing);
    assert!(matches!(desk.answers(&Request::Ping, 5)[..], [Answer::Pong { .. }]));
    let rate = Rate { per_second: 45, conversions: 8 };
    assert_eq!(desk.answers(&Request::SetRate { per_second: 40 }, 5), [Answer::Rate(rate)]);
    desk.run(500);
    assert!((88..=92).contains(&desk.readings(2_000).len()));
    let heard = desk.ask(&Request::StreamCodes { on: true }, 200);
    assert!(heard.iter().filter(|r| matches!(r, Report::Codes(_))).count() >= 4);
    let refused = [Answer::Refused(Refusal::OutOfRange)];
    assert_eq!(desk.answers(&Request::EnterLoader { key: 1 }, 5), refused);
}

/// Bytes stuffed, and their separator: COBS by hand, for fewer than 255.
fn cobs(bytes: &[u8]) -> Vec<u8> {
    let pieces = bytes.split(|byte| *byte == 0);
    let mut stuffed: Vec<u8> =
        pieces.flat_map(|piece| [&[piece.len() as u8 + 1], piece].concat()).collect();
    stuffed.push(0);
    stuffed
}

/// A host of another protocol or schema is told which this head speaks; a request that it does not
/// know is answered with the token that it came with.
#[test]
fn strangers_are_answered() {
    let mut desk = Desk::new(6);
    let framed = |body: &[u8]| {
        let mut frame = body.to_vec();
        frame.extend(crc32(body).to_le_bytes());
        cobs(&frame)
    };
    let greetings = [&[0_u8, 1][..], &[0, 3, 7, 7, 7], &[0, 2, 9, 5]];
    for greeting in greetings {
        let heard = desk.run_bytes(&framed(greeting), 5);
        let hello = |r: &&Report| matches!(r, Report::Hello(h) if h.protocol == PROTOCOL);
        assert_eq!(heard.iter().filter(hello).count(), 1, "{greeting:?}");
    }
    let heard = desk.run_bytes(&framed(&[99, 0xAC, 0x02, 1, 2, 3]), 5);
    assert_eq!(answers(&heard), [(Token(300), Answer::Unknown)]);
    // What an old host says besides a greeting is nobody's: its tags have no token.
    for old in [&[1_u8, 7][..], &[2, 100], &[6, 1], &[8, 1, 200]] {
        assert_eq!(answers(&desk.run_bytes(&framed(old), 5)), []);
    }
}

#[test]
fn a_calibration_is_written_in_two_steps_and_survives_the_power() {
    let bench = Bench::new(7);
    let mut desk = Desk::with(bench.clone());
    let serial = desk.hello().serial.unwrap();
    let mut calibration = Calibration::nominal(serial);
    calibration.zero = Micrometres(-24_321);
    let refused = desk.answers(&Request::CommitCalibration { check: 5 }, 5);
    assert_eq!(refused, [Answer::Refused(Refusal::NotStaged)]);
    assert_eq!(bench.memory_write_cycles(), 0);
    let Answer::Calibration(state) = desk.write(&calibration) else { panic!() };
    assert_eq!(state.calibration, calibration);
    let mut desk = Desk::with(bench);
    assert_eq!(desk.hello().calibration, CalibrationCheck::Good);
    assert_eq!(desk.calibration(), (CalibrationCheck::Good, calibration));
}

/// Committed twice, as by a host that did not hear the answer: before, while and after it is
/// written. It is written once, and both are told the same.
#[test]
fn a_commit_is_safe_to_repeat() {
    let mut desk = Desk::new(7);
    let serial = desk.hello().serial.unwrap();
    let calibration = Calibration { zero: Micrometres(-24_321), ..Calibration::nominal(serial) };
    let commit = desk.stage(&calibration);
    let wanted = [Answer::PressWanted { seconds: 10 }];
    assert_eq!(desk.answers(&commit, 5), wanted);
    assert_eq!(desk.answers(&commit, 5), wanted);
    desk.ask(&Request::Unattended, 3);
    let written = desk.answers(&commit, 150);
    let [Answer::Calibration(state)] = &written[..] else { panic!("{written:?}") };
    assert_eq!(state.calibration, calibration);
    let cycles = desk.bench().memory_write_cycles();
    assert_eq!(desk.answers(&commit, 150), written);
    assert_eq!(desk.bench().memory_write_cycles(), cycles);
}

#[test]
fn without_a_press_nothing_is_written_and_with_one_it_is() {
    let mut desk = Desk::new(7);
    let serial = desk.hello().serial.unwrap();
    let calibration = Calibration { zero: Micrometres(-24_321), ..Calibration::nominal(serial) };
    let commit = desk.stage(&calibration);
    let answers_ = desk.answers(&commit, 10_100);
    let not_pressed = Answer::Refused(Refusal::NotPressed);
    assert_eq!(answers_, [Answer::PressWanted { seconds: 10 }, not_pressed]);
    assert_eq!(desk.bench().memory_write_cycles(), 0);
    assert_eq!(desk.calibration().0, CalibrationCheck::Missing);
    let nothing = desk.answers(&Request::Unattended, 5);
    assert_eq!(nothing, [Answer::Refused(Refusal::NothingWaits)]);
    // What was staged is still there.
    desk.ask(&commit, 5);
    desk.run(3_000);
    let token = Token(desk.token);
    let heard = desk.press();
    // The press says nothing else: it is no take.
    assert!(!heard.iter().any(|r| matches!(r, Report::Button { .. })));
    let answer = answers(&heard);
    let [(to, Answer::Calibration(state))] = &answer[..] else { panic!("{answer:?}") };
    assert_eq!((*to, &state.calibration), (token, &calibration));
}

/// Its memory silent, it has no number by which that could be known.
#[test]
fn a_simulated_head_says_that_it_is_one_with_a_memory_and_without() {
    let bench = Bench::new(7);
    assert!(Desk::with(bench.clone()).hello().is_simulated());
    bench.set_fault(Fault::MemorySilent, true);
    let hello = Desk::with(bench).hello();
    assert!(hello.serial.is_none() && hello.is_simulated(), "{hello:?}");
    // A flash image says nothing of the kind.
    let capabilities = Capabilities::BUZZER.with(Capabilities::LOADER).with(Capabilities::LOG);
    assert!(!Hello { capabilities, ..hello }.is_simulated());
}

#[test]
fn the_boot_loader_wants_a_press_too() {
    let mut start =
        skimgauge_bench::virtual_head::start(skimgauge_shared::message::ResetCause::Power);
    start.capabilities = start.capabilities.with(Capabilities::LOADER);
    let head = VirtualHead::started(Bench::new(7), start);
    let mut desk = Desk { head, decoder: Decoder::new(), heard: Vec::new(), token: 0 };
    let loader = Request::EnterLoader { key: LOADER_KEY };
    let wanted = Answer::PressWanted { seconds: 10 };
    let answered = desk.answers(&loader, 10_100);
    assert_eq!(answered, [wanted.clone(), Answer::Refused(Refusal::NotPressed)]);
    assert!(!desk.head.enters_loader());
    assert_eq!(desk.answers(&loader, 5), std::slice::from_ref(&wanted));
    // One thing waits at a time.
    let serial = desk.hello().serial.unwrap();
    let commit = desk.stage(&Calibration::nominal(serial));
    assert_eq!(desk.answers(&commit, 5), [Answer::Refused(Refusal::Busy)]);
    assert_eq!(answers(&desk.press()), [(Token::NONE, Answer::Done)]);
    assert!(desk.head.enters_loader());
}

/// The table goes to the memory with the constants that name it, and the pixels are made equal by
/// it from then on and after the power was away.
#[test]
fn the_pixels_table_is_kept_with_its_constants() {
    let bench = Bench::new(7);
    let mut desk = Desk::with(bench.clone());
    desk.run(1_000);
    let table = bench.pixel_line(|line| line.compared(0.002));
    let serial = desk.hello().serial.unwrap();
    let nominal = Calibration::nominal(serial);
    let named = Calibration { pixels: table.digest(), ..nominal.clone() };
    // Constants that name a table that the head does not hold.
    assert_eq!(desk.write(&named), Answer::Refused(Refusal::NotStaged));
    desk.stage_pixels(&table);
    let Answer::Calibration(state) = desk.write(&named) else { panic!() };
    assert_eq!((state.check, &state.calibration), (CalibrationCheck::Good, &named));
    // Other constants with the same table want no table again.
    let other = Calibration { zero: Micrometres(-31_000), ..named.clone() };
    let Answer::Calibration(_) = desk.write(&other) else { panic!() };
    let mut desk = Desk::with(bench.clone());
    assert_eq!(desk.calibration(), (CalibrationCheck::Good, other));
    // A bit of the table has flipped: constants without their table are damaged.
    let contents = bench.memory_contents();
    let at = contents.windows(8).position(|w| *w == table.to_bytes()[100..108]).unwrap();
    bench.set_memory(at, &[contents[at] ^ 1]);
    let mut desk = Desk::with(bench);
    assert_eq!(desk.calibration().0, CalibrationCheck::Damaged);
}

#[test]
fn a_calibration_of_another_head_or_of_nonsense_is_refused() {
    let mut desk = Desk::new(8);
    let serial = desk.hello().serial.unwrap();
    let mut stage = |calibration| desk.answers(&Request::StageCalibration(calibration), 5);
    let other = stage(Calibration::nominal(SerialNumber([9; 16])));
    assert_eq!(other, [Answer::Refused(Refusal::OtherHead)]);
    let mut nonsense = Calibration::nominal(serial);
    nonsense.stand_off.slope_pm_per_code = 0;
    assert_eq!(stage(nonsense), [Answer::Refused(Refusal::OutOfRange)]);
}

#[test]
fn power_cut_at_any_moment_of_a_write_leaves_the_old_constants_or_the_new() {
    let mut seen = (0, 0);
    for cut_ms in 0..60 {
        let bench = Bench::new(9);
        let mut desk = Desk::with(bench.clone());
        let serial = desk.hello().serial.unwrap();
        let mut old = Calibration::nominal(serial);
        old.zero = Micrometres(-24_000);
        desk.write(&old);
        let mut new = old.clone();
        new.zero = Micrometres(-25_500);
        // With a table of its own, for the cuts that fall into that.
        let table = bench.pixel_line(|line| line.compared(0.002));
        desk.stage_pixels(&table);
        new.pixels = table.digest();
        let commit = desk.stage(&new);
        desk.ask(&commit, 5);
        bench.cut_power_at(bench.now_us() + cut_ms * 2_000 + 137);
        desk.ask(&Request::Unattended, 150);
        bench.restore_power();
        let mut desk = Desk::with(bench);
        let (check, found) = desk.calibration();
        assert_eq!(check, CalibrationCheck::Good, "cut at {cut_ms}");
        match found {
            found if found == old => seen.0 += 1,
            found if found == new => seen.1 += 1,
            other => panic!("half a calibration after a cut at {cut_ms}: {other:?}"),
        }
    }
    // The cuts fell on both sides of the last byte, or the test says nothing.
    assert!(seen.0 > 5 && seen.1 > 5, "{seen:?}");
}

#[test]
fn the_button_is_told_once() {
    let mut desk = Desk::new(10);
    desk.run(200);
    desk.bench().press_button(true);
    desk.run(150);
    desk.bench().press_button(false);
    let heard = desk.run(200);
    let presses: Vec<_> = heard.iter().filter(|r| matches!(r, Report::Button { .. })).collect();
    assert!(matches!(presses[..], [Report::Button { press: Press::Short, .. }]), "{presses:?}");
}

#[test]
fn asked_to_show_itself_the_lamp_flickers() {
    let mut desk = Desk::new(13);
    desk.run(600);
    // A host listens and nothing is at fault: steady.
    assert!((0..100).all(|_| {
        desk.run(10);
        desk.bench().lamp_is_on()
    }));
    desk.ask(&Request::Identify { seconds: 2 }, 5);
    let lit: Vec<bool> = (0..100)
        .map(|_| {
            desk.run(10);
            desk.bench().lamp_is_on()
        })
        .collect();
    assert!(lit.windows(2).filter(|pair| pair[0] != pair[1]).count() >= 10, "{lit:?}");
}

#[test]
fn the_pulse_tells_how_the_head_is() {
    let mut desk = Desk::new(11);
    desk.run(1_000);
    let heard = desk.run(1_000);
    let pulses: Vec<_> = heard
        .iter()
        .filter_map(|r| if let Report::Pulse(p) = r { Some(*p) } else { None })
        .collect();
    assert!((4..=6).contains(&pulses.len()));
    let pulse = pulses[3];
    assert!(
        matches!(pulse.supply, Sample::Value(mv) if (4_800..5_200).contains(&mv.0)),
        "{pulse:?}"
    );
    assert!(
        matches!(pulse.temperature, Sample::Value(t) if (15.0..40.0).contains(&t.celsius())),
        "{pulse:?}"
    );
    assert!(pulse.latest_start_us < 100, "{pulse:?}");
    assert_eq!(pulse.tilt_status, 0, "{pulse:?}");
}

#[test]
fn garbage_and_floods_are_counted_and_change_nothing() {
    let mut desk = Desk::new(12);
    desk.run(500);
    let garbage: Vec<u8> =
        (0..50_000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    let mut count = 0;
    for piece in garbage.chunks(640) {
        count += readings(&desk.run_bytes(piece, 10)).len();
    }
    assert!(count as f64 > garbage.len() as f64 / 640.0 * 0.85, "{count}");
    let mut pings = Vec::new();
    for token in 0..2_000 {
        let mut buffer = [0; MAX_FRAME];
        let call = Call { token: Token(token), request: Request::Ping };
        pings.extend_from_slice(encode(&call, &mut buffer).unwrap());
    }
    for piece in pings.chunks(64) {
        desk.run_bytes(piece, 1);
    }
    assert_eq!(desk.bench().memory_write_cycles(), 0);
    assert!(desk.hello().made > 100);
}

/// A shadow's edge across the sheet, at every station: where the sheet is weak the edge is as bright as
/// it, and hides it; but there is a peak, and a lone edge has none.
#[test]
fn a_shadows_edge_is_named_wherever_the_head_stands_and_alone_it_is_no_light() {
    use skimgauge_bench::zeroed;
    use skimgauge_shared::light::Fault as Named;
    for seed in [4, 71, 9] {
        for at in 0..8 {
            let bench = Bench::new(seed);
            // Between pixels that nobody compared much room light hides the rest.
            let zeroed = zeroed::of(&bench, Date { year: 2026, month: 5, day: 4 }, "bench");
            assert!(zeroed::write(&mut VirtualHead::new(bench.clone()), &zeroed));
            let mut desk = Desk::with(bench);
            desk.bench().scene(|scene| {
                let station = scene.room.stations()[at];
                scene.clip(station.x_mm, station.y_mm);
                scene.turn_eye_to_emitter(0.0);
            });
            desk.run(2_000);
            for (fault, named) in
                [(Fault::UnevenRoomLight, Named::UnevenRoomLight), (Fault::NoLight, Named::NoLight)]
            {
                desk.bench().set_fault(fault, true);
                desk.run(600);
                for reading in desk.readings(200) {
                    assert_eq!(reading.state.fault(), Some(named), "{seed}, station {at}");
                }
            }
        }
    }
}
