//! The profile's arithmetic against floating point, and what it says of light that is made up here.

use proptest::prelude::*;
use skimgauge_bench::part::pixel_line::{Broken, Line};
use skimgauge_bench::room::profile::{Beam, Edge, Light, Mirror, RoomLight, Shine};
use skimgauge_head::profile::doubt::{Doubt, Trust};
use skimgauge_head::profile::line::{Lit, Pixels};
use skimgauge_head::profile::window::{Fit, Frame, Span};
use skimgauge_head::profile::{Fault, PIXELS, Profile, Scan, Seen, Sixteenths, SubPixels, Wanted, look};
use skimgauge_shared::units::{Micrometres, Microseconds};

const EXPOSURE: Option<Microseconds> = Some(Microseconds(1_000));
const EQUAL: Pixels = Pixels { dark: 0, stop: 3_475, residual: 0, gain: [0; PIXELS] };

const BEAM: Beam =
    Beam { middle_mm: 7.03, thickness_mm: 1.5, order: 2.0, volts_per_ms: 1.5, azimuth_deg: 0.0, mirror: None };

fn light(beam: impl Into<Option<Beam>>, room: RoomLight) -> Light {
    Light { beam: beam.into(), shine: Shine::STEADY, room }
}

/// Pixels without noise, inequality or anything in the dark; what is left is the converter's step.
fn quiet_line() -> Line {
    let mut line = Line::new(1);
    (line.noise_v, line.converter_noise, line.dark_v, line.bent) = (0.0, 0.0, 0.0, false);
    line.response = vec![1.0; PIXELS];
    line
}

fn seen_as(line: &mut Line, light: &Light, pixels: &Pixels, wanted: &Wanted) -> Seen {
    look(&line.scan(light, 0.0, 1_000.0), EXPOSURE, None, pixels, wanted)
}

fn seen(line: &mut Line, light: &Light, pixels: &Pixels) -> Seen {
    seen_as(line, light, pixels, &Wanted::ANY)
}

fn profile(line: &mut Line, light: &Light, pixels: &Pixels) -> Profile {
    let seen = seen(line, light, pixels);
    seen.sheet.unwrap_or_else(|fault| panic!("{fault:?} at {light:?}"))
}

/// What most of a hundred scans say.
fn usually(line: &mut Line, light: &Light, pixels: &Pixels, wanted: &Wanted) -> Result<Profile, Fault> {
    let all: Vec<_> = (0..100).map(|_| seen_as(line, light, pixels, wanted).sheet).collect();
    let same = |a: &Result<Profile, Fault>, b: &Result<Profile, Fault>| a.is_ok() && b.is_ok() || a.err() == b.err();
    *all.iter().max_by_key(|a| all.iter().filter(|b| same(a, b)).count()).unwrap()
}

fn error_um(line: &Line, middle: SubPixels, true_mm: f64) -> f64 {
    (line.height_mm(f64::from(middle.0) / 256.0) - true_mm) * 1e3
}

#[test]
fn a_place_in_micrometres_is_its_pixels_times_the_pitch() {
    for (steps, um) in [(0, 0), (256, 64), (2_560, 635), (-2_560, -635), (255 * 256, 16_193), (1, 0), (3, 1), (-3, -1)]
    {
        assert_eq!(SubPixels(steps).micrometres(), Micrometres(um), "{steps}");
    }
    assert_eq!(SubPixels::from_micrometres(635), SubPixels(2_560));
    assert_eq!(SubPixels::from_micrometres(20), SubPixels(81));
}

#[test]
fn middle_width_and_height_are_those_of_the_sheet() {
    let mut line = quiet_line();
    for order in [2.0, 3.0, 8.0] {
        for thickness_mm in [0.8, 1.5, 3.0] {
            for middle_mm in [5.0, 7.03, 8.517, 11.9] {
                let beam = Beam { middle_mm, thickness_mm, order, ..BEAM };
                let profile = profile(&mut line, &light(beam, RoomLight::even(0.2)), &EQUAL);
                assert!(error_um(&line, profile.middle, middle_mm).abs() < 0.6, "{beam:?} {profile:?}");
                // A pixel's own width adds 0.02 mm to the thinnest.
                assert!((profile.width.mm() - thickness_mm).abs() < 0.03, "{beam:?} {profile:?}");
                // The mean of three pixels: up to a twentieth less than the top of the thinnest.
                assert!((1_760..=1_866).contains(&profile.height.codes()), "{beam:?} {profile:?}");
                assert!((profile.room.codes() - 248).abs() < 6, "{beam:?} {profile:?}");
                assert_eq!(profile.second, None);
            }
        }
    }
}

