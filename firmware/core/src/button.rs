//! The head's button: debounced, short and long.

use skimgauge_shared::message::Press;
use skimgauge_shared::units::Microseconds;

/// The contact must rest this long.
const BOUNCE: Microseconds = Microseconds(20_000);
/// Held this long, it is a long press.
const LONG: Microseconds = Microseconds(1_000_000);

/// The button's state over time.
#[derive(Debug, Default)]
pub(crate) struct Button {
    /// As the contact was at the last look, and since when.
    raw: bool,
    raw_since: Microseconds,
    /// Debounced.
    down_since: Option<Microseconds>,
    long_said: bool,
}

impl Button {
    /// How the contact is now. Says a short press when the button is let go, a long one when it has
    /// been held.
    pub(crate) fn look(&mut self, pressed: bool, now: Microseconds) -> Option<Press> {
        if pressed != self.raw {
            self.raw = pressed;
            self.raw_since = now;
        }
        let rested = now.since(self.raw_since) >= BOUNCE;
        match self.down_since {
            None if pressed && rested => {
                self.down_since = Some(self.raw_since);
                self.long_said = false;
                None
            }
            Some(since) if pressed && !self.long_said && now.since(since) >= LONG => {
                self.long_said = true;
                Some(Press::Long)
            }
            Some(_) if !pressed && rested => {
                self.down_since = None;
                (!self.long_said).then_some(Press::Short)
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Looks every millisecond; the contact is closed where `closed` says so.
    fn presses(until_ms: u64, closed: impl Fn(u64) -> bool) -> Vec<(u64, Press)> {
        let mut button = Button::default();
        (0..until_ms)
            .filter_map(|ms| {
                button.look(closed(ms), Microseconds::from_millis(ms)).map(|press| (ms, press))
            })
            .collect()
    }

    #[test]
    fn a_bouncing_press_is_one_press() {
        // Open every third millisecond at first, closed every second one after it is let go.
        let bouncing = |ms: u64| match ms {
            100..110 => !ms.is_multiple_of(3),
            110..300 => true,
            300..308 => ms.is_multiple_of(2),
            _ => false,
        };
        assert_eq!(presses(1_000, bouncing), [(327, Press::Short)]);
    }

    #[test]
    fn a_held_button_is_one_long_press_and_no_short_one() {
        assert_eq!(presses(4_000, |ms| (100..3_000).contains(&ms)), [(1_100, Press::Long)]);
    }

    #[test]
    fn a_spike_is_no_press() {
        assert_eq!(presses(1_000, |ms| (500..515).contains(&ms)), []);
    }
}
