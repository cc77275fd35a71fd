//! The look itself: what the eye sees for two seconds, said to be without the emitter.

use serde::Serialize;
use skimgauge_quantity::Mm;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::light::{Fault, Light};
use skimgauge_shared::reading::{Reading, Sample};

/// Light takes so long to fade, or the hand to leave the switch, s.
const FADES_S: f64 = 0.3;
/// The emitter is to be off for so long, s.
pub(super) const OFF_S: f64 = 2.0;
/// Its light is waited for no longer than this, s.
const BACK_S: f64 = 60.0;
/// A sheet was seen from so many readings of it on.
const SEEN: u32 = 20;
/// So many readings of a line in two seconds are one that stays; fewer are noise.
const STAYS: u32 = 3;
/// From this share of readings that show nothing either way on, nothing was seen.
const UNCLEAR: f64 = 0.25;

/// What was seen with the emitter off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "saw", rename_all = "kebab-case")]
pub enum Saw {
    /// No line of light.
    Nothing,
    /// A line of light stayed, such as sun through a blind.
    Line {
        /// The gap that it reads as.
        gap: Mm,
    },
    /// Nobody looked.
    LeftOut,
}

/// What came of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Came {
    /// Nothing new.
    Nothing,
    /// So long it was off: switch it on again.
    SwitchOn,
    /// This was seen.
    Saw(Saw),
    /// It has to be done again: why.
    Again(Again),
}

/// Why a look counts for nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Again {
    /// The emitter came on again too early.
    TooShort,
    /// The head left the board, or its readings stopped.
    Moved,
    /// The eye could not see: too much light, or it failed.
    Blind,
    /// The light did not come back.
    NotBack,
}

/// How far it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Stage {
    Offered,
    Off { since_s: f64 },
    Back { since_s: f64 },
}

/// What readings showed since the emitter is off.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Counts {
    dark: u32,
    line: u32,
    unclear: u32,
    gap_um: i64,
    /// It was dark, and now it is lit: so many readings in turn.
    lit_after_dark: u32,
}

/// Follows the readings.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Look {
    pub(super) stage: Stage,
    /// Readings of the sheet on this seat.
    seen: u32,
    at_s: f64,
    counts: Counts,
}

/// What a reading shows.
enum Shows {
    /// A line of light, at this gap.
    Line(i32),
    Dark,
    /// Nothing either way.
    Unclear,
    /// No board.
    NoBoard,
}

impl Look {
    pub(super) fn new() -> Self {
        Self { stage: Stage::Offered, seen: 0, at_s: 0.0, counts: Counts::default() }
    }

    /// Whether the sheet has been seen where the head stands: the eye faces the emitter.
    pub(super) fn has_seen_light(&self) -> bool {
        self.seen >= SEEN
    }

    /// The user says that the emitter is off now. Whether it can be looked: the sheet was seen.
    pub(super) fn is_off(&mut self) -> bool {
        if self.has_seen_light() {
            self.counts = Counts::default();
            self.stage = Stage::Off { since_s: self.at_s };
        }
        self.has_seen_light()
    }

    /// So long to go, s, while it is off.
    pub(super) fn to_go_s(&self) -> Option<f64> {
        let Stage::Off { since_s } = self.stage else { return None };
        Some((since_s + FADES_S + OFF_S - self.at_s).max(0.0))
    }

    /// It looks no longer.
    pub(super) fn stop(&mut self) {
        self.stage = Stage::Offered;
    }

    /// The link was lost, or the head's clock jumped.
    pub(super) fn interrupt(&mut self) {
        *self = Self::new();
    }

