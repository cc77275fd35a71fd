//! Allan deviations held against the published test sets.

mod table;

use skimgauge_metrology::measure::allan::{
    Running, adev, degrees_of_freedom, modified, overlapping,
};
use table::Table;

/// The published values have seven digits.
fn printed(got: Option<f64>, want: f64) {
    let got = got.expect("enough values");
    assert!((got / want - 1.0).abs() < 2e-7, "got {got}, published {want}");
}

/// NIST Special Publication 1065 (Riley, 2008), 12.4: 1000 values of a linear congruential
/// generator, with the published deviations at averages of 1, 10 and 100 (read in the test suite of
/// allantools 2024.6, which cites it).
#[test]
fn nist_sp_1065_thousand_point_set() {
    let values = Table::read(include_str!("data/nbs14_1000.csv")).numbers("y");
    assert_eq!(values.len(), 1000);
    for (m, plain, overlapped, modif) in [
        (1, 2.922319e-1, 2.922319e-1, 2.922319e-1),
        (10, 9.965736e-2, 9.159953e-2, 6.172376e-2),
        (100, 3.897804e-2, 3.241343e-2, 2.170921e-2),
    ] {
        printed(adev(&values, m), plain);
        printed(overlapping(&values, m), overlapped);
        printed(modified(&values, m), modif);
    }
}

/// The octaves of the same set, recomputed for this project from the published recipe; the
/// five-digit values that an independent program printed (read in allantools 2024.6,
/// `phase_dat_oadev_octave.txt`) agree.
#[test]
fn octaves_of_the_thousand_point_set_batch_and_running() {
    let table = Table::read(include_str!("data/nbs14_1000.csv"));
    let values = table.numbers("y");
    let wanted = [
        0.292_231_878_1,
        0.201_016_042_2,
        0.144_791_307_2,
        0.105_703_850_1,
        0.061_914_778_42,
        0.048_082_142_62,
        0.036_237_212_99,
        0.027_673_855_82,
        0.010_282_217_64,
    ];
    // The set is made of integers over 2^31 - 1: the running form takes them as they are, exactly.
    let mut running = Running::new(u32::MAX);
    table.numbers("n").iter().for_each(|&n| running.push(n as i32));
    for (octave, want) in wanted.into_iter().enumerate() {
        let got = overlapping(&values, 1 << octave).unwrap();
        assert!((got / want - 1.0).abs() < 1e-9, "octave {octave}: {got}");
        match running.deviation(octave) {
            Some(got) => {
                assert!(
                    (got / 2_147_483_647.0 / want - 1.0).abs() < 1e-9,
                    "octave {octave}: {got}"
                );
            }
            None => assert_eq!(octave, 8, "488 terms are fewer than twice 256"),
        }
    }
}

/// NBS Monograph 140 (1974), annex 8.E: nine frequencies, with the deviations at averages of 1 and
/// 2 as SP 1065 gives them (read in allantools 2024.6, `tests/nbs14`).
#[test]
fn nbs_14_nine_point_set() {
    let values = [892.0, 809.0, 823.0, 798.0, 671.0, 644.0, 883.0, 903.0, 677.0];
    printed(adev(&values, 1), 91.22945);
    printed(adev(&values, 2), 115.8082);
    printed(overlapping(&values, 1), 91.22945);
    printed(overlapping(&values, 2), 85.95287);
    printed(modified(&values, 1), 91.22945);
    printed(modified(&values, 2), 74.78849);
}

/// Degrees of freedom against the scatter of the estimate itself over many streams of white noise:
/// for a chi-square variable, twice the square of the mean over the variance.
#[test]
fn degrees_of_freedom_are_those_of_white_noise() {
    let mut state = 1_u64;
    let mut uniform = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    for (n, m) in [(100, 4), (100, 16), (60, 10), (200, 33)] {
        let variances: Vec<f64> = (0..4000)
            .map(|_| {
                let white: Vec<f64> =
                    (0..n).map(|_| (0..12).map(|_| uniform()).sum::<f64>()).collect();
                overlapping(&white, m).unwrap().powi(2)
            })
            .collect();
        let mean = variances.iter().sum::<f64>() / 4000.0;
        let spread = variances.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 3999.0;
        let actual = 2.0 * mean * mean / spread;
        let stated = degrees_of_freedom(n, m);
        assert!(
            (stated / actual - 1.0).abs() < 0.15,
            "n {n}, m {m}: stated {stated}, actual {actual}"
        );
    }
}
