//! Lines typed where there is no screen.

use crate::console::keys::{Meant, meant};
use ratatui::crossterm::event::{KeyCode, KeyEvent};
use skimgauge_procedure::view::Part;
use skimgauge_procedure::{Stop, View, Word};
use skimgauge_quantity::{Name, Sentence, Turns, say};
use skimgauge_system::input;
use std::sync::mpsc::{Receiver, channel};

/// Nobody turns an adjuster by more at once.
const MOST_TURNS: f64 = 200.0;
/// A longer reason is cut.
const LONGEST_REASON: usize = 200;

/// Lines typed while there is no screen.
pub fn lines() -> Receiver<String> {
    let (tell, typed) = channel();
    std::thread::spawn(move || {
        for line in input::lines(std::io::stdin().lock()) {
            if tell.send(line).is_err() {
                return;
            }
        }
    });
    typed
}

/// How a word is typed; `None` for one that no line says.
fn typed(word: Word) -> Option<&'static str> {
    Some(match word {
        Word::Take => "take",
        Word::Redo => "redo",
        Word::More => "more",
        Word::Next => "next",
        Word::Back => "back",
        Word::Go(Stop::Station(_)) => "station N",
        Word::Go(Stop::Emitter) => "emitter",
        Word::Ready => "ready",
        Word::Begin => "begin",
        Word::Turned(_) => "told or turned TURNS",
        Word::Undo => "undo",
        Word::Wrong => "wrong",
        Word::Stuck => "stuck",
        Word::Yes => "yes",
        Word::No => "no",
        Word::Skip => "skip",
        Word::Clear => "clear",
        Word::Other => "other",
        Word::Quit => "quit",
        Word::Sound | Word::Missed | Word::Pause | Word::Unknown => return None,
    })
}

/// Why the step at hand is left out, where reasons are kept: `skip no lamp here`.
pub(super) fn reason(line: &str, view: &View) -> Option<String> {
    let why = line.trim().strip_prefix("skip ")?.trim();
    let keeps = matches!(view.part, Part::Birth(_)) && offers(view, Word::Skip);
    (keeps && !why.is_empty()).then(|| why.chars().take(LONGEST_REASON).collect())
}

/// A typed line as a word.
///
/// # Errors
/// It is none, or there is no such place: in a sentence.
pub(super) fn understood(line: &str, view: &View) -> Result<Word, Sentence> {
    let line = line.trim();
    let word = match line {
        "take" => Word::Take,
        "yes" => Word::Yes,
        "no" => Word::No,
        "redo" => Word::Redo,
        "more" => Word::More,
        "next" => Word::Next,
        "back" => Word::Back,
        "quit" => Word::Quit,
        "emitter" => Word::Go(Stop::Emitter),
        "skip" => Word::Skip,
        "clear" => Word::Clear,
        "other" => Word::Other,
        "ready" | "done" => Word::Ready,
        "begin" | "go" => Word::Begin,
        "told" => Word::Turned(None),
        "undo" => Word::Undo,
        "wrong" => Word::Wrong,
        "stuck" => Word::Stuck,
        "help" | "?" => return Err(words_now(view)),
        // Enter goes on, where something is begun with a word.
        "" if offers(view, Word::Ready) => Word::Ready,
        _ if one_key(line).is_some() => match one_key(line).map(|key| meant(key, view)) {
            Some(Meant::Say(word)) => word,
            Some(Meant::Help) => return Err(words_now(view)),
            _ => return Err(unknown(line, view)),
        },
        _ => match (line.strip_prefix("station "), line.strip_prefix("turned ")) {
            (Some(name), _) => return station(name.trim(), view),
            (_, Some(turns)) => match turns.trim().parse::<f64>() {
                Ok(turns) if turns.is_finite() && turns.abs() <= MOST_TURNS => {
                    Word::Turned(Some(Turns(turns)))
                }
                _ => return Err(unknown(line, view)),
            },
            _ => return Err(unknown(line, view)),
        },
    };
    if is_of(word, view) { Ok(word) } else { Err(unknown(line, view)) }
}

/// A line of one character is the key of the screen.
fn one_key(line: &str) -> Option<KeyEvent> {
    let mut letters = line.chars();
    let key = letters.next().filter(|_| letters.next().is_none())?;
    Some(KeyCode::Char(key).into())
}

