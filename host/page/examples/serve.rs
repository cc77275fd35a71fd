//! Serves states from standard input, a line each: `{"mm": …, "inch": …}`, as a page gets them.
//! Prints its addresses, then what it hears, a line each: for tests of the pages themselves.

use serde_json::{Value, json};
use skimgauge_page::{Act, Heard, Page, Settings, State};
use std::io::{BufRead, Write, stdin, stdout};
use std::sync::mpsc::{TryRecvError, sync_channel};
use std::time::Duration;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let page = Page::open(Settings::default())?;
    let links = page.links();
    say(&json!({"board": links.board, "phone": links.phone, "looks": links.looks}))?;
    // Whoever writes faster than this shows waits: what is measured of memory is the page's.
    let (sends, lines) = sync_channel(4);
    std::thread::spawn(move || {
        for line in stdin().lock().lines().map_while(Result::ok) {
            if sends.send(line).is_err() {
                break;
            }
        }
    });
    loop {
        match lines.try_recv() {
            Ok(line) => {
                let both: Value = serde_json::from_str(&line)?;
                let bytes = |units: &str| both[units].to_string().into_bytes().into();
                let number = both["mm"]["number"].as_u64().unwrap_or(0);
                page.show(State { number, mm: bytes("mm"), inch: bytes("inch") });
                continue;
            }
            Err(TryRecvError::Disconnected) => return Ok(()),
            Err(TryRecvError::Empty) => (),
        }
        match page.heard() {
            Some(heard) => say(&told(&heard))?,
            None => std::thread::sleep(Duration::from_millis(2)),
        }
    }
}

fn told(heard: &Heard) -> Value {
    match heard {
        Heard::Came(who) => json!({"came": who.to_string()}),
        Heard::Left(who) => json!({"left": who.to_string()}),
        Heard::Act { by, seen, act } => {
            let act = match act {
                Act::Say(word) => json!({"word": word}),
                Act::Note(note) => json!({"note": note}),
                Act::Frame(frame) => {
                    json!({"whole": frame.whole, "across_mm": frame.across, "down_mm": frame.down})
                }
                Act::Taped(taped) => json!({"name": taped.name, "length_mm": taped.length}),
                Act::Proof(told) => json!({"events": told.events.len()}),
                Act::Photo(photo) => json!({"photo": photo.bytes}),
            };
            json!({"by": by.to_string(), "seen": seen, "act": act})
        }
    }
}

fn say(what: &Value) -> std::io::Result<()> {
    let mut out = stdout().lock();
    writeln!(out, "{what}")?;
    out.flush()
}
