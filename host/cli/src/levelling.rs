//! The head as a digital level: brackets, emitter, board. A reversal takes the head's own offset
//! out of a reading.

use crate::jobs;
use crate::outcome::{Ended, Outcome};
use crate::zeroing::talk::{Talk, Word};
use skimgauge_metrology::level::{Reversal, inches_per_foot, mm_per_m, ruler};
use skimgauge_metrology::measure::{Limits, Live, Shown};
use skimgauge_system::terminal::rewrite_line;
use std::io::{IsTerminal, Write};

/// Inches are shown in this many parts.
const RULER: u32 = 64;
/// A word typed before the head rests waits no longer than this for it, s.
const REST_FOR_S: f64 = 5.0;

/// One axis, marked.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Mark {
    level_deg: f64,
    lean_deg: f64,
}

/// Shows level and lean until the user has enough.
///
/// # Errors
/// No head answers, or it is gone.
pub fn run(port: &str, json: bool) -> Outcome {
    let mut limits = Limits::default();
    // A level stands on anything.
    limits.board.tolerance_deg = 60.0;
    let mut talk = Talk::open(port, limits, jobs::today())?;
    let lively = !json && std::io::stdout().is_terminal();
    if !json {
        println!(
            "Enter or the head's button marks a reading; turn the head end for end on the same spot and mark again: \
             tilt without the head's own offset. `clear` forgets the mark, `quit` ends."
        );
    }
    let mut first: Option<Mark> = None;
    let mut shown_s = f64::NEG_INFINITY;
    let every_s = if lively { 0.1 } else { 1.0 };
    loop {
        let now_s = talk.now_s();
        let word = talk.word()?;
        match word {
            Some(Word::Quit) => {
                if lively {
                    println!();
                }
                return Ok(Ended::Well);
            }
            Some(Word::Other(word)) if word == "clear" => first = None,
            Some(Word::Other(word)) => {
                eprintln!("`{word}` is not known here: Enter, clear or quit.");
            }
            Some(Word::Go) => match mark(&mut talk)? {
                None => eprintln!(
                    "Not marked: the head does not come to rest, or does not tell its tilt."
                ),
                Some(now) => match first.take() {
                    None => {
                        first = Some(now);
                        if !json {
                            println!(
                                "Marked. Now turn the head end for end on the same spot, and mark again."
                            );
                        }
                    }
                    Some(before) => reversed(before, now, json)?,
                },
            },
            // Without anybody to type, the readings go on until their reader has enough.
            Some(Word::End) | None => (),
        }
        if now_s - shown_s >= every_s {
            shown_s = now_s;
            let live = talk.live();
            let rests = talk.observer().level_rests();
            let out = &mut std::io::stdout();
            match (json, lively) {
                (true, _) => writeln!(out, "{}", object(&live, rests))?,
                (false, true) => rewrite_line(&line(&live, rests))?,
                (false, false) => writeln!(out, "{}", line(&live, rests))?,
            }
            out.flush()?;
        }
    }
}

fn mark(talk: &mut Talk) -> anyhow::Result<Option<Mark>> {
    // The finger on the button shook it.
    talk.until(0.3, |_| false)?;
    talk.until(REST_FOR_S, |talk| talk.observer().level_rests() && tilts(&talk.live()).is_some())?;
    if !talk.observer().level_rests() {
        return Ok(None);
    }
    Ok(tilts(&talk.live()).map(|(level_deg, lean_deg)| Mark { level_deg, lean_deg }))
}

fn tilts(live: &Live) -> Option<(f64, f64)> {
    Some((live.level_deg.good()?.0, live.lean_deg.good()?.0))
}

fn reversed(first: Mark, second: Mark, json: bool) -> anyhow::Result<()> {
    // Scatter of a second's mean, filtered noise: some 2 thousandths of a degree.
    const MEAN_U_DEG: f64 = 0.002;
    let of = |pick: fn(Mark) -> f64| Reversal::of(pick(first), pick(second), MEAN_U_DEG);
    let (level, lean) = (of(|m| m.level_deg), of(|m| m.lean_deg));
    let out = &mut std::io::stdout();
    if json {
        let value = serde_json::json!({ "schema": "skimgauge.level-reversed", "version": 1, "level": level, "lean": lean });
        writeln!(out, "{value}")?;
    } else {
        writeln!(
            out,
            "level {}  (head's own offset {:+.3} degrees)",
            angle(level.tilt_deg),
            level.offset_deg
        )?;
        writeln!(
            out,
            "lean  {}  (head's own offset {:+.3} degrees; only if it was turned to the other face of the same plate)",
            angle(lean.tilt_deg),
            lean.offset_deg
        )?;
    }
    out.flush()?;
    Ok(())
}

fn angle(deg: f64) -> String {
    format!(
        "{deg:+8.3} deg {:+8.2} mm/m {:>9}/ft",
        mm_per_m(deg),
        ruler(inches_per_foot(deg), RULER)
    )
}

fn shown(shown: Shown) -> String {
    match shown {
        Shown::Good { value, .. } => angle(value),
        Shown::Doubtful { why, .. } | Shown::Absent { why } => format!("{:<36}", why.name()),
    }
}

fn line(live: &Live, rests: bool) -> String {
    let state = if rests { "at rest" } else { "moving" };
    format!("level {} | lean {} | {state}", shown(live.level_deg), shown(live.lean_deg))
}

fn object(live: &Live, rests: bool) -> serde_json::Value {
    let axis = |s: Shown| match s {
        Shown::Good { value, u } => serde_json::json!({
            "deg": value, "u_deg": u, "mm_per_m": mm_per_m(value), "inches_per_foot": inches_per_foot(value),
        }),
        Shown::Doubtful { why, .. } | Shown::Absent { why } => {
            serde_json::json!({ "absent": why, "says": why.sentence() })
        }
    };
    serde_json::json!({
        "schema": "skimgauge.level", "version": 1,
        "level": axis(live.level_deg), "lean": axis(live.lean_deg), "at_rest": rests,
    })
}
