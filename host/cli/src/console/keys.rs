//! The keys of the screen and the words that they say.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use skimgauge_procedure::view::Part;
use skimgauge_procedure::view::emitter_off::EmitterOffView;
use skimgauge_procedure::{Stop, View, Word};

/// What a key means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Meant {
    /// A word to the procedure.
    Say(Word),
    /// Explain this screen, or do so no longer.
    Help,
    /// To whoever stands beside the user, if anybody does.
    Beside(char),
    /// Nothing: what it would do cannot be seen.
    Nothing,
}

/// What keeps the user from seeing the screen that a key is meant for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hidden {
    /// Its words are explained over it.
    ByHelp,
    /// The window is too small for it.
    TooSmall,
}

/// What a key means where the screen itself is not seen: it ends the run by Ctrl-C, closes the help,
/// and says no word.
pub fn meant_unseen(key: KeyEvent, hidden: Hidden) -> Meant {
    let ends = key.modifiers.contains(KeyModifiers::CONTROL) && key.code == KeyCode::Char('c');
    let leaves = matches!(key.code, KeyCode::Char('q') | KeyCode::Esc);
    match hidden {
        _ if ends => Meant::Say(Word::Quit),
        Hidden::ByHelp => Meant::Help,
        Hidden::TooSmall if leaves => Meant::Say(Word::Quit),
        Hidden::TooSmall => Meant::Nothing,
    }
}

/// What a key means on this screen. Repeats of a key that is held are let go before this.
pub fn meant(key: KeyEvent, view: &View) -> Meant {
    let offered = |word: Word| view.words.iter().any(|offer| offer.word == word);
    let control = key.modifiers.contains(KeyModifiers::CONTROL);
    // A key that some procedures know and others leave to the practice.
    let if_offered = |word: Word, key: char| {
        if offered(word) { Meant::Say(word) } else { Meant::Beside(key) }
    };
    Meant::Say(match key.code {
        KeyCode::Char('c') if control => Word::Quit,
        KeyCode::Char(_) if control => Word::Unknown,
        KeyCode::Char('?') | KeyCode::F(1) => return Meant::Help,
        KeyCode::Char('q') | KeyCode::Esc => Word::Quit,
        KeyCode::Char(' ') | KeyCode::Enter if offered(Word::Ready) => Word::Ready,
        KeyCode::Char(' ') | KeyCode::Enter => Word::Take,
        KeyCode::Char('r') => Word::Redo,
        KeyCode::Char('m') => Word::More,
        KeyCode::Char('y') => Word::Yes,
        KeyCode::Char('n') => Word::No,
        KeyCode::Char('s') => Word::Sound,
        KeyCode::Char('e') => Word::Go(Stop::Emitter),
        KeyCode::Char('g') => Word::Begin,
        KeyCode::Char('x') => Word::Turned(None),
        KeyCode::Char('b') | KeyCode::Backspace => Word::Undo,
        KeyCode::Char(key @ 'w') => return if_offered(Word::Wrong, key),
        KeyCode::Char(key @ 'd') => return if_offered(Word::Stuck, key),
        KeyCode::Char(key @ 'k') => return if_offered(Word::Skip, key),
        KeyCode::Char(key @ 'c') => return if_offered(Word::Clear, key),
        KeyCode::Char(key @ 'o') => return if_offered(Word::Other, key),
        KeyCode::Down | KeyCode::Right | KeyCode::Tab => Word::Next,
        KeyCode::Up | KeyCode::Left | KeyCode::BackTab => Word::Back,
        KeyCode::Char(digit @ '1'..='9') => Word::Go(Stop::Station(digit as usize - '1' as usize)),
        KeyCode::Char(other) => return Meant::Beside(other),
        _ => Word::Unknown,
    })
}

/// The key that says a word, and the word in short; `None` for what has no key of its own.
pub(super) fn key(word: Word) -> Option<(&'static str, &'static str)> {
    Some(match word {
        Word::Take => ("space", "take"),
        Word::Ready => ("space", "ready"),
        Word::Redo => ("r", "redo"),
        Word::More => ("m", "one more"),
        Word::Next | Word::Back => ("↑↓", "place"),
        Word::Go(Stop::Emitter) => ("e", "emitter"),
        Word::Go(Stop::Station(_)) => ("1-9", "station"),
        Word::Begin => ("g", "begin"),
        Word::Turned(_) => ("x", "as told"),
        Word::Undo => ("b", "back"),
        Word::Wrong => ("w", "wrong one"),
        Word::Stuck => ("d", "no further"),
        Word::Yes => ("y", "yes"),
        Word::No => ("n", "no"),
        Word::Skip => ("k", "leave out"),
        Word::Clear => ("c", "forget"),
        Word::Other => ("o", "next thing"),
        Word::Sound => ("s", "sound"),
        Word::Quit => ("q", "quit"),
        // The proof has a page and lines of its own.
        Word::Missed | Word::Pause | Word::Unknown => return None,
    })
}

/// Keys in one line of so many columns: what matters most first, and never without those for help
/// and for the end.
pub(super) fn line(view: &View, columns: usize) -> String {
    const BETWEEN: usize = 2;
    let ends = [("?", "words"), ("q", "quit")];
    let width = |(key, does): (&str, &str)| key.chars().count() + 1 + does.chars().count();
    let mut left = columns.saturating_sub(ends.iter().map(|end| width(*end) + BETWEEN).sum());
    let mut shown = Vec::new();
    for offer in view.words.iter().filter(|offer| offer.word != Word::Quit) {
        let named = key(offer.word).map(|one| as_it_is_now(one, view));
        let Some(one) = named.filter(|one| !shown.contains(one)) else { continue };
        if width(one) + BETWEEN <= left {
            left -= width(one) + BETWEEN;
            shown.push(one);
        }
    }
    shown.extend(ends);
    let shown: Vec<String> = shown.iter().map(|(key, does)| format!("{key} {does}")).collect();
    shown.join("  ")
}

/// A key in the words of what it does now. What goes from place to place at a board goes from step
/// to step of a zeroing, and only back in a first start.
fn as_it_is_now(key: (&'static str, &'static str), view: &View) -> (&'static str, &'static str) {
    let offered = |word: Word| view.words.iter().any(|offer| offer.word == word);
    match (&view.part, key) {
        (_, ("g", _)) if view.emitter_off == Some(EmitterOffView::Offered) => ("g", "it is off"),
        (Part::Zero(_) | Part::Birth(_), ("↑↓", _))
            if offered(Word::Next) && offered(Word::Back) =>
        {
            ("↑↓", "step")
        }
        (Part::Zero(_) | Part::Birth(_), ("↑↓", _)) if offered(Word::Next) => {
            ("↓", "next step")
        }
        (Part::Zero(_) | Part::Birth(_), ("↑↓", _)) => ("↑", "step before"),
        _ => key,
    }
}

/// How a word is said with a key: `press y`.
pub(super) fn press(word: Word) -> String {
    key(word).map_or_else(String::new, |(key, _)| format!("press {key}"))
}
