//! A head zeroed on a simulated rig, as a careful user would.

use crate::stand::{Stand, TODAY};
use skimgauge_bench::head::{Attitude, Place, Plate};
use skimgauge_bench::noise::Noise;
use skimgauge_metrology::zero::{BlockStill, Light, Outcome, Pair, Session, Still};
use skimgauge_shared::message::Request;

/// Nominal height of the rig's light over its plate, mm.
const LIGHT_MM: f64 = 8.0;
/// Standard uncertainty of that height: set on gauge blocks, mm.
const LIGHT_U_MM: f64 = 0.01;
/// Blocks, mm: gaps of 1 to 7 mm. Feeler stock with a certificate of 6 um (k = 2).
const BLOCKS_MM: [f64; 6] = [1.0, 2.0, 3.0, 4.5, 5.5, 7.0];
const BLOCK_U_MM: f64 = 0.003;
/// How the feet seat, mm: the room's own figure.
pub(crate) const SEAT_U_MM: f64 = 0.05;
/// The whole set is gone through so many times, the head seated anew at each block.
const ROUNDS: usize = 3;

/// Zeroes the head on its stand; the outcome is written to it.
pub(crate) fn zero(stand: &mut Stand, noise: &mut Noise) -> Result<Outcome, String> {
    stand.ask(&Request::StreamCodes { on: true });
    let true_light_mm = LIGHT_MM + noise.normal(LIGHT_U_MM);
    let plate = |block_mm: f64, lit: bool, level_deg: f64, lean_deg: f64| Plate {
        block_mm,
        light_mm: lit.then_some(true_light_mm),
        thickness_mm: 3.0,
        light_v: 1.2,
        level_deg,
        lean_deg,
    };
    let mut still = |stand: &mut Stand, plate: Plate, seated: bool| -> Result<Still, String> {
        stand.bench.scene(|scene| {
            if seated {
                scene.put(Place::Plate(plate), Attitude::Upright);
            }
            scene.roll_to_light(noise.normal(0.05));
        });
        stand.run(0.3);
        stand.gather(0.8).still().map_err(|e| e.to_string())
    };
    let dark = still(stand, plate(3.0, false, 0.0, 0.0), true)?;
    let mut blocks = Vec::new();
    for _ in 0..ROUNDS {
        for block_mm in BLOCKS_MM {
            let still = still(stand, plate(block_mm, true, 0.0, 0.0), true)?;
            blocks.push(BlockStill { block_mm, block_u_mm: BLOCK_U_MM, still });
        }
    }
    let rolls = vec![roll(stand, plate(3.0, true, 0.0, 0.0))];
    let (level_deg, lean_deg) = (noise.normal(0.5), noise.normal(0.5));
    let face = plate(3.0, true, level_deg, lean_deg);
    stand.bench.scene(|scene| scene.put(Place::Plate(face), Attitude::Upright));
    let mut turned = |attitude: Attitude| {
        stand.bench.scene(|scene| scene.turn_head(attitude));
        stand.run(0.6);
        stand.gather(1.0).still().map_err(|e| e.to_string())
    };
    let pair = Pair { first: turned(Attitude::Upright)?, second: turned(Attitude::Reversed)? };
    let session = Session {
        head: stand.hello.and_then(|h| h.serial).map(|s| s.to_string()).unwrap_or_default(),
        eye: true,
        light: Some(Light { height_mm: LIGHT_MM, u_mm: LIGHT_U_MM, on_the_spot: false }),
        seat_u_mm: SEAT_U_MM,
        sight_u_mm: 0.0,
        dark: Some(dark),
        rolls,
        blocks,
        level: Some(pair),
        lean: Some(pair),
    };
    stand.ask(&Request::StreamCodes { on: false });
    let before =
        stand.observer.calibration().map(|s| s.calibration.clone()).ok_or("no calibration")?;
    let outcome = session.finish(&before, TODAY, "heads").map_err(|e| e.to_string())?;
    stand.write(&outcome.calibration).map_err(|why| format!("not written: {why:?}"))?;
    Ok(outcome)
}

/// Rolls the slide through the light at 1.5 mm/s.
fn roll(stand: &mut Stand, plate: Plate) -> Vec<skimgauge_metrology::zero::RollPoint> {
    stand.bench.scene(|scene| {
        scene.put(Place::Plate(plate), Attitude::Upright);
        scene.roll_to_light(-1.5);
    });
    stand.run(0.2);
    stand.gathering = Some(Default::default());
    for _ in 0..200 {
        stand.bench.scene(|scene| scene.set_slide_mm(scene.slide_mm() + 0.015));
        stand.tick(&[]);
    }
    stand.gathering.take().unwrap_or_default().roll()
}