/// Slope and curve of the room's light over the whole line, as strong as the sheet itself.
#[test]
fn a_smooth_rooms_light_does_not_pull_the_middle() {
    let mut line = quiet_line();
    for slope in [-1.6, 0.0, 1.6] {
        for curve in [-0.4, 0.0, 0.15] {
            for middle_mm in [4.3, 8.5, 12.2] {
                let room = RoomLight { slope, curve, ..RoomLight::even(0.6) };
                let beam = Beam { middle_mm, volts_per_ms: 1.0, ..BEAM };
                let profile = profile(&mut line, &light(beam, room), &EQUAL);
                let error_um = error_um(&line, profile.middle, middle_mm);
                assert!(error_um.abs() < 1.0, "slope {slope}, curve {curve}, at {middle_mm}: {error_um}");
                assert!(profile.room_pull.by.micrometres().0.abs() <= 5, "{profile:?}");
            }
        }
    }
}

/// A window that starts two standard deviations off is centred to half a pixel in three steps.
#[test]
fn a_window_centres_itself_in_three_steps() {
    for (order, sigma) in [(2.0, 5.9), (8.0, 5.9), (2.0, 3.2), (8.0, 11.8)] {
        let beam = Beam { middle_mm: 8.4, order, thickness_mm: sigma * 4.0 * 0.0635, ..BEAM };
        let lit = Lit::new(&quiet_line().scan(&light(beam, RoomLight::even(0.3)), 0.0, 1_000.0), &EQUAL);
        let half = (sigma * 4.0) as i32 + 1;
        for off in [-2.0, -1.0, 1.0, 2.0] {
            let mut centre = 126 + (off * sigma) as i32;
            for _ in 0..3 {
                let [left, right] = [centre - half - 16, centre + half + 1].map(|from| Span { from, len: 16 });
                let fit = Fit::of(&lit, Frame { centre, half, left, right }, 16).unwrap();
                centre += (fit.shift.0 + 128) >> 8;
            }
            let [left, right] = [centre - half - 16, centre + half + 1].map(|from| Span { from, len: 16 });
            let fit = Fit::of(&lit, Frame { centre, half, left, right }, 16).unwrap();
            assert!(fit.shift.0.abs() <= 130, "order {order}, {sigma} px, from {off}: {fit:?}");
            assert!((f64::from(fit.middle().0) / 256.0 - 8.0 / 0.0635).abs() < 0.01, "{fit:?}");
        }
    }
}

/// A window of two and a half standard deviations, half a pixel off: what it loses at its edges is made up for.
#[test]
fn a_narrow_window_finds_its_middle_between_pixels() {
    for off in [-0.45, -0.2, 0.0, 0.3, 0.45] {
        let middle_mm = 0.4 + (120.0 + off) * 0.0635;
        let beam = Beam { middle_mm, ..BEAM };
        let lit = Lit::new(&quiet_line().scan(&light(beam, RoomLight::even(0.3)), 0.0, 1_000.0), &EQUAL);
        let frame =
            Frame { centre: 120, half: 24, left: Span { from: 72, len: 24 }, right: Span { from: 145, len: 24 } };
        let fit = Fit::of(&lit, frame, 16).unwrap();
        for half in [9, 12, 15] {
            let middle = f64::from(fit.centred(&lit, half).unwrap().0) / 256.0;
            assert!((middle - 120.0 - off).abs() < 0.012, "{half}, {off}: {middle}");
        }
    }
}

/// The design's numerical trial: a sheet 1.5 mm thick, 12 bits, 3 % of pixel inequality that nobody found, noise of 4 mV. There
/// one scan's middle scattered by 4 um at 0.5 V over 0.1 V of room light, 21 um over 1 V of room light, 34 um at 0.05 V.
#[test]
fn one_scan_scatters_as_in_the_designs_trial() {
    for (sheet_v, room_v, trial_um) in [(0.5, 0.1, 4.0), (0.5, 1.0, 21.0), (0.05, 0.1, 34.0)] {
        let mut square = 0.0;
        let heads = 600;
        for seed in 0..heads {
            let mut line = Line::new(seed);
            (line.converter_noise, line.dark_v) = (0.0, 0.0);
            let middle_mm = 0.4 + (126.0 + (seed as f64 * 0.37).fract() - 0.5) * 0.0635;
            let beam = Beam { middle_mm, volts_per_ms: sheet_v, ..BEAM };
            let scan = line.scan(&light(beam, RoomLight::even(room_v)), 0.0, 1_000.0);
            let frame =
                Frame { centre: 126, half: 24, left: Span { from: 78, len: 24 }, right: Span { from: 151, len: 24 } };
            let fit = Fit::of(&Lit::new(&scan, &EQUAL), frame, 80).unwrap();
            square += error_um(&line, fit.middle(), middle_mm).powi(2);
        }
        let rms_um = (square / heads as f64).sqrt();
        println!("{sheet_v} V over {room_v} V: {rms_um:.1} um (trial: {trial_um} um)");
        assert!((0.65..1.45).contains(&(rms_um / trial_um)), "{sheet_v} V over {room_v} V: {rms_um:.1} um");
    }
}

