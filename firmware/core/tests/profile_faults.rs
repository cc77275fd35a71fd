//! Every fault of the profile by name, from light and pixels that are made up here.

mod eye;

use eye::{BEAM, EXPOSURE, error_um, light, profile, seen, seen_as};
use skimgauge_bench::part::pixel_line::{Broken, Line};
use skimgauge_bench::room::profile::{Beam, Edge, Light, Mirror, RoomLight};
use skimgauge_head::profile::Pixels;
use skimgauge_head::profile::{Fault, PIXELS, Profile, Wanted, look};
use skimgauge_shared::units::Micrometres;

/// What most of a hundred scans say.
fn usually(
    line: &mut Line,
    light: &Light,
    pixels: &Pixels,
    wanted: &Wanted,
) -> Result<Profile, Fault> {
    let all: Vec<_> = (0..100).map(|_| seen_as(line, light, pixels, wanted).sheet).collect();
    let same = |a: &Result<Profile, Fault>, b: &Result<Profile, Fault>| {
        a.is_ok() && b.is_ok() || a.err() == b.err()
    };
    *all.iter().max_by_key(|a| all.iter().filter(|b| same(a, b)).count()).unwrap()
}

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
    assert_eq!(
        said(&light(None, RoomLight { slope: 1.5, ..RoomLight::even(1.0) })).err(),
        Some(Fault::NoLight)
    );
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
        assert_eq!(
            (seen.sheet, seen.bad_pixel),
            (Err(Fault::BadPixels), Some(i as u8)),
            "{broken:?} at {i}"
        );
        // It does not set the exposure.
        assert!(seen.brightest < 2_600, "{broken:?}: {}", seen.brightest);
        // Once known it is bridged.
        let pixels = line.compared(0.002);
        let bridged = profile(&mut line, &light, &pixels);
        assert!(
            (bridged.middle.0 - good.middle.0).abs() < 15,
            "{broken:?} at {i}: {good:?} {bridged:?}"
        );
    }
    // Too many, or two side by side, are not.
    let (mut line, mut pixels) = head();
    (pixels.gain[50], pixels.gain[51]) = (Pixels::BAD, Pixels::BAD);
    assert_eq!(
        seen(&mut line, &light(BEAM, RoomLight::even(0.1)), &pixels).sheet,
        Err(Fault::BadPixels)
    );
}

#[test]
fn light_that_leaves_the_window() {
    for middle_mm in [0.3, 0.9, 1.2, 15.7, 16.2, 16.8] {
        let cut = said(&light(Beam { middle_mm, ..BEAM }, RoomLight::even(0.1)));
        assert_eq!(cut.err(), Some(Fault::Cut), "{middle_mm}");
    }
    for middle_mm in [2.0, 14.8] {
        assert!(
            said(&light(Beam { middle_mm, ..BEAM }, RoomLight::even(0.1))).is_ok(),
            "{middle_mm}"
        );
    }
}

/// On its way out a sheet is read, or leaves the window, or is gone: an even room is not blamed for
/// what is missing of the sheet.
#[test]
fn a_sheet_on_its_way_out_of_the_eye_is_not_blamed_on_the_room() {
    let mut wrong = Vec::new();
    for thickness_mm in [0.8, 1.5, 2.0, 3.0] {
        for (slope, volts_per_ms) in [(0.0, 1.5), (0.3, 1.5), (0.0, 0.4)] {
            for step in -60..=60 {
                // Over the first pixel and over the last.
                let out_mm = 0.08 * f64::from(step);
                let middle_mm = if step < 0 { 3.8 + out_mm } else { 13.5 + out_mm };
                let beam = Beam { middle_mm, thickness_mm, volts_per_ms, ..BEAM };
                let room = RoomLight { slope, ..RoomLight::even(0.1) };
                let said = said(&light(beam, room));
                if !matches!(said, Ok(_) | Err(Fault::Cut | Fault::NoLight)) {
                    wrong.push((thickness_mm, slope, volts_per_ms, middle_mm, said.err()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
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
        let mirror =
            Some(Mirror { rise_mm: BEAM.middle_mm - apart_mm / 2.0, gloss, grazing_mrad: 3.0 });
        light(Beam { mirror, ..BEAM }, RoomLight::even(0.1))
    };
    // Half a thickness apart and more, any strength that could pull the middle by 20 um.
    for apart_mm in [0.75, 1.0, 1.3, 1.7] {
        for gloss in [0.05, 0.1, 0.3, 0.6, 1.0] {
            let said = usually(&mut line, &mirrored(apart_mm, gloss), &pixels, &wanted);
            let right =
                said.is_ok_and(|read| error_um(&line, read.middle, BEAM.middle_mm).abs() < 15.0);
            assert!(said.is_err() || right, "{apart_mm} mm, {gloss}: {said:?}");
            assert!(said.is_err() || apart_mm > 1.5, "{apart_mm} mm, {gloss}: {said:?}");
        }
    }
    let past = usually(&mut line, &mirrored(3.4, 0.5), &pixels, &wanted).unwrap();
    let second = past.second.expect("named");
    assert!((line.height_mm(f64::from(second.at.0) / 256.0) - 3.63).abs() < 0.2, "{second:?}");
    assert!(
        (f64::from(second.height.0) / f64::from(past.height.0) - 0.49).abs() < 0.05,
        "{past:?}"
    );
    assert!(error_um(&line, past.middle, BEAM.middle_mm).abs() < 8.0, "{past:?}");
    // As bright as the sheet: which is which?
    assert_eq!(
        usually(&mut line, &mirrored(3.4, 0.95), &pixels, &wanted).err(),
        Some(Fault::TwoSheets)
    );
}

#[test]
fn a_shadows_edge_under_the_sheet() {
    let edge = |at_mm: f64, change: f64| Edge { at_mm, change, blur_mm: 0.1 };
    let room = |edges: Vec<Edge>| RoomLight { edges, ..RoomLight::even(0.5) };
    for at_mm in [6.4, 7.0, 7.8] {
        let said = said(&light(BEAM, room(vec![edge(at_mm, 0.8)])));
        assert!(
            matches!(said, Err(Fault::UnevenRoomLight | Fault::TwoSheets)),
            "{at_mm}: {said:?}"
        );
    }
    // Far away it does no harm; alone it is no sheet.
    assert!(said(&light(BEAM, room(vec![edge(13.0, 0.8)]))).is_ok());
    for at_mm in [3.0, 7.0, 12.0] {
        for blur_mm in [0.05, 1.0, 3.0] {
            let said = said(&light(None, room(vec![Edge { at_mm, change: 0.8, blur_mm }])));
            assert!(
                matches!(said, Err(Fault::NoLight | Fault::Cut)),
                "{at_mm}, {blur_mm}: {said:?}"
            );
        }
    }
}
