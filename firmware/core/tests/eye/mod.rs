//! Lines of pixels and light for the tests of the profile.

use skimgauge_bench::part::pixel_line::Line;
use skimgauge_bench::room::profile::{Beam, Light, RoomLight, Shine};
use skimgauge_head::profile::Pixels;
use skimgauge_head::profile::{Profile, Seen, SubPixels, Wanted, look};
use skimgauge_shared::units::Microseconds;

pub(crate) const EXPOSURE: Option<Microseconds> = Some(Microseconds(1_000));

pub(crate) const BEAM: Beam = Beam {
    middle_mm: 7.03,
    thickness_mm: 1.5,
    order: 2.0,
    volts_per_ms: 1.5,
    azimuth_deg: 0.0,
    mirror: None,
};

pub(crate) fn light(beam: impl Into<Option<Beam>>, room: RoomLight) -> Light {
    Light { beam: beam.into(), shine: Shine::STEADY, room, ..Light::default() }
}

pub(crate) fn seen_as(line: &mut Line, light: &Light, pixels: &Pixels, wanted: &Wanted) -> Seen {
    look(&line.scan(light, 0.0, 1_000.0), EXPOSURE, None, pixels, wanted)
}

pub(crate) fn seen(line: &mut Line, light: &Light, pixels: &Pixels) -> Seen {
    seen_as(line, light, pixels, &Wanted::ANY)
}

pub(crate) fn profile(line: &mut Line, light: &Light, pixels: &Pixels) -> Profile {
    let seen = seen(line, light, pixels);
    seen.sheet.unwrap_or_else(|fault| panic!("{fault:?} at {light:?}"))
}

pub(crate) fn error_um(line: &Line, middle: SubPixels, true_mm: f64) -> f64 {
    (line.height_mm(f64::from(middle.0) / 256.0) - true_mm) * 1e3
}
