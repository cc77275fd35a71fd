//! What the user sees and hears at the head: lamp and buzzer, as functions of time.

use skimgauge_shared::message::Cue;
use skimgauge_shared::units::Microseconds;

/// A cue falls silent when no fresh one comes for so long: a host that is gone must not keep the
/// head ticking.
pub(crate) const CUE_LASTS: Microseconds = Microseconds(1_000_000);

/// Pitch of a cue at a moment. Told apart without looking: single ticks that quicken and rise, a
/// steady tone, low double ticks.
pub(crate) fn cue_pitch(cue: Cue, since_given: Microseconds, now: Microseconds) -> Option<u16> {
    if since_given > CUE_LASTS {
        return None;
    }
    let ms = now.0 / 1_000;
    match cue {
        Cue::Silent => None,
        Cue::There => Some(1_320),
        Cue::Seek { nearness } => {
            let nearness = u64::from(nearness);
            let every_ms = 600 - nearness * 2;
            (ms % every_ms < 45).then(|| 440 + (nearness * 440 / 255) as u16)
        }
        Cue::Doubtful => (ms % 1_000 < 60 || (120..180).contains(&(ms % 1_000))).then_some(220),
    }
}

/// What the lamp tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Lamp {
    /// Asked to show itself: fast.
    Identify,
    /// A part is at fault: twice, pause.
    Fault,
    /// A host listens: steady.
    Linked,
    /// Nobody listens: a short blink now and then.
    Alone,
}

/// Whether the lamp is lit at a moment.
pub(crate) fn lamp_lit(lamp: Lamp, now: Microseconds) -> bool {
    let ms = now.0 / 1_000;
    match lamp {
        Lamp::Identify => ms % 160 < 80,
        Lamp::Fault => ms % 1_000 < 100 || (200..300).contains(&(ms % 1_000)),
        Lamp::Linked => true,
        Lamp::Alone => ms % 2_000 < 60,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ticks_in_a_second(cue: Cue) -> usize {
        let sounding =
            |ms| cue_pitch(cue, Microseconds(0), Microseconds::from_millis(ms)).is_some();
        (1..3_000).filter(|ms| sounding(*ms) && !sounding(ms - 1)).count()
    }

    #[test]
    fn ticks_quicken_as_the_gap_nears() {
        let rates: Vec<_> =
            [0, 128, 255].map(|nearness| ticks_in_a_second(Cue::Seek { nearness })).into();
        assert!(rates.is_sorted_by(|a, b| a < b), "{rates:?}");
    }

    #[test]
    fn a_forgotten_cue_falls_silent() {
        assert_eq!(cue_pitch(Cue::There, Microseconds(1_000_001), Microseconds(5)), None);
    }
}
