//! Zeroing: the straight line held against GUM H.3, and constants found again from what a head of
//! known constants reads.

mod stream;
mod table;

use skimgauge_metrology::measure::ZERO_GAP_MM;
use skimgauge_metrology::zero::line::Line;
use skimgauge_metrology::zero::{
    BlockStill, Check, Checked, Light, Outcome, Pair, RollPoint, Session, Step, Still, ZeroError,
};
use skimgauge_shared::calibration::{Calibration, Date, PIVOT_CODE};
use stream::{Chance, HEAD};
use table::Table;

/// JCGM 100:2008 H.3, calibration of a thermometer (data and results as read in GTC 1.5.1 and
/// suncal 1.7).
#[test]
fn gum_h3_straight_line() {
    let data = Table::read(include_str!("data/gum_h3.csv"));
    let points: Vec<(f64, f64)> =
        data.numbers("t_degC").into_iter().zip(data.numbers("b_degC")).collect();
    let line = Line::through(&points, 20.0).unwrap();
    let close = |got: f64, want: f64, tolerance: f64| {
        assert!((got - want).abs() <= tolerance, "{got}, want {want}");
    };
    close(line.at_origin, -0.171_203_790_131_35, 1e-12);
    close(line.slope, 0.002_182_697_739_89, 1e-13);
    close(line.at_origin_u, 0.0029, 5e-5);
    close(line.slope_u, 0.000_667_938_772_823, 1e-12);
    close(line.correlation, -0.930, 5e-4);
    close(line.scatter, 0.0035, 5e-5);
    let (at_30, u_30) = line.at(30.0);
    close(at_30, -0.1494, 5e-5);
    close(u_30, 0.0041, 5e-5);
    assert_eq!(line.dof, 9);
}

/// NBS Handbook 91, 5-4.1: Young's modulus against temperature (figures as read in the test suite
/// of suncal 1.7).
#[test]
fn nbs_handbook_91_straight_line() {
    let y = [
        4642., 4612., 4565., 4513., 4476., 4433., 4389., 4347., 4303., 4251., 4201., 4140., 4100.,
        4073., 4024., 3999.,
    ];
    let x = std::iter::once(30.0).chain((1..16).map(|k| 100.0 * f64::from(k)));
    let line = Line::through(&x.zip(y).collect::<Vec<_>>(), 0.0).unwrap();
    let close =
        |got: f64, want: f64| assert!((got / want - 1.0).abs() < 1e-6, "{got}, want {want}");
    close(line.slope, -0.44985482);
    close(line.at_origin, 4654.9846);
    close(line.slope_u.powi(2), 2.5649045e-5);
    close(line.at_origin_u.powi(2), 19.879452);
    close(line.scatter, 9.277617);
}

/// A head of known constants on the rig.
struct Rig {
    chance: Chance,
    slope: f64,
    bend: f64,
    per_k: f64,
    sum_mm: f64,
    thickness_mm: f64,
    dark: [f64; 2],
    offset_deg: [f64; 2],
    light_error_mm: f64,
    seat_mm: f64,
}

const LIGHT_MM: f64 = 9.0;

impl Rig {
    fn new(seed: u64) -> Self {
        let mut chance = Chance(seed);
        Self {
            slope: 833.333e-6 * (1.0 + chance.normal(0.004)),
            bend: chance.normal(0.02) / 10_200_f64.powi(2),
            per_k: chance.normal(0.002),
            sum_mm: 1.667 + chance.normal(0.3),
            thickness_mm: 3.0,
            dark: [240.0 + chance.normal(30.0), 240.0 + chance.normal(30.0)],
            offset_deg: [chance.normal(0.3), chance.normal(0.3)],
            light_error_mm: 0.0,
            seat_mm: 0.0,
            chance,
        }
    }

    /// What the stand-off's code is when the eye's centre is over the board face by this.
    fn code_at(&self, eye_mm: f64, temperature_c: f64) -> f64 {
        let wanted = eye_mm - self.sum_mm - self.per_k * (temperature_c - 20.0);
        (0..20).fold(wanted / self.slope, |d, _| (wanted - self.bend * d * d) / self.slope)
            + f64::from(PIVOT_CODE)
    }

