//! A take of what has settled, and the last one that could have been made.

use super::super::settle::State;
use super::super::take::{self, Circumstances, NotTaken, SCATTER_MOST_MM, Take};
use super::super::trace::Point;
use super::settling::Settling;
use crate::coverage::Share;
use skimgauge_shared::units::Microseconds;

/// A take by the head's own button is the last one settled before the press, not older than this,
/// s.
const BUTTON_S: f64 = 1.0;

/// What a take needs besides the readings.
#[derive(Debug, Clone, Copy)]
pub(super) struct Around<'a> {
    pub circumstances: Circumstances<'a>,
    /// Level and lean, degrees.
    pub tilt_deg: [f64; 2],
    pub tilt_u_deg: f64,
}

/// The last take that could have been made.
#[derive(Debug, Clone, Default)]
pub(super) struct Taking {
    candidate: Option<Take>,
}

impl Taking {
    /// What was read before counts no more.
    pub(super) fn interrupt(&mut self) {
        self.candidate = None;
    }

    /// This one could be made now.
    pub(super) fn could(&mut self, take: Take) {
        self.candidate = Some(take);
    }

    /// The one that could have been made just before the head's button was pressed, which shakes
    /// it; let go of at this time on the head's clock.
    pub(super) fn before(&self, released: Microseconds) -> Option<&Take> {
        self.candidate
            .as_ref()
            .filter(|take| (released.seconds() - take.head_at_s).abs() < BUTTON_S)
    }
}

/// The scatter of a take that could be made of the newest window.
pub(super) fn scatter(settling: &Settling) -> Result<Share, NotTaken> {
    let state = settling.state();
    let unsettled = NotTaken::Unsettled { state };
    let shakes = matches!(state, State::Vibrating { .. });
    let window = settling.window();
    if state != State::Settled && !shakes || settling.trace.len() < window {
        return Err(unsettled);
    }
    // What is doubtful is no part of a take, however short it was.
    if !settling.trace.newest(window).all(|point| point.sure) {
        return Err(NotTaken::Unsettled { state: State::Settling { to_go_s: to_go_s(settling) } });
    }
    let octave = (window as u32).ilog2() as usize;
    let before = settling
        .noise_mm(octave)
        .map(|mm| mm * (f64::from(1_u32 << octave) / window as f64).sqrt());
    let scatter = take::scatter(&settling.trace, window, before).ok_or(unsettled)?;
    // Shaking that the window averages away does no harm.
    if shakes && scatter.u > SCATTER_MOST_MM / 2.0 {
        return Err(unsettled);
    }
    if scatter.u > SCATTER_MOST_MM {
        return Err(NotTaken::Noisy { u_mm: scatter.u });
    }
    Ok(scatter)
}

/// Until the last doubtful reading is out of the window, s.
fn to_go_s(settling: &Settling) -> f64 {
    let window = settling.window();
    let sure = settling.trace.newest(window).rev().take_while(|point| point.sure).count();
    (window - sure) as f64 / settling.rate_hz()
}

/// Mean of the newest window, of what `around` is told of it.
pub(super) fn make<'a>(
    settling: &Settling,
    around: impl FnOnce(f64, f64) -> Option<Around<'a>>,
) -> Result<Take, NotTaken> {
    let scatter = scatter(settling)?;
    let window = settling.window();
    let unsettled = NotTaken::Unsettled { state: settling.state() };
    let mean = |channel: &dyn Fn(&Point) -> f64| {
        settling.trace.mean_back(0, window, channel).ok_or(unsettled)
    };
    let gap_mm = mean(&|p| f64::from(p.gap_um) * 1e-3)?;
    let stand_off_mm = mean(&|p| f64::from(p.stand_off_um) * 1e-3)?;
    let (Some(around), Some(last)) = (around(gap_mm, stand_off_mm), settling.trace.last()) else {
        return Err(unsettled);
    };
    let parts = around.circumstances.parts(scatter);
    let (u_mm, dof) = take::combine(&parts);
    Ok(Take {
        gap_mm,
        u_mm,
        dof,
        parts,
        readings: window as u32,
        window_s: window as f64 / settling.rate_hz(),
        head_at_s: last.at_s,
        stand_off_mm,
        middle_mm: mean(&|p| f64::from(p.middle_um) * 1e-3)?,
        sheet_mm: around.circumstances.sheet_mm,
        level_deg: around.tilt_deg[0],
        lean_deg: around.tilt_deg[1],
        tilt_u_deg: around.tilt_u_deg,
        temperature_c: around.circumstances.temperature_c,
        notices: Vec::new(),
    })
}

#[cfg(test)]
mod tests {
    use super::super::super::limits::Limits;
    use super::*;
    use skimgauge_shared::calibration::Calibration;
    use skimgauge_shared::message::SerialNumber;

    /// A stretch of so many readings, of which the one so far back is doubtful, settled.
    fn settled(doubtful: Option<usize>) -> Settling {
        let mut settling = Settling::default();
        for k in 0..60 {
            let noise = (k * k * 7 + k * 13) as i32 % 21 - 10;
            settling.push(
                Point {
                    at_s: k as f64 / 90.0,
                    gap_um: 3_000 + noise,
                    stand_off_um: 33_000 + noise,
                    middle_um: 2_600,
                    sure: Some(59 - k) != doubtful,
                    tilt_udeg: None,
                },
                |settling| settling,
            );
        }
        settling.is(State::Settled);
        settling
    }

    fn take(settling: &Settling) -> Result<Take, NotTaken> {
        let (calibration, limits) =
            (Calibration::nominal(SerialNumber([1; 16])), Limits::default());
        make(settling, |gap_mm, stand_off_mm| {
            Some(Around {
                circumstances: Circumstances {
                    calibration: &calibration,
                    limits: &limits,
                    gap_mm,
                    stand_off_mm,
                    sheet_mm: Some(1.5),
                    temperature_c: Some(21.0),
                },
                tilt_deg: [0.1, 0.2],
                tilt_u_deg: 0.003,
            })
        })
    }

    #[test]
    fn a_window_with_one_doubtful_reading_is_no_take() {
        let took = take(&settled(None)).unwrap();
        assert!((took.gap_mm - 3.0).abs() < 0.005 && took.readings >= 36, "{took:?}");
        assert!((took.middle_mm - 2.6).abs() < 1e-9 && took.sheet_mm == Some(1.5));
        assert!(take(&settled(Some(0))).is_err());
        let why = take(&settled(Some(20))).unwrap_err();
        let NotTaken::Unsettled { state: State::Settling { to_go_s } } = why else {
            panic!("{why}")
        };
        assert!((0.1..0.3).contains(&to_go_s), "{to_go_s}");
        assert!(take(&settled(Some(50))).is_ok(), "it is out of the window");
    }

    #[test]
    fn a_press_means_what_was_just_before_it() {
        let mut taking = Taking::default();
        let took = take(&settled(None)).unwrap();
        taking.could(took.clone());
        assert_eq!(taking.before(Microseconds(1_500_000)), Some(&took));
        assert_eq!(taking.before(Microseconds(1_700_000)), None);
        taking.interrupt();
        assert_eq!(taking.before(Microseconds(1_500_000)), None);
    }
}
