//! Scans a second against light that flickers with the mains: what is left in means over half a
//! second.

use skimgauge_bench::part::pixel_line::Line;
use skimgauge_bench::room::profile::{Beam, Edge, Light, RoomLight};
use skimgauge_head::profile::{Wanted, look};
use skimgauge_shared::pixels::Pixels;
use skimgauge_shared::units::Microseconds;

/// From the least to the greatest mean over half a second within 30 s.
pub(crate) struct Swing {
    /// Of the room's light, as a share of its mean.
    pub room: f64,
    /// Of the middle, um.
    pub middle_um: f64,
    /// Share of the scans that were read.
    pub read: f64,
}

/// A sheet with a soft shadow's edge under it, too weak to be said, so that the room's light pulls
/// its middle; the light flickers to nothing.
pub(crate) fn swing(scans_a_second: f64, flicker_hz: f64) -> Swing {
    const SECONDS: f64 = 30.0;
    const EXPOSURE_US: f64 = 1_000.0;
    let mut line = Line::new(3);
    let pixels: Pixels = line.compared(0.0005);
    let beam = Beam {
        middle_mm: 8.0,
        thickness_mm: 1.5,
        order: 2.0,
        volts_per_ms: 1.5,
        azimuth_deg: 0.0,
        mirror: None,
    };
    let edge = Edge { at_mm: 8.1, change: 0.08, blur_mm: 1.0 };
    let room = RoomLight { edges: vec![edge], flicker_hz, flicker: 1.0, ..RoomLight::even(0.25) };
    let light = Light { beam: Some(beam), room, ..Light::default() };
    let in_half_a_second = (scans_a_second / 2.0).round() as usize;
    let (mut rooms, mut middles) = (Vec::new(), Vec::new());
    let mut before = None;
    for k in 0..(SECONDS * scans_a_second) as usize {
        let from_us = k as f64 * 1e6 / scans_a_second;
        let scan = line.scan(&light, from_us, from_us + EXPOSURE_US);
        let seen = look(&scan, Some(Microseconds(1_000)), before, &pixels, &Wanted::ANY);
        before = Some(seen.fingerprint);
        rooms.push(f64::from(seen.room.0));
        middles.push(
            seen.sheet.map_or(f64::NAN, |profile| f64::from(profile.middle.0) / 256.0 * 63.5),
        );
    }
    let swing = |all: &[f64]| {
        let means = all.chunks_exact(in_half_a_second).map(|half| {
            let good: Vec<f64> = half.iter().copied().filter(|x| x.is_finite()).collect();
            good.iter().sum::<f64>() / good.len() as f64
        });
        let (low, high) = means
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), m| (low.min(m), high.max(m)));
        high - low
    };
    let read =
        middles.iter().filter(|middle| middle.is_finite()).count() as f64 / middles.len() as f64;
    Swing {
        read,
        room: swing(&rooms) / (rooms.iter().sum::<f64>() / rooms.len() as f64),
        middle_um: swing(&middles),
    }
}

pub(crate) fn print() {
    println!(
        "{:>8} {:>10} {:>22} {:>16} {:>10}",
        "scans/s", "flicker", "swing of room light", "of the middle", "read"
    );
    for flicker_hz in [100.04, 120.05] {
        for scans in [90.0, 100.0, 120.0] {
            let Swing { room, middle_um, read } = swing(scans, flicker_hz);
            println!(
                "{scans:>8} {:>10} {:>20.0} % {middle_um:>13.2} um {:>8.0} %",
                format!("{flicker_hz} Hz"),
                room * 100.0,
                read * 100.0
            );
        }
    }
    println!("without flicker: {:.2} um", swing(90.0, 0.0).middle_um);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// At 100 scans a second mains light of 100 Hz crawls through the readings; at 90 neither it
    /// nor that of 120 Hz is seen.
    #[test]
    fn ninety_scans_a_second_do_not_beat_with_the_mains_and_a_hundred_do() {
        let beats = swing(100.0, 100.04);
        assert!(beats.room > 1.0 && beats.middle_um > 8.0, "{} {}", beats.room, beats.middle_um);
        for flicker_hz in [100.04, 120.05] {
            let calm = swing(90.0, flicker_hz);
            assert!(
                calm.room < 0.1 && calm.middle_um < 4.0,
                "{flicker_hz}: {} {}",
                calm.room,
                calm.middle_um
            );
        }
    }
}