    /// Outer and inner cell with the light's middle so far above the eye's centre.
    fn cells(&mut self, e_mm: f64) -> [f64; 2] {
        let below = |u: f64| match u {
            u if u <= -0.5 => 0.0,
            u if u >= 0.5 => 1.0,
            u => 0.5 + u + (std::f64::consts::TAU * u).sin() / std::f64::consts::TAU,
        };
        let outer = 1.0 - below(-e_mm / self.thickness_mm);
        let light = 9_000.0;
        [0, 1].map(|k| {
            let share = if k == 0 { outer } else { 1.0 - outer };
            self.dark[k] + light * share + self.chance.normal(8.0)
        })
    }

    fn still(&mut self, block_mm: f64, off_mm: f64, temperature_c: f64) -> Still {
        let seat_mm = self.chance.normal(1.0) * self.seat_mm;
        // The eye is off the light's middle by `off_mm`; the gap is what the light leaves over the
        // block.
        let gap_mm = LIGHT_MM + self.light_error_mm - block_mm + seat_mm;
        let n = 200.0_f64;
        let code =
            self.code_at(gap_mm - off_mm, temperature_c) + self.chance.normal(12.0 / n.sqrt());
        let mut cells = [0.0; 2];
        for _ in 0..200 {
            let one = self.cells(off_mm);
            cells = [cells[0] + one[0] / n, cells[1] + one[1] / n];
        }
        let [outer, inner] = cells;
        Still {
            stand_off: code,
            stand_off_u: 12.0 / n.sqrt(),
            outer,
            inner,
            angles: None,
            temperature_c: Some(temperature_c),
            readings: 200,
        }
    }

    fn roll(&mut self) -> Vec<RollPoint> {
        (0..400)
            .map(|k| {
                let e_mm = 2.0 - f64::from(k) * 0.01;
                let stand_off = self.code_at(LIGHT_MM - e_mm, 21.0) + self.chance.normal(12.0);
                let [outer, inner] = self.cells(e_mm);
                RollPoint { stand_off, outer, inner }
            })
            .collect()
    }

    fn tilted(&mut self, true_deg: f64, axis: usize) -> Pair {
        let still = |angle: f64, rig: &mut Self| {
            let mut still = rig.still(4.0, 0.0, 21.0);
            let mut angles = [0.0; 2];
            angles[axis] = (angle + rig.offset_deg[axis]) / (90.0 / 16_384.0);
            still.angles = Some(angles);
            still
        };
        Pair { first: still(true_deg, self), second: still(-true_deg, self) }
    }

    fn session(&mut self, blocks_mm: &[f64]) -> Session {
        let mut dark = self.still(4.0, 0.0, 21.0);
        [dark.outer, dark.inner] = self.dark;
        let rolls = vec![self.roll(), self.roll()];
        let blocks = blocks_mm
            .iter()
            .map(|&block_mm| {
                let off_mm = self.chance.normal(0.05);
                BlockStill {
                    block_mm,
                    block_u_mm: 0.001,
                    still: self.still(block_mm, off_mm, 21.0),
                }
            })
            .collect();
        Session {
            head: HEAD.to_string(),
            eye: true,
            light: Some(Light { height_mm: LIGHT_MM, u_mm: 0.01, on_the_spot: true }),
            seat_u_mm: 0.005,
            sight_u_mm: 0.0,
            dark: Some(dark),
            rolls,
            blocks,
            level: Some(self.tilted(0.7, 0)),
            lean: Some(self.tilted(-0.4, 1)),
        }
    }

    /// What the head with these constants says of a gap, less the truth, mm.
    fn error_mm(&self, constants: &Calibration, gap_mm: f64) -> f64 {
        let code = self.code_at(gap_mm, 21.0);
        let temperature = Some(skimgauge_shared::units::CentiCelsius(2_100));
        let s = constants.stand_off((code * 16.0).round() as i32, temperature).value().unwrap();
        (s + constants.zero).mm() - gap_mm
    }
}

const DAY: Date = Date { year: 2026, month: 7, day: 2 };
const BLOCKS_MM: [f64; 7] = [1.0, 2.0, 3.0, 4.0, 5.0, 6.5, 8.0];

