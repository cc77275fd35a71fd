//! Several seats at one station as one take: lifting the head and clipping it on again averages
//! what its feet do.

use super::take::{Part, Source, Take, combine};
use crate::coverage::chi_square_tail;
use serde::{Deserialize, Serialize};

/// Seats that differ as much as this less often than once in so many are said to differ.
const RARE: f64 = 0.01;

/// How the seats at a station agree.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "are", rename_all = "snake_case")]
pub enum Seats {
    /// As well as their stated scatter and seating let one expect.
    Agreeing,
    /// By more than that: dirt under a foot, or something moved.
    Differing {
        /// Largest less smallest gap, mm.
        range_mm: f64,
    },
}

/// The mean of the takes at one station, each from a seat of its own; `None` without any.
///
/// Seating and scatter fall with the root of their number; everything else is the same at every
/// seat and does not. Where the seats differ by more than seating explains, their own standard
/// deviation, with its few degrees of freedom, stands in the place of both if it is the larger.
pub fn mean(takes: &[Take]) -> Option<(Take, Seats)> {
    let (last, before) = takes.split_last()?;
    if before.is_empty() {
        return Some((last.clone(), Seats::Agreeing));
    }
    let n = takes.len() as f64;
    let mean_of = |f: &dyn Fn(&Take) -> f64| takes.iter().map(f).sum::<f64>() / n;
    let gap_mm = mean_of(&|t| t.gap_mm);
    let mut sources: Vec<Source> = Vec::new();
    for part in takes.iter().flat_map(|take| &take.parts) {
        if !sources.contains(&part.source) {
            sources.push(part.source);
        }
    }
    let mut parts: Vec<Part> = sources.iter().map(|source| merged(takes, *source)).collect();
    let spread = spread(takes, gap_mm);
    if let Seats::Differing { .. } = spread {
        let squares: f64 = takes.iter().map(|t| (t.gap_mm - gap_mm).powi(2)).sum();
        let of_mean = (squares / (n - 1.0) / n).sqrt();
        let stated = parts
            .iter()
            .filter(|p| alone(p.source))
            .map(|p| p.effect_mm.powi(2))
            .sum::<f64>()
            .sqrt();
        if of_mean > stated {
            parts.retain(|p| !alone(p.source));
            parts.push(Part { source: Source::Seating, effect_mm: of_mean, dof: Some(n - 1.0) });
        }
    }
    let (u_mm, dof) = combine(&parts);
    let mut notices = Vec::new();
    for notice in takes.iter().flat_map(|take| &take.notices) {
        if !notices.contains(notice) {
            notices.push(*notice);
        }
    }
    let temperatures: Vec<f64> = takes.iter().filter_map(|t| t.temperature_c).collect();
    let sheets: Vec<f64> = takes.iter().filter_map(|t| t.sheet_mm).collect();
    let known = |values: &[f64]| {
        (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
    };
    let take = Take {
        gap_mm,
        u_mm,
        dof,
        parts,
        readings: takes.iter().fold(0_u32, |sum, t| sum.saturating_add(t.readings)),
        window_s: takes.iter().map(|t| t.window_s).sum(),
        head_at_s: last.head_at_s,
        stand_off_mm: mean_of(&|t| t.stand_off_mm),
        middle_mm: mean_of(&|t| t.middle_mm),
        sheet_mm: known(&sheets),
        level_deg: mean_of(&|t| t.level_deg),
        lean_deg: mean_of(&|t| t.lean_deg),
        // The head's own offset is the same at every seat.
        tilt_u_deg: takes.iter().map(|t| t.tilt_u_deg).fold(0.0, f64::max),
        temperature_c: known(&temperatures),
        notices,
    };
    Some((take, spread))
}

/// Whether a seat has this error to itself. What the board's place puts in comes again at
/// every seat.
fn alone(source: Source) -> bool {
    matches!(source, Source::Scatter | Source::Seating)
}

fn merged(takes: &[Take], source: Source) -> Part {
    let n = takes.len() as f64;
    if !alone(source) {
        let effect_mm = takes.iter().map(|t| t.effect_mm(source)).sum::<f64>() / n;
        let dof = takes
            .iter()
            .flat_map(|t| &t.parts)
            .filter(|p| p.source == source)
            .filter_map(|p| p.dof);
        return Part { source, effect_mm, dof: dof.reduce(f64::min) };
    }
    let of: Vec<Part> =
        takes.iter().flat_map(|t| &t.parts).filter(|p| p.source == source).copied().collect();
    let (u, dof) = combine(&of);
    Part { source, effect_mm: u / n, dof }
}

fn spread(takes: &[Take], mean_mm: f64) -> Seats {
    let chi_square: f64 = takes
        .iter()
        .map(|take| {
            let own: f64 =
                take.parts.iter().filter(|p| alone(p.source)).map(|p| p.effect_mm.powi(2)).sum();
            (take.gap_mm - mean_mm).powi(2) / own
        })
        .sum();
    if chi_square_tail(chi_square, takes.len() - 1) >= RARE {
        return Seats::Agreeing;
    }
    let gaps = takes.iter().map(|take| take.gap_mm);
    let (low, high) = gaps
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), gap| (low.min(gap), high.max(gap)));
    Seats::Differing { range_mm: high - low }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coverage::t_factor;
    use proptest::prelude::*;

    fn seat(gap_mm: f64) -> Take {
        let part = |source, effect_mm, dof| Part { source, effect_mm, dof };
        let parts = vec![
            part(Source::Scatter, 0.003, Some(20.0)),
            part(Source::Seating, 0.05, None),
            part(Source::Zero, 0.025, None),
            part(Source::Slope, -0.01, None),
        ];
        let (u_mm, dof) = combine(&parts);
        Take {
            gap_mm,
            u_mm,
            dof,
            parts,
            readings: 41,
            window_s: 0.4,
            head_at_s: 1.0,
            stand_off_mm: 25.0,
            middle_mm: 2.5,
            sheet_mm: Some(1.5),
            level_deg: 0.1,
            lean_deg: 0.2,
            tilt_u_deg: 0.01,
            temperature_c: Some(21.0),
            notices: Vec::new(),
        }
    }

    #[test]
    fn one_seat_is_itself_and_none_is_none() {
        assert_eq!(mean(&[]), None);
        assert_eq!(mean(&[seat(2.5)]), Some((seat(2.5), Seats::Agreeing)));
    }

    #[test]
    fn only_what_a_seat_has_to_itself_averages_out() {
        let (two, agree) = mean(&[seat(2.48), seat(2.54)]).unwrap();
        assert_eq!(agree, Seats::Agreeing);
        assert!((two.gap_mm - 2.51).abs() < 1e-12);
        assert!((two.effect_mm(Source::Seating) - 0.05 / 2f64.sqrt()).abs() < 1e-12);
        assert!((two.effect_mm(Source::Scatter) - 0.003 / 2f64.sqrt()).abs() < 1e-12);
        assert_eq!((two.effect_mm(Source::Zero), two.effect_mm(Source::Slope)), (0.025, -0.01));
        assert_eq!(two.readings, 82);
    }

    #[test]
    fn of_two_opposite_stand_offs_the_scale_cancels() {
        // A shared error that moves the one seat up and the other down leaves the mean alone.
        let mut other = seat(2.5);
        other.parts[3].effect_mm = 0.01;
        let (two, _) = mean(&[seat(2.5), other]).unwrap();
        assert_eq!(two.effect_mm(Source::Slope), 0.0);
    }

    #[test]
    fn seats_that_differ_too_much_are_said_and_cost_certainty() {
        let (two, differ) = mean(&[seat(2.3), seat(2.7)]).unwrap();
        let Seats::Differing { range_mm } = differ else { panic!("{differ:?}") };
        assert!((range_mm - 0.4).abs() < 1e-12);
        // Two values 0.4 apart: standard deviation of their mean 0.2, one degree of freedom.
        assert!((two.effect_mm(Source::Seating) - 0.2).abs() < 1e-12, "{two:?}");
        assert!(two.dof.unwrap() < 1.2, "{two:?}");
        assert_eq!(two.effect_mm(Source::Scatter), 0.0);
    }

    /// The interval of the mean holds the truth as often as it says, for two to five seats (Monte
    /// Carlo after JCGM 101).
    #[test]
    fn intervals_of_means_cover() {
        use rand::SeedableRng as _;
        use rand_distr::{Distribution as _, Normal};
        let mut dice = rand_pcg::Pcg64::seed_from_u64(5);
        let (zero, seating) = (Normal::new(0.0, 0.025).unwrap(), Normal::new(0.0, 0.05).unwrap());
        for seats in 2..=5 {
            let (mut inside, mut differing) = (0, 0);
            for _ in 0..20_000 {
                let shared = zero.sample(&mut dice);
                let takes: Vec<Take> = (0..seats)
                    .map(|_| {
                        let mut take = seat(2.5 + shared + seating.sample(&mut dice));
                        take.parts.truncate(3);
                        take
                    })
                    .collect();
                let (mean, agree) = mean(&takes).unwrap();
                differing += u32::from(agree != Seats::Agreeing);
                let k = t_factor(0.95, mean.dof.unwrap_or(f64::INFINITY)).unwrap();
                inside += u32::from((mean.gap_mm - 2.5).abs() <= k * mean.u_mm);
            }
            let covered = f64::from(inside) / 200.0;
            assert!((94.4..=96.0).contains(&covered), "{seats} seats: {covered} %");
            assert!(
                (140..=260).contains(&differing),
                "{seats} seats: {differing} of 20000 said to differ"
            );
        }
    }

    proptest! {
        #[test]
        fn more_agreeing_seats_are_never_less_certain(gaps in prop::collection::vec(2.49..2.51_f64, 1..8)) {
            let takes: Vec<Take> = gaps.iter().map(|gap| seat(*gap)).collect();
            let of = |n: usize| mean(&takes[..n]).unwrap().0;
            for n in 2..=takes.len() {
                prop_assert!(of(n).u_mm < of(n - 1).u_mm);
                prop_assert!((2.49..2.51).contains(&of(n).gap_mm));
            }
        }
    }
}