/// What a scan says of its own scatter is what the middles do.
#[test]
fn a_profile_knows_its_scatter() {
    let mut line = Line::new(11);
    let pixels = line.compared(0.002);
    for (sheet_v, room_v) in [(1.5, 0.1), (0.4, 0.3), (0.15, 0.05)] {
        let light = light(Beam { volts_per_ms: sheet_v, ..BEAM }, RoomLight::even(room_v));
        let all: Vec<Profile> = (0..300).filter_map(|_| seen(&mut line, &light, &pixels).sheet.ok()).collect();
        assert!(all.len() > 250, "{sheet_v}: {}", all.len());
        let spread = |f: &dyn Fn(&Profile) -> f64| {
            let mean = all.iter().map(f).sum::<f64>() / all.len() as f64;
            (all.iter().map(|p| (f(p) - mean).powi(2)).sum::<f64>() / all.len() as f64).sqrt()
        };
        let stated = |f: &dyn Fn(&Profile) -> f64| all.iter().map(f).sum::<f64>() / all.len() as f64;
        let ratio = stated(&|p| f64::from(p.scatter.0) + 0.5) / spread(&|p| f64::from(p.middle.0));
        assert!((0.7..1.5).contains(&ratio), "{sheet_v}: middle {ratio}");
        let ratio = stated(&|p| f64::from(p.room_pull.scatter.0)) / spread(&|p| f64::from(p.room_pull.by.0));
        assert!((0.7..1.5).contains(&ratio), "{sheet_v}: pull {ratio}");
    }
}

mod faults {
    use super::*;

    fn head() -> (Line, Pixels) {
        let mut line = Line::new(21);
        let pixels = line.compared(0.002);
        (line, pixels)
    }

    fn said(light: &Light) -> Result<Profile, Fault> {
        let (mut line, pixels) = head();
        usually(&mut line, light, &pixels, &Wanted::ANY)
    }

    #[test]
    fn exposure_unknown_and_frozen() {
        let (mut line, pixels) = head();
        let scan = line.scan(&light(BEAM, RoomLight::even(0.1)), 0.0, 1_000.0);
        let first = look(&scan, EXPOSURE, None, &pixels, &Wanted::ANY);
        assert!(first.sheet.is_ok());
        let same = look(&scan, EXPOSURE, Some(first.fingerprint), &pixels, &Wanted::ANY);
        assert_eq!(same.sheet, Err(Fault::Frozen));
        assert_eq!(look(&scan, None, None, &pixels, &Wanted::ANY).sheet, Err(Fault::ExposureUnknown));
        // One pixel by one code is another scan.
        for i in 0..PIXELS {
            let mut other = scan;
            other[i] ^= 1;
            assert_ne!(
                look(&other, EXPOSURE, Some(first.fingerprint), &pixels, &Wanted::ANY).sheet,
                Err(Fault::Frozen)
            );
        }
    }

    #[test]
    fn no_light_and_too_little() {
        assert_eq!(said(&light(None, RoomLight::even(0.0))).err(), Some(Fault::NoLight));
        assert_eq!(said(&light(None, RoomLight { slope: 1.5, ..RoomLight::even(1.0) })).err(), Some(Fault::NoLight));
        // Twelve times the noise, but no more than that of a thin sheet.
        let weak = Beam { volts_per_ms: 0.06, thickness_mm: 1.2, ..BEAM };
        assert_eq!(said(&light(weak, RoomLight::even(0.02))).err(), Some(Fault::TooLittleLight));
    }