fn offers(view: &View, word: Word) -> bool {
    view.words.iter().any(|offer| offer.word == word)
}

/// Whether the procedure knows a word at all: what it does not want now it answers itself.
fn is_of(word: Word, view: &View) -> bool {
    match (&view.part, word) {
        (_, Word::Quit | Word::Yes | Word::No) => true,
        (Part::Trim(_), Word::Ready | Word::Begin | Word::Turned(_)) => true,
        (Part::Trim(_), Word::Undo | Word::Wrong | Word::Stuck) => true,
        (
            Part::Takes | Part::Trim(_) | Part::Survey(_),
            Word::Take | Word::Redo | Word::More | Word::Next | Word::Back | Word::Go(_),
        ) => true,
        (_, word) => offers(view, word),
    }
}

/// What can be typed now, and what it does.
fn words_now(view: &View) -> Sentence {
    let mut seen: Vec<&'static str> = Vec::new();
    let mut lines = Vec::new();
    for offer in &view.words {
        let Some(word) = typed(offer.word).filter(|word| !seen.contains(word)) else { continue };
        seen.push(word);
        lines.push(match offer.word {
            Word::Go(Stop::Station(_)) => say!("{word}: go to the station of that number or name"),
            _ => say!("{word}: {}", offer.does),
        });
    }
    say!("What can be typed now: {}.", Sentence::joined(lines, "; "))
}

fn unknown(line: &str, view: &View) -> Sentence {
    const TAKES: [&str; 7] = ["take", "redo", "more", "next", "back", "station N", "emitter"];
    const TRIM: [&str; 6] = ["begin", "ready", "told or turned TURNS", "undo", "wrong", "stuck"];
    let mut words: Vec<&'static str> = Vec::new();
    match &view.part {
        Part::Takes | Part::Survey(_) => words.extend(TAKES),
        Part::Trim(_) => words.extend(TAKES.into_iter().chain(TRIM)),
        Part::Level(_) | Part::Zero(_) | Part::Birth(_) => {
            for offer in view.words.iter().filter(|offer| offer.word != Word::Quit) {
                words.extend(typed(offer.word).filter(|word| !words.contains(word)));
            }
        }
    }
    for word in [Word::Begin, Word::Skip].into_iter().filter(|word| offers(view, *word)) {
        words.extend(typed(word).filter(|word| !words.contains(word)));
    }
    words.extend(["help", "quit"]);
    say!("\"{}\" is not known here. Type {}.", Name(line), Sentence::list(words, "or"))
}

/// A station by its name or its number, counted from 1; or the emitter.
fn station(name: &str, view: &View) -> Result<Word, Sentence> {
    let numbered = name.parse().ok().filter(|number| (1..=view.stations.len()).contains(number));
    let named = || view.stations.iter().position(|station| station.name.eq_ignore_ascii_case(name));
    match numbered.map(|number: usize| number - 1).or_else(named) {
        Some(at) => Ok(Word::Go(Stop::Station(at))),
        None if name.eq_ignore_ascii_case("emitter") => Ok(Word::Go(Stop::Emitter)),
        None => Err(say!(
            "There is no station \"{}\". They are numbered 1 to {}.",
            Name(name),
            view.stations.len()
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::console::samples;
    use skimgauge_quantity::Style;

    /// What the help of the screen names is known in a line, too.
    #[test]
    fn a_key_typed_as_a_line_says_its_word() {
        let view = samples::all().into_iter().find(|(name, _)| *name == "trim turn").unwrap().1;
        for (line, word) in [
            ("b", Word::Undo),
            ("d", Word::Stuck),
            ("w", Word::Wrong),
            ("m", Word::More),
            ("x", Word::Turned(None)),
            ("q", Word::Quit),
            (" 2 ", Word::Go(Stop::Station(1))),
        ] {
            assert_eq!(understood(line, &view), Ok(word), "{line}");
        }
        let says = |line| understood(line, &view).unwrap_err().text(Style::default());
        assert!(says("?").starts_with("What can be typed now"));
        assert!(says("j").starts_with("\"j\" is not known here"));
    }
}
