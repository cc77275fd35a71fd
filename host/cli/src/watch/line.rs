//! A watch as lines: for people (`--plain`) and for programs (`--json`, schema below).
//!
//! Each JSON line is an object with `schema` (this form's number, [`SCHEMA`]), `kind` and `t_s`
//! (seconds since the watch began).
//!
//! - `kind: "live"`, ten a second, and at once when the gap stops being good: `head` (serial or
//!   null), `link` (`greeting`, `up`, `lost`), `station`, `gap_mm`, `level_deg`, `lean_deg` (each
//!   `{is: "good", value, u}`, `{is: "doubtful", value, why}` or `{is: "absent", why}`), `verdict`
//!   (`within`, `outside`, `unsure`, or null without a good gap), `state`, `faults` (names, gravest
//!   first), `can_take`, `asks` (a question that waits for its answer, or null), `storing` (what is
//!   on its way into the record, or null), `temperature_c`, `supply_v`, `received`, `lost`.
//! - `kind: "take"`: `station`; what stands there now, over all seats: `gap_mm`, `u_mm`,
//!   `expanded_mm`, `dof`, `verdict`, `readings`, `window_s`; `seats` (how many) and `seat_mm` (the
//!   gap of this one); `event` (its place in the record, or null), `came` (how the head had come
//!   there: `{how: "first"}`, `seen`, `same`, or `said` with `from`), `whole` (the verdict over
//!   everything so far), `judged_at` (what a `within` of the whole speaks of: the names of the
//!   places read, or `"board"` once it is surveyed), `odd` (where the takes contradict one another:
//!   the stations to take again; else empty). While they contradict one another, `verdict` and
//!   `whole` are `unsure`.
//! - `kind: "tilt"`: how the emitter itself stands, against gravity: `level_deg`, `lean_deg`,
//!   `u_deg`, `event`, `came`; and against the board, judged: `level`, `lean` (each `{emitter_deg,
//!   board_deg, value_deg, expanded_deg, verdict}`, or null where the job does not judge it or the
//!   board's stations are missing), `whole`.
//! - `kind: "message"`: `text`, `bad`.
//! - `kind: "end"`: `whole`, `because`, `judged_at`, `odd`, `level`, `lean`, `received`, `lost`,
//!   `skipped_bytes`.
//!
//! `u` is a standard uncertainty, `expanded` a half width at 95 %. A field is never left out; null
//! says not known. Fields may be added; what is here keeps its meaning within one schema number.

use super::stations::{EmitterTilt, Kept, TiltVerdict, Undecided, Whole};
use super::{Link, Watch};
use serde::Serialize;
use serde_json::{Value, json};
use skimgauge_metrology::measure::{Came, Shown};
use std::time::Duration;

/// Version of the lines' form.
pub const SCHEMA: u32 = 1;

/// A line for the live state.
pub fn live(watch: &Watch, now: Duration) -> Value {
    let live = watch.live(now);
    let (head, link) = match &watch.link {
        Link::Greeting => (None, "greeting"),
        Link::Up(head) => (head.hello.serial.map(|serial| serial.to_string()), "up"),
        Link::Lost(_) => (None, "lost"),
    };
    let faults: Vec<&str> = live.faults.iter().map(|fault| fault.name()).collect();
    object(
        "live",
        now,
        json!({
            "head": head,
            "link": link,
            "station": watch.stations.name(),
            "gap_mm": live.gap_mm,
            "level_deg": live.level_deg,
            "lean_deg": live.lean_deg,
            "verdict": watch.live_verdict(&live),
            "state": live.state.words(),
            "faults": faults,
            "can_take": live.can_take.is_ok(),
            "asks": watch.question(),
            "storing": watch.busy(),
            "temperature_c": live.temperature_c,
            "supply_v": live.supply_v,
            "received": watch.counts.received,
            "lost": watch.counts.lost,
        }),
    )
}

/// A line for a take just kept; `event` is its place in the record.
pub fn take(watch: &Watch, now: Duration, station: &str, kept: &Kept, event: Option<u32>) -> Value {
    object(
        "take",
        now,
        json!({
            "station": station,
            "gap_mm": kept.take.gap_mm,
            "u_mm": kept.take.u_mm,
            "expanded_mm": kept.expanded_mm,
            "dof": kept.take.dof,
            "verdict": watch.whole().told(kept.verdict),
            "readings": kept.take.readings,
            "window_s": kept.take.window_s,
            "seats": kept.seats.len(),
            "seat_mm": kept.seats.last().map(|seat| seat.gap_mm),
            "event": event,
            "came": came(&kept.came),
            "whole": watch.whole().verdict,
            "judged_at": watch.whole().judged_at,
            "odd": odd(watch.whole()),
        }),
    )
}

