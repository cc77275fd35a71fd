//! A procedure's view and its news for programs: one JSON object a line.
//!
//! Each is an object with `schema` (this form's number, [`SCHEMA`]), `kind` and `t_s` (seconds since
//! the link was opened).
//!
//! - `kind: "live"`, ten a second, and at once when the gap stops being good: `head` (serial or
//!   null), `link` (`greeting`, `up`, `lost`), `station`, `gap_mm`, `level_deg`, `lean_deg` (each
//!   `{is: "good", value, u}`, `{is: "doubtful", value, why}` or `{is: "absent", why}`), `still_at`
//!   (where the head still stands and `gap_mm` is read, where that is not `station`; else null),
//!   `verdict` (`within`, `outside`, `unsure`, or null without a good gap or where `still_at` is
//!   not null), `state`, `faults` (names, gravest
//!   first), `can_take`, `asks` (a question that waits for its answer, or null), `storing` (what is
//!   on its way into the record, or null), `contradicts` (that the takes contradict one another and
//!   what to do, for as long as they do, else null), `odd` (as in `take`; null where no stations are
//!   taken), `emitter_off` (the look with the emitter switched off,
//!   while it is due: `{is: "offered"}`, `{is: "off", to_go_s}` or `{is: "on"}`: it is to be
//!   switched on again; else null), `temperature_c`, `supply_v`, `received`, `lost`.
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
//! - `kind: "message"`: `text`, `bad`. `kind: "guide"`: the same, said by a trim. `kind: "advice"`:
//!   what a trim wants done now: `advice`, `text`.
//! - `kind: "step"`: what a zeroing wants done now: `text`. `kind: "constants"`: what it comes to,
//!   before it is written to the head: `outcome` (the new `calibration`, `changes`, `residuals`,
//!   `budget` and what else the plain table shows).
//! - `kind: "walk"`, ten a second, of a head's first start: `link`, `step` (its name; null once all
//!   are made), `waits` (for a person), `asks` (what is to be done), `level_deg`, `lean_deg` (as in
//!   `live`), `stand_off_mm`, `readings` (gathered for the step so far, or null), `found` (each
//!   `{check, verdict}`, the verdict `as-it-should-be`, `not-seen` or `fault`). Its last line has
//!   `kind: "birth"`: the certificate, in the form of its file (`report/birth.rs`).
//! - `kind: "end"`: `whole`, `because`, `judged_at`, `odd`, `level`, `lean`, `simulated` (whether a
//!   simulated head read it: practice), `received`, `lost`, `skipped_bytes`.
//!
//! `u` is a standard uncertainty, `expanded` a half width at 95 %. Lengths are millimetres whatever
//! the screen shows. A field is never left out; null says not known. Fields may be added; what is
//! here keeps its meaning within one schema number.

use serde_json::{Value, json};
use skimgauge_metrology::measure::Came;
use skimgauge_procedure::view::birth::BirthView;
use skimgauge_procedure::view::level::{AxisFound, LevelFound, LevelView};
use skimgauge_procedure::view::{LinkView, Part, Reading, State, WholeView};
use skimgauge_procedure::{Message, News, View};
use skimgauge_quantity::{Deg, MmPerM};

/// Version of the lines' form.
pub const SCHEMA: u32 = 1;

/// How things stand.
pub fn line(view: &View) -> Value {
    if let Part::Level(level) = &view.part {
        return of_level(view, level);
    }
    if let Part::Birth(birth) = &view.part {
        return of_birth(view, birth);
    }
    let head = match &view.link {
        LinkView::Up { head } => head.as_deref(),
        LinkView::Greeting | LinkView::Lost { .. } => None,
    };
    let faults: Vec<&str> = view.faults.iter().map(|fault| fault.name).collect();
    let live = &view.live;
    object(
        "live",
        view.at_s,
        json!({
            "head": head,
            "link": link(view),
            "station": view.place.as_ref().and_then(|place| place.place.name()),
            "gap_mm": live.gap,
            "level_deg": live.level,
            "lean_deg": live.lean,
            "still_at": view.still_at(),
            "verdict": live.verdict.filter(|_| view.still_at().is_none()),
            "state": live.says,
            "faults": faults,
            "can_take": live.can_take,
            "asks": view.question.as_ref().map(|question| &question.asks),
            "storing": view.saving,
            "contradicts": view.whole.as_ref().and_then(|whole| whole.contradicts.as_ref()),
            "odd": view.whole.as_ref().map(|whole| &whole.odd),
            "emitter_off": view.emitter_off,
            "temperature_c": live.temperature,
            "supply_v": live.supply_v,
            "received": view.counts.received,
            "lost": view.counts.lost,
        }),
    )
}

/// A first start's own line.
fn of_birth(view: &View, birth: &BirthView) -> Value {
    let step = birth.now.and_then(|now| birth.steps.get(now));
    object(
        "walk",
        view.at_s,
        json!({
            "link": link(view),
            "step": step.map(|step| step.key),
            "waits": view.state == State::Ready || view.state == State::Asked,
            "asks": view.instruction,
            "level_deg": view.live.level,
            "lean_deg": view.live.lean,
            "stand_off_mm": view.live.stand_off,
            "readings": birth.gathered,
            "found": birth.checks.iter().map(|check| json!({
                "check": check.check, "verdict": check.verdict,
            })).collect::<Vec<_>>(),
        }),
    )
}

