//! Takes the screen as the commands do, and comes to a bad end of the kind asked for.

use skimgauge_system::signals::{Heed, guard_panics};
use skimgauge_system::terminal::Screen;
use std::io::Write;
use std::process::ExitCode;
use std::time::Duration;

fn main() -> ExitCode {
    guard_panics();
    let end = std::env::args().nth(1).unwrap_or_default();
    let heed = Heed::new(Duration::from_millis(200));
    let screen = Screen::enter().expect("a terminal");
    say("up");
    match end.as_str() {
        "panic" => panic!("the floor gave way"),
        "panic-elsewhere" => {
            let _ = std::thread::spawn(|| panic!("the floor gave way")).join();
            // As a watch does, which looks for it between two of its turns.
            heed.wait(None);
            say("kept");
        }
        // Never looks whether it is to end.
        "stuck" => loop {
            std::thread::sleep(Duration::from_secs(1));
        },
        "stuck-drawing" => {
            let _held = std::io::stdout().lock();
            loop {
                std::thread::sleep(Duration::from_secs(1));
            }
        }
        // Nobody reads the terminal any more: this waits for ever.
        "flooding" => loop {
            say(&"x".repeat(4_096));
        },
        _ => {
            heed.wait(None);
        }
    }
    drop(screen);
    drop(heed);
    ExitCode::from(skimgauge_system::signals::caught().map_or(0, |ending| ending.status()))
}

fn say(what: &str) {
    let mut out = std::io::stdout().lock();
    let _ = write!(out, "{what}").and_then(|()| out.flush());
}
