//! A head into its boot loader.

use super::steps::BY_BUTTON;
use crate::head::link::Link;
use crate::head::stream::{Connector, SerialLine};
use anyhow::bail;
use skimgauge_session::{Event, Told, Trouble};
use skimgauge_shared::frame::{MAX_FRAME, SEPARATOR, encode};
use skimgauge_shared::message::{Answer, Ask, Call, LOADER_KEY, Request, Token};
use std::io::Write;
use std::time::{Duration, Instant};

const ANSWER_FOR: Duration = Duration::from_secs(3);
/// A link that was let go holds its port no longer.
const PORT_FOR: Duration = Duration::from_secs(3);
const LOOK_EVERY: Duration = Duration::from_millis(50);

/// Asks a head that this program understands, and waits for the press that it wants.
///
/// # Errors
/// It does not go there, and why.
pub(super) fn enter(link: &Link, port: &str, unattended: bool) -> anyhow::Result<()> {
    link.ask(Request::EnterLoader { key: LOADER_KEY });
    let mut until = Instant::now() + ANSWER_FOR;
    let mut waits = false;
    while Instant::now() < until {
        match link.next(LOOK_EVERY) {
            // It may be gone before its answer is out.
            Some(Told::Head(Event::Answer(Ask::EnterLoader, Answer::Done)) | Told::Lost(_)) => {
                return Ok(());
            }
            Some(Told::Head(Event::Answer(Ask::EnterLoader, Answer::PressWanted { seconds }))) => {
                waits = true;
                until = Instant::now() + Duration::from_secs(seconds.into()) + ANSWER_FOR;
                if unattended {
                    link.ask(Request::Unattended);
                } else {
                    println!(
                        "Press the button on the head within {seconds} s (its lamp flickers)."
                    );
                }
            }
            Some(Told::Head(Event::Answer(Ask::EnterLoader, Answer::Refused(why)))) => {
                let why = format!("{why:?}");
                let why = if waits { "its button was not pressed" } else { &why };
                bail!(
                    "The head on {port} does not go into its boot loader: {why}. Nothing was written. Run this again; \
                     with nobody at the head, add --unattended. {BY_BUTTON}"
                )
            }
            _ => (),
        }
    }
    bail!(
        "The head on {port} did not answer when asked into its boot loader. Nothing was written. {BY_BUTTON}"
    )
}

/// Sends the one frame that every head knows to a head whose other words are strange.
///
/// # Errors
/// The port is gone, or does not take it.
pub(super) fn enter_stranger(port: &str) -> anyhow::Result<()> {
    let request = Request::EnterLoader { key: LOADER_KEY };
    let mut buffer = [0; MAX_FRAME];
    let frame = encode(&Call { token: Token::NONE, request }, &mut buffer)?;
    // What the head has half received ends here.
    let bytes = [&[SEPARATOR], &frame[..]].concat();
    let until = Instant::now() + PORT_FOR;
    let mut stream = loop {
        match SerialLine(port.to_owned()).connect() {
            Ok(stream) => break stream,
            Err(Trouble::Busy { .. }) if Instant::now() < until => {
                std::thread::sleep(LOOK_EVERY);
            }
            Err(other) => return Err(other.into()),
        }
    };
    stream.write_all(&bytes)?;
    stream.flush()?;
    // A port that is closed at once may take its bytes along.
    std::thread::sleep(Duration::from_millis(200));
    println!(
        "The head was asked into its boot loader. If its lamp flickers, press its button within 10 s."
    );
    Ok(())
}