    /// The next reading, on the head's clock.
    pub(super) fn reading(
        &mut self,
        reading: &Reading,
        calibration: &Calibration,
        at_s: f64,
    ) -> Came {
        self.at_s = at_s;
        let shows = shows(reading, calibration);
        match self.stage {
            Stage::Offered => {
                match shows {
                    Shows::Line(_) => self.seen = self.seen.saturating_add(1),
                    Shows::NoBoard => self.seen = 0,
                    Shows::Dark | Shows::Unclear => {}
                }
                Came::Nothing
            }
            _ if matches!(shows, Shows::NoBoard) => self.again(Again::Moved),
            Stage::Off { since_s } => self.off(shows, at_s - since_s),
            Stage::Back { since_s } => self.back(&shows, at_s - since_s),
        }
    }

    fn off(&mut self, shows: Shows, for_s: f64) -> Came {
        if for_s < 0.0 {
            return self.again(Again::Moved);
        }
        if for_s < FADES_S {
            return Came::Nothing;
        }
        let counts = &mut self.counts;
        match shows {
            Shows::Line(gap_um) => {
                counts.line += 1;
                counts.gap_um += i64::from(gap_um);
                counts.lit_after_dark += u32::from(counts.dark >= SEEN);
            }
            Shows::Dark => {
                counts.dark += 1;
                counts.lit_after_dark = 0;
            }
            Shows::Unclear | Shows::NoBoard => counts.unclear += 1,
        }
        // First nothing and then a sheet that stays is the emitter itself.
        if counts.lit_after_dark >= SEEN {
            return self.again(Again::TooShort);
        }
        if for_s < FADES_S + OFF_S {
            return Came::Nothing;
        }
        let Counts { dark, line, unclear, gap_um, lit_after_dark } = *counts;
        if lit_after_dark > 0 && lit_after_dark == line {
            return self.again(Again::TooShort);
        }
        if f64::from(unclear) > UNCLEAR * f64::from(dark + line + unclear) {
            return self.again(Again::Blind);
        }
        if line >= STAYS {
            self.stage = Stage::Offered;
            return Came::Saw(Saw::Line { gap: Mm(gap_um as f64 / f64::from(line) * 1e-3) });
        }
        self.stage = Stage::Back { since_s: self.at_s };
        self.seen = 0;
        Came::SwitchOn
    }

    /// That the light comes back shows that the eye was turned to the emitter all the while.
    fn back(&mut self, shows: &Shows, for_s: f64) -> Came {
        if matches!(shows, Shows::Line(_)) {
            self.seen += 1;
        }
        if self.has_seen_light() {
            self.stage = Stage::Offered;
            return Came::Saw(Saw::Nothing);
        }
        if for_s > BACK_S { self.again(Again::NotBack) } else { Came::Nothing }
    }

    fn again(&mut self, why: Again) -> Came {
        self.stage = Stage::Offered;
        if why != Again::TooShort {
            self.seen = 0;
        }
        Came::Again(why)
    }
}

