//! Lines typed where there is no screen.

use crate::watch::{Said, Watch};
use skimgauge_system::input;
use std::sync::mpsc::{Receiver, channel};

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

/// A typed line: `take`, `redo`, `more`, `next`, `back`, `station` with a number or a name,
/// `emitter`, `quit`.
///
/// # Errors
/// It is none of these, or there is no such place: in a sentence.
pub fn understood(line: &str, watch: &Watch) -> Result<Said, String> {
    let line = line.trim();
    Ok(match line {
        "take" => Said::Take,
        "yes" => Said::Yes,
        "no" => Said::Other,
        "redo" => Said::Redo,
        "more" => Said::More,
        "next" => Said::Next,
        "back" => Said::Back,
        "quit" => Said::Quit,
        "emitter" => Said::Go(usize::MAX),
        _ => {
            let Some(name) = line.strip_prefix("station ") else {
                return Err(format!(
                    "\"{line}\" is not known here. Type take, redo, more, next, back, station N, emitter or quit."
                ));
            };
            match watch.stations.named(name) {
                Some(place) => Said::Go(place),
                None => {
                    return Err(format!(
                        "There is no station \"{}\". They are numbered 1 to {}.",
                        name.trim(),
                        watch.stations.rows().len()
                    ));
                }
            }
        }
    })
}