fn link(view: &View) -> &'static str {
    match view.link {
        LinkView::Greeting => "greeting",
        LinkView::Up { .. } => "up",
        LinkView::Lost { .. } => "lost",
    }
}

/// A level's own line: `level`, `lean` (each `{deg, u_deg, mm_per_m, inches_per_foot}` or `{absent,
/// says}`), `at_rest`.
fn of_level(view: &View, level: &LevelView) -> Value {
    let axis = |tilt: Reading<Deg>, slope: Reading<MmPerM>| match (tilt, slope.good()) {
        (Reading::Good { value, u }, Some(slope)) => json!({
            "deg": value, "u_deg": u, "mm_per_m": slope, "inches_per_foot": slope.inch_per_foot(),
        }),
        (other, _) => {
            json!({ "absent": other.why(), "says": other.why().map(|why| why.sentence()) })
        }
    };
    json!({
        "schema": "skimgauge.level", "version": 1,
        "level": axis(view.live.level, level.level_slope),
        "lean": axis(view.live.lean, level.lean_slope),
        "at_rest": view.live.rests,
    })
}

/// What a reversal found: `level`, `lean` (each `{tilt_deg, offset_deg, u_deg, verdict}`), `thing`.
fn levelled(found: &LevelFound) -> Value {
    let axis = |axis: &AxisFound| {
        json!({
            "tilt_deg": axis.tilt, "offset_deg": axis.offset, "u_deg": axis.u, "verdict": axis.verdict,
        })
    };
    json!({
        "schema": "skimgauge.level-reversed", "version": 1,
        "thing": found.thing, "line": found.line, "target_deg": found.target,
        "level": axis(&found.level), "lean": axis(&found.lean),
    })
}

/// Something that happened, at this time in seconds.
pub fn news(at_s: f64, news: &News) -> Value {
    match news {
        News::Message(said) => object("message", at_s, message(said)),
        News::Guide(said) => object("guide", at_s, message(said)),
        News::Advice { advice, says } => {
            object("advice", at_s, json!({ "advice": advice, "text": says }))
        }
        News::Levelled(found) => levelled(found),
        News::Step(says) => object("step", at_s, json!({ "text": says })),
        News::Constants(outcome) => object("constants", at_s, json!({ "outcome": outcome })),
        News::Take { station, event, whole } => {
            let taken = station.taken.as_ref();
            object(
                "take",
                at_s,
                json!({
                    "station": station.name,
                    "gap_mm": taken.map(|taken| taken.gap),
                    "u_mm": taken.map(|taken| taken.u),
                    "expanded_mm": taken.map(|taken| taken.expanded),
                    "dof": taken.and_then(|taken| taken.dof),
                    "verdict": taken.map(|taken| taken.verdict),
                    "readings": taken.map(|taken| taken.readings),
                    "window_s": taken.map(|taken| taken.window_s),
                    "seats": taken.map(|taken| taken.seats),
                    "seat_mm": taken.map(|taken| taken.last),
                    "event": event,
                    "came": taken.map(|taken| came(&taken.came)),
                    "whole": whole.verdict,
                    "judged_at": whole.judged_at,
                    "odd": whole.odd,
                }),
            )
        }
        News::Tilt { tilt, event, came: how, whole } => object(
            "tilt",
            at_s,
            json!({
                "level_deg": tilt.level,
                "lean_deg": tilt.lean,
                "u_deg": tilt.u,
                "event": event,
                "level": whole.level,
                "lean": whole.lean,
                "came": came(how),
                "whole": whole.verdict,
            }),
        ),
    }
}

/// The last line.
pub fn end(view: &View) -> Value {
    let whole = view.whole.as_ref();
    let of = |value: fn(&WholeView) -> Value| whole.map_or(Value::Null, value);
    object(
        "end",
        view.at_s,
        json!({
            "whole": of(|whole| json!(whole.verdict)),
            "because": of(|whole| json!(whole.because)),
            "judged_at": of(|whole| json!(whole.judged_at)),
            "odd": of(|whole| json!(whole.odd)),
            "level": of(|whole| json!(whole.level)),
            "lean": of(|whole| json!(whole.lean)),
            "simulated": of(|whole| json!(whole.simulated)),
            "received": view.counts.received,
            "lost": view.counts.lost,
            "skipped_bytes": view.counts.skipped_bytes,
        }),
    )
}

fn message(said: &Message) -> Value {
    json!({ "text": said.says, "bad": said.bad })
}

fn came(came: &Came) -> Value {
    match came {
        Came::First => json!({ "how": "first" }),
        Came::Seen => json!({ "how": "seen" }),
        Came::Same => json!({ "how": "same" }),
        Came::Said { from } => json!({ "how": "said", "from": from.name() }),
    }
}

fn object(kind: &str, at_s: f64, rest: Value) -> Value {
    let t_s = (at_s * 1e3).round() / 1e3;
    let mut line = json!({ "schema": SCHEMA, "kind": kind, "t_s": t_s });
    if let (Value::Object(line), Value::Object(rest)) = (&mut line, rest) {
        line.extend(rest);
    }
    line
}
