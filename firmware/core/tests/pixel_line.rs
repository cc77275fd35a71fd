//! The line's driver under a clock that is handed in: raster, exposures that are known, and an
//! exposure that comes to rest.

use skimgauge_bench::part::pixel_line::{Driven, Line};
use skimgauge_bench::room::profile::{Beam, Light, RoomLight, Shine};
use skimgauge_head::pixel_line::exposure::Control;
use skimgauge_head::pixel_line::presence::{self, Presence};
use skimgauge_head::pixel_line::{EXPOSURES_US, PERIOD, PixelLine, Polled, Taken};
use skimgauge_head::profile::{Fault, PIXELS, Scan, Seen, Wanted, look};
use skimgauge_head::profile::{Pixels, line::Fingerprint};
use skimgauge_shared::reading::Absence;
use skimgauge_shared::units::Microseconds;

fn light(volts_per_ms: f64, shine: Shine) -> Light {
    let beam = Beam {
        middle_mm: 7.0,
        thickness_mm: 1.5,
        order: 2.0,
        volts_per_ms,
        azimuth_deg: 0.0,
        mirror: None,
    };
    Light { beam: Some(beam), shine, room: RoomLight::even(0.005), ..Light::default() }
}

fn pulses(hz: f64, duty: f64) -> Shine {
    Shine { hz, duty, phase: 0.3, ..Shine::STEADY }
}

/// A line, its driver and its clock.
struct Rig {
    line: PixelLine<Driven>,
    pixels: Pixels,
    now: Microseconds,
    scan: Scan,
    before: Option<Fingerprint>,
    /// Whoever calls is late by this much, in turn.
    late_us: Vec<u64>,
    calls: usize,
}

impl Rig {
    fn new(light: Light) -> Self {
        let mut line = Line::new(5);
        let pixels = line.compared(0.002);
        let (dark, stop) = (pixels.dark / 16, pixels.stop);
        Self {
            line: PixelLine::new(Driven::new(line, light), dark, stop),
            pixels,
            now: Microseconds(0),
            scan: [0; PIXELS],
            before: None,
            late_us: vec![0],
            calls: 0,
        }
    }

    fn poll(&mut self) -> Polled {
        let late = self.late_us[self.calls % self.late_us.len()];
        self.calls += 1;
        self.now = self.now.max(self.line.next_deadline()).after(Microseconds(late));
        self.line.pins().now = self.now;
        self.line.poll(self.now, &mut self.scan)
    }

    fn next(&mut self) -> (Taken, Seen) {
        for _ in 0..1_000 {
            if let Polled::Scan(taken) = self.poll() {
                let seen =
                    look(&self.scan, taken.exposure, self.before, &self.pixels, &Wanted::ANY);
                self.before = Some(seen.fingerprint);
                self.line.adjust(&taken, &seen);
                return (taken, seen);
            }
        }
        panic!("no scan");
    }

    fn run(&mut self, scans: usize) -> Vec<(Taken, Seen)> {
        (0..scans).map(|_| self.next()).collect()
    }

    /// How often the exposure changes in so many scans.
    fn changes(&mut self, scans: usize) -> usize {
        let mut last = self.line.exposure_us();
        let mut changes = 0;
        for _ in 0..scans {
            self.next();
            changes += usize::from(self.line.exposure_us() != last);
            last = self.line.exposure_us();
        }
        changes
    }
}

#[test]
fn middles_of_exposures_come_ninety_times_a_second_whatever_the_exposure() {
    for volts_per_ms in [0.01, 0.1, 1.0, 10.0] {
        let mut rig = Rig::new(light(volts_per_ms, Shine::STEADY));
        rig.next();
        let taken: Vec<Taken> = rig.run(200).into_iter().map(|(taken, _)| taken).collect();
        for pair in taken.windows(2) {
            // An odd exposure's middle lies half a microsecond off, and emptying takes a few.
            let apart = pair[1].middle.since(pair[0].middle).0;
            assert!(apart.abs_diff(PERIOD.0) <= 4, "{volts_per_ms}: {pair:?}");
        }
        let seconds = taken[199].middle.since(taken[0].middle).seconds();
        assert!((199.0 / seconds - 90.0).abs() < 0.05, "{seconds}");
    }
}

/// At the longest exposure a tenth of a millisecond is left between a read and the next flush:
/// whoever comes to the read later than that shortens the next exposure, and leaves none out.
#[test]
fn a_late_look_leaves_no_scan_out() {
    let mut rig = Rig::new(light(0.001, Shine::STEADY));
    rig.run(100);
    assert_eq!(rig.line.exposure_us(), EXPOSURES_US.1);
    // Flush, read, collect.
    rig.late_us = vec![0, 0, 400];
    rig.calls = 0;
    let taken: Vec<Taken> = rig.run(200).into_iter().map(|(taken, _)| taken).collect();
    let seconds = taken[199].middle.since(taken[0].middle).seconds();
    assert!((199.0 / seconds - 90.0).abs() < 0.2, "{}", 199.0 / seconds);
    let shortest = taken.iter().filter_map(|taken| taken.exposure).min().expect("exposures");
    assert!(shortest.0 > 9_500, "{shortest:?}");
}

