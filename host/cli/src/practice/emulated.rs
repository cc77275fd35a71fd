//! The flash image on an emulated chip, its constants written as any host writes them, at a port.

use anyhow::{Context, bail, ensure};
use skimgauge_bench::bench::Bench;
use skimgauge_bench::zeroed::Zeroed;
use skimgauge_emulator::EmulatedHead;
use skimgauge_emulator::terminal::Terminal;
use skimgauge_shared::exchange::{Tokens, WriteConstants};
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::message::{Answer, Ask, Report, Request};

/// An answer comes within so much of the head's time.
const ANSWER_US: u64 = 2_000_000;
const STEP_US: u64 = 5_000;

/// The head on this bench, zeroed, at a port.
///
/// # Errors
/// The image, the emulator or Node is missing, and what to do; or the head does not take its
/// constants.
pub(super) fn plugged(bench: &Bench, zeroed: Zeroed) -> anyhow::Result<Terminal> {
    let mut head = EmulatedHead::start(bench.clone())
        .map_err(|missing| anyhow::anyhow!("The emulated head needs something: {missing}."))?;
    let over = "The emulated head ended.";
    head.open_port(true).context(over)?;
    head.run_for(ANSWER_US / 4).context(over)?;
    head.take_received();
    let Zeroed { calibration, pixels } = zeroed;
    let mut tokens = Tokens::new();
    let written = WriteConstants::carry_out(calibration, Some(pixels), |request| {
        ask(&mut head, &mut tokens, request)
    })?;
    ensure!(written.is_ok(), "The emulated head does not keep its constants.");
    head.open_port(false).context(over)?;
    head.run_for(STEP_US).context(over)?;
    head.take_received();
    Terminal::new(head).context("This computer gives no pseudo-terminal for the emulated head.")
}

/// Sends a request, if there is one; the head's next answer.
fn ask(
    head: &mut EmulatedHead,
    tokens: &mut Tokens,
    request: Option<Request>,
) -> anyhow::Result<(Ask, Answer)> {
    if let Some(request) = request {
        let mut frame = [0; MAX_FRAME];
        let frame = encode(&tokens.call(request), &mut frame)
            .map_err(|_| anyhow::anyhow!("A request is too long."))?;
        head.send(frame).context("The emulated head ended.")?;
    }
    let mut decoder = Decoder::new();
    let until_us = head.now_us() + ANSWER_US;
    while head.now_us() < until_us {
        head.run_for(STEP_US).context("The emulated head ended.")?;
        for byte in head.take_received() {
            if let Fed::Message(Report::Answer(token, answer)) = decoder.feed(byte)
                && let Some(ask) = tokens.answered(token, &answer)
            {
                return Ok((ask, answer));
            }
        }
    }
    bail!("The emulated head does not answer.")
}
