//! A head zeroed on the simulated gauge, as a careful user would.

use crate::stand::{Stand, TODAY};
use skimgauge_bench::head::Attitude;
use skimgauge_bench::noise::Noise;
use skimgauge_bench::room::gauge::{Gauge, Slits};
use skimgauge_metrology::zero::{self, Gathering, Lamp, Mean, Outcome, Pair, Session, StillError};
use skimgauge_shared::message::Request;

/// The gauge's label, mm, and what it is known to.
const LABEL_MM: [f64; 2] = [3.002, 9.004];
const LABEL_U_MM: f64 = 0.006;
/// Slits out of line, dirt under the gauge, unevenness of its lamp: limits of 7.5, 5 and 5 um.
const GAUGE_U_MM: f64 = 0.0060;
/// Lean of a seat times the distance from spot to eye, as `zero` has it unless told otherwise.
const SEAT_U_MM: f64 = 0.012;
/// Stands on the board, and lifts by something of about this height, mm.
const SEATS: usize = 3;
const LIFTS_MM: [f64; 2] = [0.6, 1.2];

/// Zeroes the head on its stand; the outcome is written to it.
pub(crate) fn zero(stand: &mut Stand, noise: &mut Noise) -> Result<Outcome, String> {
    stand.ask(Request::StreamCodes { on: true });
    let of_all_mm = noise.normal(GAUGE_U_MM);
    let [low_mm, high_mm] = LABEL_MM.map(|mm| mm + of_all_mm + noise.normal(LABEL_U_MM));
    let gauge = Gauge { low_mm, high_mm, open: Slits::Both, ..Gauge::default() };
    let lifts = LIFTS_MM.map(|mm| mm + noise.normal(0.1));
    let mut stands = Vec::new();
    for lift_mm in [0.0; SEATS].into_iter().chain(lifts) {
        stand.bench.scene(|scene| {
            scene.clip(0.0, -600.0);
            scene.lift_mm = lift_mm;
            scene.set_gauge(Some(gauge));
        });
        stand.run(0.5);
        let still = gather(stand, 2.2).still().map_err(|why| why.to_string())?;
        stands.push(zero::Stand { lifted: lift_mm > 0.0, still });
    }
    stand.bench.scene(|scene| scene.lift_mm = 0.0);
    let mut turned = |attitude: Attitude| {
        stand.bench.scene(|scene| scene.turn_head(attitude));
        stand.run(0.6);
        gather(stand, 1.5).turned().map_err(|why| why.to_string())
    };
    let level = Pair { first: turned(Attitude::Upright)?, second: turned(Attitude::UpsideDown)? };
    let (dark, even) = pixels(stand).map_err(|why| why.to_string())?;
    stand.bench.scene(|scene| {
        (scene.card, scene.eye_covered) = (None, false);
        scene.turn_head(Attitude::Upright);
        scene.set_gauge(None);
    });
    let label = zero::Gauge { heights_mm: LABEL_MM.to_vec(), u_mm: LABEL_U_MM, lamp: Lamp::Own };
    let session = Session {
        head: stand.hello.and_then(|h| h.serial).map(|s| s.to_string()).unwrap_or_default(),
        gauge: Some(label),
        seat_u_mm: SEAT_U_MM,
        stands,
        level: Some(level),
        dark: Some(dark),
        even: Some(even),
    };
    stand.ask(Request::StreamCodes { on: false });
    let before =
        stand.observer.calibration().map(|s| s.calibration.clone()).ok_or("no calibration")?;
    let outcome = session.finish(&before, TODAY, "heads").map_err(|e| e.to_string())?;
    let table = outcome.pixels.as_deref().cloned();
    stand.write(&outcome.calibration, table).map_err(|why| format!("not written: {why:?}"))?;
    Ok(outcome)
}

/// The eye covered, then before a lit card.
fn pixels(stand: &mut Stand) -> Result<(Mean, Mean), StillError> {
    let mut seen = |covered: bool| {
        stand.bench.scene(|scene| {
            scene.set_gauge(None);
            scene.eye_covered = covered;
            scene.card = (!covered).then_some(0.8);
        });
        stand.run(0.5);
        gather(stand, 5.0).seen()
    };
    Ok((seen(true)?, seen(false)?))
}

/// Raw codes and profiles over so many seconds.
fn gather(stand: &mut Stand, seconds: f64) -> Gathering {
    stand.gathering = Some(Gathering::default());
    for _ in 0..(seconds / 0.22).ceil() as u32 {
        stand.ask(Request::ProfileWanted);
        stand.run(0.22);
    }
    stand.gathering.take().unwrap_or_default()
}