    #[test]
    fn too_much_light_and_too_much_room_light() {
        let bright = Beam { volts_per_ms: 6.0, ..BEAM };
        assert_eq!(said(&light(bright, RoomLight::even(0.1))).err(), Some(Fault::TooMuchLight));
        assert_eq!(said(&light(BEAM, RoomLight::even(4.0))).err(), Some(Fault::TooMuchRoomLight));
        // Not full, but the pixels' inequality hides the sheet.
        let weak = Beam { volts_per_ms: 0.1, ..BEAM };
        assert_eq!(said(&light(weak, RoomLight::even(2.0))).err(), Some(Fault::TooMuchRoomLight));
        let (mut line, _) = head();
        let pixels = line.uncompared();
        let uncompared = usually(&mut line, &light(BEAM, RoomLight::even(1.0)), &pixels, &Wanted::ANY);
        assert_eq!(uncompared.err(), Some(Fault::TooMuchRoomLight));
    }

    #[test]
    fn dead_stuck_and_covered_pixels() {
        for (i, broken) in [
            (104, Broken::Dead),
            (99, Broken::Dead),
            (110, Broken::Dim(0.4)),
            (20, Broken::Stuck(1.0)),
            (200, Broken::Stuck(2.9)),
            (104, Broken::Stuck(3.0)),
        ] {
            let (mut line, pixels) = head();
            let light = light(BEAM, RoomLight::even(0.1));
            let good = profile(&mut line, &light, &pixels);
            line.broken.push((i, broken));
            let seen = seen(&mut line, &light, &pixels);
            assert_eq!((seen.sheet, seen.bad_pixel), (Err(Fault::BadPixels), Some(i as u8)), "{broken:?} at {i}");
            // It does not set the exposure.
            assert!(seen.brightest < 2_600, "{broken:?}: {}", seen.brightest);
            // Once known it is bridged.
            let pixels = line.compared(0.002);
            let bridged = profile(&mut line, &light, &pixels);
            assert!((bridged.middle.0 - good.middle.0).abs() < 15, "{broken:?} at {i}: {good:?} {bridged:?}");
        }
        // Too many, or two side by side, are not.
        let (mut line, mut pixels) = head();
        (pixels.gain[50], pixels.gain[51]) = (Pixels::BAD, Pixels::BAD);
        assert_eq!(seen(&mut line, &light(BEAM, RoomLight::even(0.1)), &pixels).sheet, Err(Fault::BadPixels));
    }

    #[test]
    fn light_that_leaves_the_window() {
        for middle_mm in [0.3, 0.9, 1.2, 15.7, 16.2, 16.8] {
            let cut = said(&light(Beam { middle_mm, ..BEAM }, RoomLight::even(0.1)));
            assert_eq!(cut.err(), Some(Fault::Cut), "{middle_mm}");
        }
        for middle_mm in [2.0, 14.8] {
            assert!(said(&light(Beam { middle_mm, ..BEAM }, RoomLight::even(0.1))).is_ok(), "{middle_mm}");
        }
    }

    #[test]
    fn sheets_that_are_not_this_emitters() {
        let (mut line, pixels) = head();
        let wanted = Wanted::of(Micrometres(1_500));
        for (thickness_mm, fault) in [
            (1.0, Some(Fault::Narrower)),
            (1.4, None),
            (1.6, None),
            (2.1, Some(Fault::Wider)),
            (2.9, Some(Fault::Wider)),
        ] {
            let beam = Beam { thickness_mm, ..BEAM };
            let said = usually(&mut line, &light(beam, RoomLight::even(0.1)), &pixels, &wanted);
            assert_eq!(said.err(), fault, "{thickness_mm}");
        }
    }

    #[test]
    fn a_mirrored_sheet_is_named_or_read_past() {
        let (mut line, pixels) = head();
        let wanted = Wanted::of(Micrometres(1_500));
        let mirrored = |apart_mm: f64, gloss: f64| {
            let mirror = Some(Mirror { rise_mm: BEAM.middle_mm - apart_mm / 2.0, gloss, grazing_mrad: 3.0 });
            light(Beam { mirror, ..BEAM }, RoomLight::even(0.1))
        };
        // Half a thickness apart and more, any strength that could pull the middle by 20 um.
        for apart_mm in [0.75, 1.0, 1.3, 1.7] {
            for gloss in [0.05, 0.1, 0.3, 0.6, 1.0] {
                let said = usually(&mut line, &mirrored(apart_mm, gloss), &pixels, &wanted);
                let right = said.is_ok_and(|read| error_um(&line, read.middle, BEAM.middle_mm).abs() < 15.0);
                assert!(said.is_err() || right, "{apart_mm} mm, {gloss}: {said:?}");
                assert!(said.is_err() || apart_mm > 1.5, "{apart_mm} mm, {gloss}: {said:?}");
            }
        }
        let past = usually(&mut line, &mirrored(3.4, 0.5), &pixels, &wanted).unwrap();
        let second = past.second.expect("named");
        assert!((line.height_mm(f64::from(second.at.0) / 256.0) - 3.63).abs() < 0.2, "{second:?}");
        assert!((f64::from(second.height.0) / f64::from(past.height.0) - 0.49).abs() < 0.05, "{past:?}");
        assert!(error_um(&line, past.middle, BEAM.middle_mm).abs() < 8.0, "{past:?}");
        // As bright as the sheet: which is which?
        assert_eq!(usually(&mut line, &mirrored(3.4, 0.95), &pixels, &wanted).err(), Some(Fault::TwoSheets));
    }