fn finished(rig: &mut Rig) -> Outcome {
    rig.session(&BLOCKS_MM).finish(&Calibration::nominal(HEAD), DAY, "A. Tester").unwrap()
}

#[test]
fn constants_are_found_again() {
    for seed in 0..20 {
        let mut rig = Rig::new(seed);
        let outcome = finished(&mut rig);
        let new = &outcome.calibration;
        for gap_mm in [1.0, 2.0, 3.0, 5.0, 8.0] {
            assert!(
                rig.error_mm(new, gap_mm).abs() < 0.02,
                "seed {seed}, {gap_mm}: {}",
                rig.error_mm(new, gap_mm)
            );
        }
        // A raised cosine's ratio rises by 4 / thickness at its middle.
        assert!((new.eye.scale.mm() / 0.75 - 1.0).abs() < 0.02, "{:?}", new.eye);
        assert!((new.tilt_offset.level.degrees() - rig.offset_deg[0]).abs() < 1e-5);
        assert!((new.tilt_offset.lean.degrees() - rig.offset_deg[1]).abs() < 1e-5);
        assert_eq!(new.date, DAY);
        assert_eq!(new.by.as_str(), "A. Tester");
        assert!(outcome.kept.is_empty() && new.plausible());
        let budget = outcome.budget.unwrap();
        assert!((budget.u() - new.zero_u.mm()).abs() < 0.0006, "{}", budget.table(0.95));
    }
}

/// Over many rigs: errors after zeroing against stated uncertainty, at and away from the zero's own
/// gap.
#[test]
fn stated_uncertainty_covers_the_errors() {
    for gap_mm in [1.0, ZERO_GAP_MM, 7.5] {
        let (mut inside, n) = (0, 400);
        let mut squares = 0.0;
        for seed in 0..n {
            let mut rig = Rig::new(1_000 + seed);
            rig.light_error_mm = rig.chance.normal(0.01);
            rig.seat_mm = 0.005;
            let outcome = finished(&mut rig);
            let new = &outcome.calibration;
            let u_mm =
                new.zero_u.mm().hypot(new.stand_off.slope_u.fraction() * (gap_mm - ZERO_GAP_MM));
            let error_mm = rig.error_mm(new, gap_mm);
            inside += u32::from(error_mm.abs() < 2.0 * u_mm);
            squares += (error_mm / u_mm).powi(2) / n as f64;
        }
        let share = f64::from(inside) / n as f64;
        assert!(share > 0.93, "gap {gap_mm}: {share} inside");
        // Honest, not lavish.
        assert!(squares.sqrt() > 0.5 && squares.sqrt() < 1.1, "gap {gap_mm}: {}", squares.sqrt());
    }
}

#[test]
fn a_bend_is_taken_when_the_residuals_ask_for_it_and_only_then() {
    let mut straight = Rig { bend: 0.0, ..Rig::new(1) };
    assert!(!finished(&mut straight).bent);
    let mut bent = Rig { bend: 0.1 / 10_200_f64.powi(2), ..Rig::new(1) };
    assert!(finished(&mut bent).bent);
}

#[test]
fn two_temperatures_make_a_coefficient() {
    let mut rig = Rig { per_k: 0.004, ..Rig::new(5) };
    let mut session = rig.session(&BLOCKS_MM);
    session.blocks.extend([2.0, 4.0, 6.5].map(|block_mm| BlockStill {
        block_mm,
        block_u_mm: 0.001,
        still: rig.still(block_mm, 0.0, 33.0),
    }));
    let new = session.finish(&Calibration::nominal(HEAD), DAY, "x").unwrap().calibration;
    assert!(
        (f64::from(new.stand_off.temperature_nm_per_k) - 4_000.0).abs() < 400.0,
        "{:?}",
        new.stand_off
    );
    assert!(rig.error_mm(&new, 3.0).abs() < 0.015);
}

#[test]
fn a_session_is_put_aside_and_taken_up_again() {
    let mut rig = Rig::new(2);
    let session = rig.session(&BLOCKS_MM);
    let text = serde_json::to_string(&session).unwrap();
    let again: Session = serde_json::from_str(&text).unwrap();
    let before = Calibration::nominal(HEAD);
    assert_eq!(
        again.finish(&before, DAY, "x").unwrap().calibration,
        session.finish(&before, DAY, "x").unwrap().calibration
    );
}