fn came(came: &Came) -> Value {
    match came {
        Came::First => json!({ "how": "first" }),
        Came::Seen => json!({ "how": "seen" }),
        Came::Same => json!({ "how": "same" }),
        Came::Said { from } => json!({ "how": "said", "from": from.name() }),
    }
}

/// A line for the emitter's tilt just kept.
pub fn tilt(
    watch: &Watch,
    now: Duration,
    tilt: EmitterTilt,
    came: &Came,
    event: Option<u32>,
) -> Value {
    object(
        "tilt",
        now,
        json!({
            "level_deg": tilt.level_deg,
            "lean_deg": tilt.lean_deg,
            "u_deg": tilt.u_deg,
            "event": event,
            "level": judged(&watch.whole().level),
            "lean": judged(&watch.whole().lean),
            "came": self::came(came),
            "whole": watch.whole().verdict,
        }),
    )
}

/// A line for something said to the user.
pub fn message(now: Duration, text: &str, bad: bool) -> Value {
    object("message", now, json!({ "text": text, "bad": bad }))
}

/// The last line.
pub fn end(watch: &Watch, now: Duration) -> Value {
    object(
        "end",
        now,
        json!({
            "whole": watch.whole().verdict,
            "because": watch.whole().because(watch.job.bands.gap),
            "judged_at": watch.whole().judged_at,
            "odd": odd(watch.whole()),
            "level": judged(&watch.whole().level),
            "lean": judged(&watch.whole().lean),
            "received": watch.counts.received,
            "lost": watch.counts.lost,
            "skipped_bytes": watch.counts.skipped_bytes,
        }),
    )
}

/// The stations to take again, where the takes contradict one another.
fn odd(whole: &Whole) -> Vec<&str> {
    whole
        .contradiction()
        .into_iter()
        .flat_map(|odd| &odd.suspects)
        .map(|suspect| suspect.name.as_str())
        .collect()
}

/// Level or lean, where it could be judged.
fn judged(tilt: &Option<Result<TiltVerdict, Undecided>>) -> Option<TiltVerdict> {
    tilt.as_ref()?.as_ref().ok().copied()
}

fn object(kind: &str, now: Duration, rest: Value) -> Value {
    #[derive(Serialize)]
    struct Line<'a> {
        schema: u32,
        kind: &'a str,
        t_s: f64,
        #[serde(flatten)]
        rest: Value,
    }
    let t_s = (now.as_secs_f64() * 1e3).round() / 1e3;
    serde_json::to_value(Line { schema: SCHEMA, kind, t_s, rest }).unwrap_or(Value::Null)
}

/// The live state in one plain line.
pub fn plain(watch: &Watch, now: Duration) -> String {
    let live = watch.live(now);
    let place = watch.stations.name();
    let unit = watch.units.sign();
    let gap = match live.gap_mm {
        // On the emitter the head looks at nothing: its tilt is what counts.
        _ if watch.stations.station().is_none() => String::new(),
        Shown::Good { value, .. } => {
            let verdict =
                watch.live_verdict(&live).map_or("", crate::console::screen::words::verdict);
            format!("gap {:>6} {unit}  {verdict}", watch.units.gap_number(value))
        }
        Shown::Doubtful { value, why } => {
            format!("gap {:>6} {unit}?  doubtful: {}", watch.units.gap_number(value), why.name())
        }
        Shown::Absent { why } => format!("gap   --   {unit}  no value: {}", why.name()),
    };
    let tilt = |shown: Shown| match shown {
        Shown::Good { value, .. } => format!("{value:+.2}"),
        Shown::Doubtful { value, .. } => format!("{value:+.2}?"),
        Shown::Absent { .. } => "--".to_owned(),
    };
    format!(
        "{place:<14} {gap:<34} level {:>6}  lean {:>6}  {}",
        tilt(live.level_deg),
        tilt(live.lean_deg),
        live.state.words()
    )
}