    #[test]
    fn a_shadows_edge_under_the_sheet() {
        let edge = |at_mm: f64, change: f64| Edge { at_mm, change, blur_mm: 0.1 };
        let room = |edges: Vec<Edge>| RoomLight { edges, ..RoomLight::even(0.5) };
        for at_mm in [6.4, 7.0, 7.8] {
            let said = said(&light(BEAM, room(vec![edge(at_mm, 0.8)])));
            assert!(matches!(said, Err(Fault::UnevenRoomLight | Fault::TwoSheets)), "{at_mm}: {said:?}");
        }
        // Far away it does no harm; alone it is no sheet.
        assert!(said(&light(BEAM, room(vec![edge(13.0, 0.8)]))).is_ok());
        for at_mm in [3.0, 7.0, 12.0] {
            for blur_mm in [0.05, 1.0, 3.0] {
                let said = said(&light(None, room(vec![Edge { at_mm, change: 0.8, blur_mm }])));
                assert!(matches!(said, Err(Fault::NoLight | Fault::Cut)), "{at_mm}, {blur_mm}: {said:?}");
            }
        }
    }
}

/// One scan in weak light cannot tell; many can, both ways.
#[test]
fn doubt_lifts_with_scans_or_stays() {
    let trust = |room: RoomLight, scans: usize| {
        let mut line = Line::new(31);
        let pixels = line.compared(0.002);
        let beam = Beam { volts_per_ms: 0.35, ..BEAM };
        let mut doubt = Doubt::new();
        assert_eq!(doubt.trust(), Trust::NotYet);
        for _ in 0..scans {
            if let Ok(profile) = seen(&mut line, &light(beam, room.clone()), &pixels).sheet {
                doubt.add(&profile);
            }
        }
        doubt.trust()
    };
    assert_eq!(trust(RoomLight::even(0.05), 1), Trust::NotYet);
    assert_eq!(trust(RoomLight::even(0.05), 60), Trust::Sure);
    let edge = Edge { at_mm: 7.2, change: 0.6, blur_mm: 0.3 };
    assert_ne!(trust(RoomLight { edges: vec![edge], ..RoomLight::even(0.05) }, 60), Trust::Sure);
}

/// Any gains, any codes, any frame inside the line.
fn frames() -> impl Strategy<Value = Frame> {
    (6..=60_i32, 4..=24_i32, 4..=24_i32).prop_flat_map(|(half, left, right)| {
        (half + left..=255 - half - right, Just((half, left, right))).prop_map(|(centre, (half, left, right))| Frame {
            centre,
            half,
            left: Span { from: centre - half - left, len: left },
            right: Span { from: centre + half + 1, len: right },
        })
    })
}

