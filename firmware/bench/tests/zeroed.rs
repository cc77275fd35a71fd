//! A zeroed head measures the true gap.

use skimgauge_bench::bench::Bench;
use skimgauge_bench::head::Seat;
use skimgauge_bench::virtual_head::VirtualHead;
use skimgauge_bench::zeroed;
use skimgauge_shared::calibration::Date;
use skimgauge_shared::frame::{Decoder, Fed};
use skimgauge_shared::message::Report;

#[test]
fn a_zeroed_head_measures_the_true_gap_and_tilt() {
    for seed in 0..20 {
        let bench = Bench::new(seed);
        let mut head = VirtualHead::new(bench.clone());
        let constants = bench.scene(|scene| {
            zeroed::calibration(&scene.head, Date { year: 2026, month: 1, day: 1 }, "test")
        });
        assert!(zeroed::write(&mut head, &constants), "seed {seed}");
        bench.scene(|scene| {
            scene.set_seat(Seat::default());
            scene.roll_to_light(0.05);
        });
        let mut decoder = Decoder::new();
        let (mut gaps, mut tilts) = (Vec::new(), Vec::new());
        let until = bench.now_us() + 2_000_000;
        head.run_until(until, &[], &mut |sent| {
            for byte in sent {
                if let Fed::Message(Report::Reading(reading)) = decoder.feed(*byte)
                    && let (Some(s), Some(r), Some(tilt)) =
                        (reading.stand_off.value(), reading.eye.value(), reading.tilt.value())
                {
                    gaps.push(constants.gap(s, r).mm());
                    tilts.push([tilt.level.degrees(), tilt.lean.degrees()]);
                }
            }
        });
        let truth = bench.truth();
        let gap = gaps.iter().sum::<f64>() / gaps.len() as f64;
        assert!((gap - truth.gap_mm.unwrap()).abs() < 0.05, "seed {seed}: {gap} against {truth:?}");
        let mean = |axis: usize| tilts.iter().map(|t| t[axis]).sum::<f64>() / tilts.len() as f64;
        assert!(
            (mean(0) - truth.level_deg).abs() < 0.03,
            "seed {seed}: {} against {truth:?}",
            mean(0)
        );
        assert!(
            (mean(1) - truth.lean_deg).abs() < 0.03,
            "seed {seed}: {} against {truth:?}",
            mean(1)
        );
    }
}