/// What the driver says of the exposure is what the pixels gathered, caller late or not.
#[test]
fn the_exposure_is_the_one_that_was() {
    let mut rig = Rig::new(light(0.3, Shine::STEADY));
    rig.late_us = vec![0, 3, 120, 0, 40, 0, 0, 700, 1, 15, 0, 2_500, 0];
    rig.next();
    for _ in 0..300 {
        let exposure = rig.next().0.exposure.expect("known");
        assert!((exposure.0 as f64 - rig.line.pins().gathered_us).abs() <= 1.0, "{exposure:?}");
    }
}

#[test]
fn nothing_is_read_from_a_scan_whose_exposure_is_unknown() {
    let mut rig = Rig::new(light(0.3, Shine::STEADY));
    let (first, seen) = rig.next();
    assert_eq!((first.exposure, seen.sheet), (None, Err(Fault::ExposureUnknown)));
    assert!(rig.run(50).iter().all(|(taken, _)| taken.exposure.is_some()));
    // Everything stands still for a second, between flush and read: the pixels gathered all that
    // time.
    while !matches!(rig.poll(), Polled::Scan(_)) {}
    rig.poll();
    rig.now = rig.now.after(Microseconds(1_000_000));
    let (taken, seen) = rig.next();
    assert_eq!((taken.exposure, seen.sheet), (None, Err(Fault::ExposureUnknown)));
    assert!(rig.next().0.exposure.is_some());
}

#[test]
fn a_line_that_is_unplugged_is_said_to_be_and_comes_back() {
    let mut rig = Rig::new(light(0.3, Shine::STEADY));
    rig.run(20);
    rig.line.pins().silent = true;
    let from = rig.now;
    let down = (0..2_000).find_map(|_| match rig.poll() {
        Polled::Down(absence) => Some(absence),
        _ => None,
    });
    assert_eq!(down, Some(Absence::NoAnswer));
    assert!(rig.now.since(from) < Microseconds(30_000));
    rig.line.pins().silent = false;
    assert_eq!(rig.next().0.exposure, None);
    assert!(rig.next().0.exposure.is_some());
}

/// From dark to bright within a sixth of a second, from bright to dim within three quarters; then
/// it stands still with the peak in the range.
#[test]
fn the_exposure_follows_the_light_and_stands_still() {
    let mut rig = Rig::new(light(0.0, Shine::STEADY));
    rig.run(30);
    assert_eq!(rig.line.exposure_us(), EXPOSURES_US.1);
    for (volts_per_ms, scans) in [(5.0, 15), (0.15, 68), (15.0, 15), (0.2, 68), (1.0, 15)] {
        rig.line.pins().light = light(volts_per_ms, Shine::STEADY);
        rig.run(scans);
        assert_eq!(rig.changes(100), 0, "{volts_per_ms}");
        let (_, seen) = rig.next();
        let range = f64::from(rig.pixels.stop - rig.pixels.dark / 16);
        let share = f64::from(seen.brightest - rig.pixels.dark / 16) / range;
        assert!((0.35..0.9).contains(&share), "{volts_per_ms}: {share}");
        assert!(seen.sheet.is_ok(), "{volts_per_ms}: {:?}", seen.sheet);
        // Long enough for what was rash to be forgotten.
        rig.now = rig.now.after(Microseconds(61_000_000));
        rig.run(5);
    }
}

/// The control alone in front of one bright pixel, at 90 scans a second: how often it changes in
/// the second half.
fn changes(volts_per_ms: f64, shine: Shine, seconds: u64) -> usize {
    let (dark, stop) = (100, 3_475);
    let mut control = Control::new(dark, stop);
    let mut middle_us = 1_000_000;
    let mut changes = 0;
    for scan in 0..seconds * 90 {
        let exposure_us = control.exposure_us();
        let from_us = (middle_us - u64::from(exposure_us / 2)) as f64;
        let volts = volts_per_ms * shine.between(from_us, from_us + f64::from(exposure_us));
        let code = f64::from(dark) + volts / 3.3 * 4_096.0;
        control.on(
            Microseconds(middle_us),
            Microseconds(u64::from(exposure_us)),
            code.min(f64::from(stop)) as u16,
        );
        changes += usize::from(scan >= seconds * 45 && control.exposure_us() != exposure_us);
        middle_us += PERIOD.0 + if control.take_shift() { 1_370 } else { 0 };
    }
    changes
}