/// The same sums in floating point, with gains as the table has them and no bend; the frame's own centroid and light.
fn reference(scan: &Scan, pixels: &Pixels, frame: &Frame) -> (f64, f64, f64) {
    let y: Vec<f64> = scan
        .iter()
        .zip(&pixels.gain)
        .map(|(code, gain)| {
            let raw = f64::from(*code) * 16.0;
            (raw + (raw - f64::from(pixels.dark)) * f64::from(*gain) / 2_048.0).clamp(0.0, 65_535.0)
        })
        .collect();
    let mean = |span: Span| {
        let (from, to) = (span.from as usize, (span.from + span.len) as usize);
        let place = (from + to - 1) as f64 / 2.0 - f64::from(frame.centre);
        (place, y[from..to].iter().sum::<f64>() / f64::from(span.len))
    };
    let ((at_left, left), (at_right, right)) = (mean(frame.left), mean(frame.right));
    let slope = (right - left) / (at_right - at_left);
    let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
    for k in -frame.half..=frame.half {
        let above = y[(frame.centre + k) as usize] - left - slope * (f64::from(k) - at_left);
        sum += above;
        first += above * f64::from(k);
        second += above * f64::from(k * k);
    }
    (sum, first / sum, second / sum - (first / sum).powi(2))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    /// The bound that `profile` documents: 1/512 + 0.8 W^2 / S pixels, for a sheet anywhere in the window on any smooth light,
    /// with any table.
    #[test]
    fn arithmetic_keeps_its_bound(
        frame in frames(), off in -3.0..3.0_f64, sigma in 2.0..14.0_f64, height in 20.0..2_500.0_f64,
        level in 0.0..900.0_f64, slope in -3.0..3.0_f64, seed in any::<u64>(), equal in any::<bool>(),
    ) {
        let mut chance = skimgauge_bench::noise::Noise::new(seed, 0);
        let mut pixels = EQUAL;
        pixels.dark = (chance.bits() % 2_000) as u16;
        if !equal {
            pixels.gain = core::array::from_fn(|_| (chance.bits() % 255) as i8).map(|g: i8| g.max(-127));
        }
        let scan: Scan = core::array::from_fn(|i| {
            let k = i as f64 - f64::from(frame.centre);
            let y = height * (-((k - off) / sigma).powi(2) / 2.0).exp() + level + slope * k + chance.normal(3.0);
            y.clamp(0.0, 4_095.0) as u16
        });
        // A scatter so great that no bend is believed: the reference has none.
        let Some(fit) = Fit::of(&Lit::new(&scan, &pixels), frame, 65_535) else { return Ok(()) };
        let (light, shift, variance) = reference(&scan, &pixels, &frame);
        prop_assume!(shift.abs() < 20.0 && light > 2_000.0);
        let half = f64::from(frame.half);
        let bound = 1.0 / 512.0 + 0.8 * half * half / light;
        let error = f64::from(fit.shift.0) / 256.0 - shift;
        prop_assert!(error.abs() <= bound, "{error} of {bound}; {fit:?}");
        prop_assert!((f64::from(fit.light) - light).abs() <= half * 2.0 + 2.0, "{} {light}", fit.light);
        let width_bound = 0.02 + 2.0 * half * half * half / light + 2.0 * shift.abs() * bound;
        prop_assert!((f64::from(fit.variance_q8) / 256.0 - variance).abs() <= width_bound, "{variance} {fit:?}");
        // At 400 codes of peak, a sheet of 3 mm or less and a window that fits, that is below 0.013 pixel.
        if height >= 400.0 && sigma <= 11.8 && (4.0..4.5).contains(&(half / sigma)) && off.abs() < 1.0 {
            prop_assert!(bound < 0.013, "{bound}");
        }
    }

    #[test]
    fn no_scan_panics(codes in proptest::collection::vec(any::<u16>(), PIXELS), table in proptest::collection::vec(any::<i8>(), PIXELS),
        dark in any::<u16>(), stop in any::<u16>(), residual in any::<u16>(), from in any::<u16>(), to in any::<u16>(),
        widths in any::<(i32, i32)>(), bits in 0..16_u32)
    {
        let scan: Scan = core::array::from_fn(|i| codes[i] >> bits);
        let mut pixels = Pixels { dark, stop, residual, gain: core::array::from_fn(|i| table[i]) };
        let wanted = Wanted { narrowest: Micrometres(widths.0), widest: Micrometres(widths.1), first_pixel_at_board: bits % 2 == 0 };
        let _ = look(&scan, EXPOSURE, None, &pixels, &wanted);
        // With bad pixels few, it goes further.
        pixels.gain = [0; PIXELS];
        pixels.stop = u16::MAX;
        let _ = look(&scan, EXPOSURE, None, &pixels, &wanted);
        // Blocks at both ends of what a code can be, where sums are greatest.
        let (a, b) = (usize::from(from) % PIXELS, usize::from(to) % PIXELS);
        let blocks: Scan = core::array::from_fn(|i| if (a.min(b)..=a.max(b)).contains(&i) { u16::MAX } else { 0 });
        pixels.gain = [127; PIXELS];
        let seen = look(&blocks, EXPOSURE, None, &pixels, &Wanted::ANY);
        let _ = Wanted::of(Micrometres(widths.0));
        prop_assert!(seen.room >= Sixteenths(-65_535));
    }
}
