//! Presses of keys, told from the repeats of a key that is held.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind};
use std::time::Duration;

/// The same key again sooner than this only repeats. A keyboard begins to repeat after 0.25 to 0.66
/// s (common practice, no source), and repeats some thirty times a second.
const APART: Duration = Duration::from_millis(700);

/// The keyboard: which key came last, and when.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Presses {
    last: Option<(KeyCode, Duration)>,
}

impl Presses {
    /// Whether a key counts: not one that is let go, nor one that only repeats because it is held.
    /// Not every terminal tells repeats from presses, so the time decides. Moving from place to
    /// place may repeat.
    pub(super) fn counts(&mut self, now: Duration, key: KeyEvent) -> bool {
        if key.kind == KeyEventKind::Release {
            return false;
        }
        let moves = matches!(
            key.code,
            KeyCode::Down
                | KeyCode::Right
                | KeyCode::Tab
                | KeyCode::Up
                | KeyCode::Left
                | KeyCode::BackTab
        );
        if moves {
            return true;
        }
        let before = self.last.replace((key.code, now));
        let repeats =
            before.is_some_and(|(code, at)| code == key.code && now.saturating_sub(at) < APART);
        !repeats && key.kind != KeyEventKind::Repeat
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ratatui::crossterm::event::KeyModifiers;

    fn press(presses: &mut Presses, ms: u64, code: KeyCode, kind: KeyEventKind) -> bool {
        let key = KeyEvent { kind, ..KeyEvent::new(code, KeyModifiers::NONE) };
        presses.counts(Duration::from_millis(10_000 + ms), key)
    }

    const SPACE: KeyCode = KeyCode::Char(' ');

    #[test]
    fn a_held_space_bar_is_one_press_whether_or_not_the_terminal_tells_repeats() {
        for kind in [KeyEventKind::Press, KeyEventKind::Repeat] {
            let mut presses = Presses::default();
            assert!(press(&mut presses, 0, SPACE, KeyEventKind::Press));
            for repeat in 0..100 {
                assert!(!press(&mut presses, 500 + 33 * repeat, SPACE, kind), "{kind:?} {repeat}");
            }
        }
        // Told as a repeat it is none, however late the keyboard begins to repeat.
        let mut presses = Presses::default();
        assert!(press(&mut presses, 0, SPACE, KeyEventKind::Press));
        assert!(!press(&mut presses, 1_800, SPACE, KeyEventKind::Repeat));
    }

    #[test]
    fn another_key_counts_at_once_and_moving_repeats() {
        let mut presses = Presses::default();
        let press = |presses: &mut Presses, ms, code| press(presses, ms, code, KeyEventKind::Press);
        assert!(press(&mut presses, 0, SPACE));
        assert!(press(&mut presses, 50, KeyCode::Char('g')));
        assert!(!press(&mut presses, 90, KeyCode::Char('g')));
        assert!((0..5).all(|repeat| press(&mut presses, 100 + 30 * repeat, KeyCode::Down)));
        assert!(press(&mut presses, 900, KeyCode::F(1)));
    }
}