/// Pulses of 0.1 kHz to 2 kHz, such as keep step with 90 scans a second and such as drift against
/// them slowly: the exposure changes less than once a second in the first while, and later once in
/// five seconds at most.
#[test]
fn a_pulsing_emitter_does_not_make_it_hunt() {
    for hz in
        [100.0, 109.7, 135.0, 180.0, 181.0, 271.0, 333.0, 450.0, 900.0, 1_501.3, 1_800.0, 2_000.0]
    {
        for duty in [0.02, 0.1, 0.3, 0.5, 0.7, 0.95] {
            for volts_per_ms in [0.02, 0.1, 0.3, 1.0, 2.0, 5.0] {
                let (short, long) = (
                    changes(volts_per_ms, pulses(hz, duty), 20),
                    changes(volts_per_ms, pulses(hz, duty), 300),
                );
                assert!(
                    short <= 8,
                    "{hz} Hz, {duty}, {volts_per_ms} V/ms: {short} changes in ten seconds"
                );
                assert!(
                    long <= 30,
                    "{hz} Hz, {duty}, {volts_per_ms} V/ms: {long} changes in 150 s"
                );
            }
        }
    }
}

/// Where scan and pulse are as they may be, half of the scans or more show the sheet; and never two
/// middles that differ.
#[test]
fn a_pulsing_emitter_is_read_and_never_wrong() {
    for hz in [100.0, 137.0, 240.0, 777.0, 2_000.0] {
        for duty in [0.3, 0.7] {
            let mut rig = Rig::new(light(0.15, pulses(hz, duty)));
            rig.run(270);
            let seen = rig.run(180);
            let middles: Vec<i32> =
                seen.iter().filter_map(|(_, seen)| Some(seen.sheet.ok()?.middle.0)).collect();
            assert!(middles.len() >= 60, "{hz} Hz, {duty}: {}", middles.len());
            let (low, high) = (middles.iter().min().unwrap(), middles.iter().max().unwrap());
            assert!(high - low < 256, "{hz} Hz, {duty}: {low} to {high}");
        }
    }
}

/// Four times dimmer for three seconds in six: it learns to leave the exposure where it does for
/// both.
#[test]
fn an_emitter_that_dims_when_idle_does_not_make_it_hunt() {
    let shine = Shine { idle: 0.25, idle_every_s: 6.0, ..Shine::STEADY };
    let (short, long) = (changes(1.0, shine, 60), changes(1.0, shine, 300));
    assert!(short <= 6 && long <= 6, "{short}, {long}");
    let mut rig = Rig::new(light(1.0, shine));
    rig.run(90 * 18);
    let none = rig.run(90 * 12).iter().filter(|(_, seen)| seen.sheet.is_err()).count();
    assert!(none <= 2, "{none}");
}

#[test]
fn a_scan_without_a_pulse_is_no_verdict_on_the_light() {
    let (long, short) = (Microseconds(9_800), Microseconds(300));
    let mut presence = Presence::new();
    assert_eq!(presence.on(long, None), presence::Light::Seen);
    for _ in 0..8 {
        assert_eq!(presence.on(long, Some(Fault::NoLight)), presence::Light::Waiting);
    }
    assert_eq!(presence.on(long, Some(Fault::NoLight)), presence::Light::No);
    assert_eq!(presence.on(long, Some(Fault::TwoSheets)), presence::Light::Seen);
    for _ in 0..89 {
        assert_eq!(presence.on(short, Some(Fault::NoLight)), presence::Light::Waiting);
        // Says nothing either way.
        assert_eq!(presence.on(short, Some(Fault::ExposureUnknown)), presence::Light::Waiting);
    }
    assert_eq!(presence.on(short, Some(Fault::NoLight)), presence::Light::No);
}

/// The same for a whole line: pulses that most scans miss are not taken for a dark emitter, a dark
/// emitter is.
#[test]
fn an_emitter_is_not_called_off_between_pulses() {
    let mut rig = Rig::new(light(0.3, pulses(137.0, 0.1)));
    let mut presence = Presence::new();
    rig.run(180);
    let mut missed = 0;
    for (taken, seen) in rig.run(900) {
        let said = presence.on(taken.exposure.unwrap(), seen.sheet.err());
        missed += u32::from(seen.sheet == Err(Fault::NoLight));
        assert_ne!(said, presence::Light::No);
    }
    assert!(missed > 100, "{missed}");
    rig.line.pins().light.beam = None;
    let off = rig.run(180).iter().position(|(taken, seen)| {
        presence.on(taken.exposure.unwrap(), seen.sheet.err()) == presence::Light::No
    });
    assert!(off.is_some_and(|scans| scans <= 120), "{off:?}");
}