#[test]
fn steps_that_were_not_made_keep_their_constants() {
    let mut rig = Rig::new(3);
    let whole = rig.session(&BLOCKS_MM);
    let only_level = Session { level: whole.level, ..Session { eye: true, ..Session::default() } };
    let before = Calibration::nominal(HEAD);
    let outcome = only_level.finish(&before, DAY, "x").unwrap();
    assert_eq!(outcome.kept, [Step::Dark, Step::Roll, Step::Blocks, Step::Lean]);
    assert_eq!(outcome.calibration.zero, before.zero);
    assert_eq!(outcome.calibration.tilt_offset.lean, before.tilt_offset.lean);
    assert_ne!(outcome.calibration.tilt_offset.level, before.tilt_offset.level);
    // Without a light of known height there is a scale, and the zero stays.
    let unlit = Session { light: None, ..whole };
    let outcome = unlit.finish(&before, DAY, "x").unwrap();
    assert_eq!(outcome.calibration.zero, before.zero);
    assert_ne!(outcome.calibration.stand_off.slope_pm_per_code, before.stand_off.slope_pm_per_code);
}

#[test]
fn slips_are_named() {
    let before = Calibration::nominal(HEAD);
    let finish = |session: &Session| session.finish(&before, DAY, "x").unwrap_err();
    assert_eq!(finish(&Session::default()), ZeroError::Nothing);
    let mut rig = Rig::new(4);
    let whole = rig.session(&BLOCKS_MM);
    let mut few = whole.clone();
    few.blocks.truncate(2);
    assert_eq!(finish(&few), ZeroError::TooFewBlocks { have: 2 });
    let mut off = whole.clone();
    off.blocks[3].still = rig.still(4.0, 0.5, 21.0);
    assert!(matches!(finish(&off), ZeroError::NotCentred { block_mm, .. } if block_mm == 4.0));
    let mut dark = whole.clone();
    [dark.blocks[0].still.outer, dark.blocks[0].still.inner] = rig.dark;
    assert!(matches!(finish(&dark), ZeroError::NoLight { .. }));
    let mut short = whole.clone();
    short.rolls = vec![short.rolls[0][..150].to_vec()];
    assert!(matches!(finish(&short), ZeroError::RollTooFast { .. } | ZeroError::RollTooShort));
    let mut swapped = whole.clone();
    for point in swapped.rolls.iter_mut().flatten() {
        std::mem::swap(&mut point.outer, &mut point.inner);
    }
    assert_eq!(finish(&swapped), ZeroError::RollBackwards);
    // A block named wrongly by a millimetre shows in the residuals and in the uncertainty, not
    // silently in the zero.
    let mut wrong = whole.clone();
    wrong.blocks[2].block_mm += 0.5;
    let outcome = wrong.finish(&before, DAY, "x").unwrap();
    assert!(outcome.birge.unwrap() > 5.0);
    let worst = outcome
        .residuals
        .iter()
        .max_by(|a, b| a.residual_mm.abs().total_cmp(&b.residual_mm.abs()))
        .unwrap();
    assert_eq!(worst.block_mm, 3.5);
    assert!(outcome.calibration.zero_u.mm() > 0.05);
    let mut tipped = whole;
    tipped.level = Some(Pair { second: tipped.level.unwrap().first, ..rig.tilted(20.0, 0) });
    assert!(matches!(finish(&tipped), ZeroError::Reversal { step: Step::Level, .. }));
}

#[test]
fn a_check_says_still_good_or_not() {
    let mut stream = stream::Stream::new(1);
    stream.run(3.0);
    let take = stream.observer.take(stream.now_s()).unwrap();
    assert_eq!(Check::of(&take, 3.0, 0.002).checked, Checked::StillGood);
    assert_eq!(Check::of(&take, 3.4, 0.002).checked, Checked::NotGood);
    assert_eq!(Check::of(&take, 3.0, 0.5).checked, Checked::CannotTell);
    let said = Check::of(&take, 3.4, 0.002).sentence().text(skimgauge_quantity::Style::default());
    assert!(said.contains("Not good any more"), "{said}");
}
