//! The keys of the screen.

use super::Said;
use super::gate::Gate;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use std::time::Duration;

/// What a key means.
#[derive(Debug, Clone, PartialEq)]
pub enum Meant {
    /// To the watch.
    Watch(Said),
    /// To whoever stands beside the user, if anybody does.
    Hands(char),
}

/// The keyboard: which key came last, and when.
#[derive(Debug, Clone, Copy, Default)]
pub struct Keys {
    last: Option<KeyCode>,
    gate: Gate,
}

impl Keys {
    /// What a key means; `None` for one that means nothing, is let go, or only repeats because it
    /// is held. Not every terminal tells repeats from presses, so the time decides: the same
    /// key again too soon is a repeat. Moving from place to place may repeat.
    ///
    /// `numbered`: digits are stations.
    pub fn press(&mut self, now: Duration, key: KeyEvent, numbered: bool) -> Option<Meant> {
        if key.kind == KeyEventKind::Release {
            return None;
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
        if !moves {
            let same = self.last == Some(key.code);
            let mut fresh = Gate::default();
            let gate = if same { &mut self.gate } else { &mut fresh };
            let passes = gate.pass(now);
            if !same {
                self.gate = fresh;
            }
            self.last = Some(key.code);
            if !passes || key.kind == KeyEventKind::Repeat {
                return None;
            }
        }
        let control = key.modifiers.contains(KeyModifiers::CONTROL);
        let said = match key.code {
            KeyCode::Char('c') if control => Said::Quit,
            KeyCode::Char(_) if control => Said::Other,
            KeyCode::Char('q') | KeyCode::Esc => Said::Quit,
            KeyCode::Char(' ') | KeyCode::Enter => Said::Take,
            KeyCode::Char('r') => Said::Redo,
            KeyCode::Char('m') => Said::More,
            KeyCode::Char('y') => Said::Yes,
            KeyCode::Char('s') => Said::Sound,
            KeyCode::Char('e') => Said::Go(usize::MAX),
            KeyCode::Down | KeyCode::Right | KeyCode::Tab => Said::Next,
            KeyCode::Up | KeyCode::Left | KeyCode::BackTab => Said::Back,
            KeyCode::Char(digit @ '1'..='9') if numbered => Said::Go(digit as usize - '1' as usize),
            KeyCode::Char(other) => return Some(Meant::Hands(other)),
            _ => Said::Other,
        };
        Some(Meant::Watch(said))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn press(keys: &mut Keys, ms: u64, code: KeyCode) -> Option<Meant> {
        keys.press(
            Duration::from_millis(10_000 + ms),
            KeyEvent::new(code, KeyModifiers::NONE),
            true,
        )
    }

    const TAKE: Option<Meant> = Some(Meant::Watch(Said::Take));

    #[test]
    fn a_held_space_bar_is_one_press_whether_or_not_the_terminal_tells_repeats() {
        for kind in [KeyEventKind::Press, KeyEventKind::Repeat] {
            let mut keys = Keys::default();
            assert_eq!(press(&mut keys, 0, KeyCode::Char(' ')), TAKE);
            for repeat in 0..100 {
                let at = Duration::from_millis(10_500 + 33 * repeat);
                let event =
                    KeyEvent { kind, ..KeyEvent::new(KeyCode::Char(' '), KeyModifiers::NONE) };
                assert_eq!(keys.press(at, event, true), None, "{kind:?} {repeat}");
            }
        }
        // Told as a repeat it is none, however late the keyboard begins to repeat.
        let mut keys = Keys::default();
        assert_eq!(press(&mut keys, 0, KeyCode::Char(' ')), TAKE);
        let late = KeyEvent {
            kind: KeyEventKind::Repeat,
            ..KeyEvent::new(KeyCode::Char(' '), KeyModifiers::NONE)
        };
        assert_eq!(keys.press(Duration::from_millis(11_800), late, true), None);
    }

    #[test]
    fn another_key_counts_at_once_and_moving_repeats() {
        let mut keys = Keys::default();
        assert_eq!(press(&mut keys, 0, KeyCode::Char(' ')), TAKE);
        assert_eq!(press(&mut keys, 50, KeyCode::Char('g')), Some(Meant::Hands('g')));
        assert_eq!(press(&mut keys, 90, KeyCode::Char('g')), None);
        for repeat in 0..5 {
            assert_eq!(
                press(&mut keys, 100 + 30 * repeat, KeyCode::Down),
                Some(Meant::Watch(Said::Next))
            );
        }
        assert_eq!(press(&mut keys, 900, KeyCode::F(1)), Some(Meant::Watch(Said::Other)));
    }
}
