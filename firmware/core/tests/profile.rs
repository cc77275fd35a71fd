//! The profile's arithmetic against floating point, and what it says of light that is made up here.

mod eye;

use eye::{BEAM, EXPOSURE, error_um, light, profile, seen};
use proptest::prelude::*;
use skimgauge_bench::part::pixel_line::Line;
use skimgauge_bench::room::profile::{Beam, Edge, RoomLight};
use skimgauge_head::profile::doubt::{Doubt, Trust};
use skimgauge_head::profile::window::{Fit, Frame, Span};
use skimgauge_head::profile::{PIXELS, Profile, Scan, Sixteenths, SubPixels, Wanted, look};
use skimgauge_head::profile::{Pixels, line::Lit};
use skimgauge_shared::units::Micrometres;

const EQUAL: Pixels = Pixels { dark: 0, stop: 3_475, residual: 0, gain: [0; PIXELS] };

/// Pixels without noise, inequality or anything in the dark; what is left is the converter's step.
fn quiet_line() -> Line {
    let mut line = Line::new(1);
    (line.noise_v, line.converter_noise, line.dark_v, line.bent) = (0.0, 0.0, 0.0, false);
    line.response = vec![1.0; PIXELS];
    line
}

#[test]
fn a_place_in_micrometres_is_its_pixels_times_the_pitch() {
    for (steps, um) in [
        (0, 0),
        (256, 64),
        (2_560, 635),
        (-2_560, -635),
        (255 * 256, 16_193),
        (1, 0),
        (3, 1),
        (-3, -1),
    ] {
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
                assert!(
                    error_um(&line, profile.middle, middle_mm).abs() < 0.6,
                    "{beam:?} {profile:?}"
                );
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
                assert!(
                    error_um.abs() < 1.0,
                    "slope {slope}, curve {curve}, at {middle_mm}: {error_um}"
                );
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
        let lit =
            Lit::new(&quiet_line().scan(&light(beam, RoomLight::even(0.3)), 0.0, 1_000.0), &EQUAL);
        let half = (sigma * 4.0) as i32 + 1;
        for off in [-2.0, -1.0, 1.0, 2.0] {
            let mut centre = 126 + (off * sigma) as i32;
            for _ in 0..3 {
                let [left, right] =
                    [centre - half - 16, centre + half + 1].map(|from| Span { from, len: 16 });
                let fit = Fit::of(&lit, Frame { centre, half, left, right }, 16).unwrap();
                centre += (fit.shift.0 + 128) >> 8;
            }
            let [left, right] =
                [centre - half - 16, centre + half + 1].map(|from| Span { from, len: 16 });
            let fit = Fit::of(&lit, Frame { centre, half, left, right }, 16).unwrap();
            assert!(fit.shift.0.abs() <= 130, "order {order}, {sigma} px, from {off}: {fit:?}");
            assert!((f64::from(fit.middle().0) / 256.0 - 8.0 / 0.0635).abs() < 0.01, "{fit:?}");
        }
    }
}

/// A window of two and a half standard deviations, half a pixel off: what it loses at its edges is
/// made up for.
#[test]
fn a_narrow_window_finds_its_middle_between_pixels() {
    for off in [-0.45, -0.2, 0.0, 0.3, 0.45] {
        let middle_mm = 0.4 + (120.0 + off) * 0.0635;
        let beam = Beam { middle_mm, ..BEAM };
        let lit =
            Lit::new(&quiet_line().scan(&light(beam, RoomLight::even(0.3)), 0.0, 1_000.0), &EQUAL);
        let frame = Frame {
            centre: 120,
            half: 24,
            left: Span { from: 72, len: 24 },
            right: Span { from: 145, len: 24 },
        };
        let fit = Fit::of(&lit, frame, 16).unwrap();
        for half in [9, 12, 15] {
            let middle = f64::from(fit.centred(&lit, half).unwrap().0) / 256.0;
            assert!((middle - 120.0 - off).abs() < 0.012, "{half}, {off}: {middle}");
        }
    }
}

/// The design's numerical trial: a sheet 1.5 mm thick, 12 bits, 3 % of pixel inequality that nobody
/// found, noise of 4 mV. There one scan's middle scattered by 4 um at 0.5 V over 0.1 V of room
/// light, 21 um over 1 V of room light, 34 um at 0.05 V.
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
            let frame = Frame {
                centre: 126,
                half: 24,
                left: Span { from: 78, len: 24 },
                right: Span { from: 151, len: 24 },
            };
            let fit = Fit::of(&Lit::new(&scan, &EQUAL), frame, 80).unwrap();
            square += error_um(&line, fit.middle(), middle_mm).powi(2);
        }
        let rms_um = (square / heads as f64).sqrt();
        println!("{sheet_v} V over {room_v} V: {rms_um:.1} um (trial: {trial_um} um)");
        assert!(
            (0.65..1.45).contains(&(rms_um / trial_um)),
            "{sheet_v} V over {room_v} V: {rms_um:.1} um"
        );
    }
}

/// What a scan says of its own scatter is what the middles do.
#[test]
fn a_profile_knows_its_scatter() {
    let mut line = Line::new(11);
    let pixels = line.compared(0.002);
    for (sheet_v, room_v) in [(1.5, 0.1), (0.4, 0.3), (0.15, 0.05)] {
        let light = light(Beam { volts_per_ms: sheet_v, ..BEAM }, RoomLight::even(room_v));
        let all: Vec<Profile> =
            (0..300).filter_map(|_| seen(&mut line, &light, &pixels).sheet.ok()).collect();
        assert!(all.len() > 250, "{sheet_v}: {}", all.len());
        let spread = |f: &dyn Fn(&Profile) -> f64| {
            let mean = all.iter().map(f).sum::<f64>() / all.len() as f64;
            (all.iter().map(|p| (f(p) - mean).powi(2)).sum::<f64>() / all.len() as f64).sqrt()
        };
        let stated =
            |f: &dyn Fn(&Profile) -> f64| all.iter().map(f).sum::<f64>() / all.len() as f64;
        let ratio = stated(&|p| f64::from(p.scatter.0) + 0.5) / spread(&|p| f64::from(p.middle.0));
        assert!((0.7..1.5).contains(&ratio), "{sheet_v}: middle {ratio}");
        let ratio = stated(&|p| f64::from(p.room_pull.scatter.0))
            / spread(&|p| f64::from(p.room_pull.by.0));
        assert!((0.7..1.5).contains(&ratio), "{sheet_v}: pull {ratio}");
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
        (half + left..=255 - half - right, Just((half, left, right))).prop_map(
            |(centre, (half, left, right))| Frame {
                centre,
                half,
                left: Span { from: centre - half - left, len: left },
                right: Span { from: centre + half + 1, len: right },
            },
        )
    })
}

/// The same sums in floating point, with gains as the table has them and no bend; the frame's own
/// centroid and light.
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