fn shows(reading: &Reading, calibration: &Calibration) -> Shows {
    let Sample::Value(stand_off) = reading.stand_off else { return Shows::NoBoard };
    match (reading.state.fault(), reading.middle) {
        (None, Sample::Value(middle)) if reading.state.light() != Light::No => {
            Shows::Line(calibration.gap(stand_off, middle).0)
        }
        // Light that no reading would be taken of: a lamp's glow, a shadow's edge.
        (
            Some(
                Fault::NoLight
                | Fault::TooLittleLight
                | Fault::Cut
                | Fault::Wider
                | Fault::Narrower
                | Fault::TwoSheets
                | Fault::UnevenRoomLight,
            ),
            _,
        ) => Shows::Dark,
        _ => Shows::Unclear,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_shared::light::{LightState, Trust};
    use skimgauge_shared::message::SerialNumber;
    use skimgauge_shared::reading::Absence;
    use skimgauge_shared::units::Micrometres;

    /// A look, and the head's clock.
    struct Rig(Look, f64);

    impl Rig {
        /// At a board whose sheet was seen.
        fn lit() -> Self {
            let mut rig = Self(Look::new(), 10.0);
            assert!(!rig.0.is_off(), "nothing was seen yet");
            rig.run(0.5, None);
            assert!(rig.0.is_off());
            rig
        }

        fn run(&mut self, seconds: f64, fault: Option<Fault>) -> Vec<Came> {
            self.run_at(seconds, fault, Sample::Value(Micrometres(33_000)))
        }

        /// What came of readings with this for so long.
        fn run_at(
            &mut self,
            seconds: f64,
            fault: Option<Fault>,
            stand_off: Sample<Micrometres>,
        ) -> Vec<Came> {
            let calibration = Calibration::nominal(SerialNumber([1; 16]));
            let mut came = Vec::new();
            for _ in 0..(seconds * 90.0) as usize {
                self.1 += 1.0 / 90.0;
                let light = if fault.is_none() { Light::Seen } else { Light::No };
                let reading = Reading {
                    sequence: 0,
                    at_low_us: 0,
                    stand_off,
                    middle: match fault {
                        None => Sample::Value(Micrometres(2_600)),
                        Some(_) => Sample::Absent(Absence::NoMiddle),
                    },
                    tilt: Sample::Absent(Absence::Starting),
                    state: LightState::new(fault, light, Trust::Sure, false),
                };
                let now = self.0.reading(&reading, &calibration, self.1);
                came.extend((now != Came::Nothing).then_some(now));
            }
            came
        }
    }

    const DARK: Option<Fault> = Some(Fault::NoLight);

    #[test]
    fn two_seconds_of_darkness_and_light_again_are_nothing_seen() {
        let mut rig = Rig::lit();
        // Until it has faded.
        assert_eq!(rig.run(0.2, None), []);
        assert_eq!(rig.run(2.5, DARK), [Came::SwitchOn]);
        assert_eq!(rig.run(5.0, DARK), []);
        assert_eq!(rig.run(0.5, None), [Came::Saw(Saw::Nothing)]);
    }

    #[test]
    fn a_line_that_stays_is_seen_and_where() {
        let mut rig = Rig::lit();
        let came = rig.run(2.5, None);
        let [Came::Saw(Saw::Line { gap })] = came[..] else { panic!("{came:?}") };
        assert!((gap.0 - 3.0).abs() < 0.01, "{gap:?}");
        // Some of the time is enough: a cloud, a blind that moves.
        let mut rig = Rig::lit();
        rig.run(0.6, DARK);
        rig.run(0.1, None);
        let came = rig.run(2.0, DARK);
        assert!(matches!(came[..], [Came::Saw(Saw::Line { .. })]), "{came:?}");
    }

    #[test]
    fn an_emitter_that_comes_on_too_early_is_no_line() {
        let mut rig = Rig::lit();
        assert_eq!(rig.run(1.0, DARK), []);
        assert_eq!(rig.run(1.0, None), [Came::Again(Again::TooShort)]);
        // Just before the end.
        let mut rig = Rig::lit();
        rig.run(2.2, DARK);
        assert_eq!(rig.run(0.3, None), [Came::Again(Again::TooShort)]);
    }

    #[test]
    fn what_was_not_looked_at_is_not_seen() {
        let mut rig = Rig::lit();
        assert_eq!(rig.run(2.5, Some(Fault::TooMuchRoomLight)), [Came::Again(Again::Blind)]);
        let mut rig = Rig::lit();
        let lifted = rig.run_at(0.5, DARK, Sample::Absent(Absence::NoSpot));
        assert_eq!(lifted, [Came::Again(Again::Moved)]);
        assert!(!rig.0.is_off(), "the sheet has to be seen first");
        // An eye that was turned away saw nothing.
        let mut rig = Rig::lit();
        rig.run(2.5, DARK);
        assert_eq!(rig.run(61.0, DARK), [Came::Again(Again::NotBack)]);
    }

    #[test]
    fn a_lamps_glow_is_no_line() {
        for fault in [Fault::Wider, Fault::UnevenRoomLight, Fault::Narrower] {
            let mut rig = Rig::lit();
            assert_eq!(rig.run(2.5, Some(fault)), [Came::SwitchOn], "{fault:?}");
        }
    }
}
