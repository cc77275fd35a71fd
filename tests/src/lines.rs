//! The form of `watch --json`, held field by field as `host/cli/src/console/json.rs` documents it.

use serde_json::Value;

type Check = fn(&Value) -> bool;

fn number(value: &Value) -> bool {
    value.is_number()
}
fn number_or_null(value: &Value) -> bool {
    value.is_number() || value.is_null()
}
fn count(value: &Value) -> bool {
    value.is_u64()
}
fn count_or_null(value: &Value) -> bool {
    value.is_u64() || value.is_null()
}
fn text(value: &Value) -> bool {
    value.is_string()
}
fn text_or_null(value: &Value) -> bool {
    value.is_string() || value.is_null()
}
fn names(value: &Value) -> bool {
    value.as_array().is_some_and(|names| names.iter().all(Value::is_string))
}
fn names_or_null(value: &Value) -> bool {
    value.is_null() || names(value)
}
fn yes_or_no(value: &Value) -> bool {
    value.is_boolean()
}
fn one_of(value: &Value, words: &[&str]) -> bool {
    value.as_str().is_some_and(|word| words.contains(&word))
}
fn verdict(value: &Value) -> bool {
    one_of(value, &["within", "outside", "unsure"])
}
fn verdict_or_null(value: &Value) -> bool {
    value.is_null() || verdict(value)
}
fn link(value: &Value) -> bool {
    one_of(value, &["greeting", "up", "lost"])
}
fn came(value: &Value) -> bool {
    one_of(&value["how"], &["first", "seen", "same", "said"])
        && (value["how"] == "said") != value["from"].is_null()
}
fn shown(value: &Value) -> bool {
    let Some(fields) = value.as_object() else { return false };
    let has = |names: &[&str]| {
        fields.len() == names.len() + 1 && names.iter().all(|name| fields.contains_key(*name))
    };
    match fields.get("is").and_then(Value::as_str) {
        Some("good") => {
            has(&["value", "u"])
                && number(&value["value"])
                && value["u"].as_f64().is_some_and(|u| u > 0.0)
        }
        Some("doubtful") => {
            has(&["value", "why"]) && number(&value["value"]) && text(&value["why"])
        }
        Some("absent") => has(&["why"]) && text(&value["why"]),
        _ => false,
    }
}

fn emitter_off(value: &Value) -> bool {
    match value["is"].as_str() {
        Some("off") => number(&value["to_go_s"]),
        Some("offered" | "on") => value.as_object().is_some_and(|fields| fields.len() == 1),
        _ => value.is_null(),
    }
}

fn judged_at(value: &Value) -> bool {
    value == "board" || names(value)
}
fn tilt_or_null(value: &Value) -> bool {
    let numbers = ["emitter_deg", "board_deg", "value_deg", "expanded_deg"];
    value.is_null()
        || (numbers.iter().all(|name| number(&value[name])) && verdict(&value["verdict"]))
}

const LIVE: &[(&str, Check)] = &[
    ("head", text_or_null),
    ("link", link),
    ("station", text),
    ("gap_mm", shown),
    ("level_deg", shown),
    ("lean_deg", shown),
    ("still_at", text_or_null),
    ("verdict", verdict_or_null),
    ("state", text),
    ("faults", names),
    ("can_take", yes_or_no),
    ("asks", text_or_null),
    ("storing", text_or_null),
    ("contradicts", text_or_null),
    ("odd", names_or_null),
    ("emitter_off", emitter_off),
    ("temperature_c", number_or_null),
    ("supply_v", number_or_null),
    ("received", count),
    ("lost", count),
];

const TAKE: &[(&str, Check)] = &[
    ("station", text),
    ("gap_mm", number),
    ("u_mm", number),
    ("expanded_mm", number),
    ("dof", number_or_null),
    ("verdict", verdict),
    ("readings", count),
    ("window_s", number),
    ("seats", count),
    ("seat_mm", number),
    ("event", count_or_null),
    ("came", came),
    ("whole", verdict),
    ("judged_at", judged_at),
    ("odd", names),
];

const TILT: &[(&str, Check)] = &[
    ("level_deg", number),
    ("lean_deg", number),
    ("u_deg", number),
    ("event", count_or_null),
    ("level", tilt_or_null),
    ("lean", tilt_or_null),
    ("came", came),
    ("whole", verdict),
];

const ADVICE: &[(&str, Check)] = &[("advice", Value::is_object), ("text", text)];

const MESSAGE: &[(&str, Check)] = &[("text", text), ("bad", yes_or_no)];

const END: &[(&str, Check)] = &[
    ("whole", verdict),
    ("because", text),
    ("judged_at", judged_at),
    ("odd", names),
    ("level", tilt_or_null),
    ("lean", tilt_or_null),
    ("simulated", yes_or_no),
    ("received", count),
    ("lost", count),
    ("skipped_bytes", count),
];

const WALK: &[(&str, Check)] = &[
    ("link", link),
    ("step", text_or_null),
    ("waits", yes_or_no),
    ("asks", text),
    ("level_deg", shown),
    ("lean_deg", shown),
    ("stand_off_mm", number_or_null),
    ("readings", count_or_null),
    ("found", found),
];

const STEP: &[(&str, Check)] = &[("text", text)];

fn found(value: &Value) -> bool {
    let words = ["as-it-should-be", "not-seen", "fault"];
    value.as_array().is_some_and(|all| {
        all.iter().all(|one| text(&one["check"]) && one_of(&one["verdict"], &words))
    })
}

/// Holds one line against the documented form: its kind, every field there and of its type, no
/// other.
///
/// # Panics
/// It is not of that form.
pub fn check(line: &str) {
    let value: Value =
        serde_json::from_str(line).unwrap_or_else(|why| panic!("not JSON ({why}): {line}"));
    let object = value.as_object().unwrap_or_else(|| panic!("not an object: {line}"));
    if matches!(value["schema"].as_str(), Some("skimgauge.level" | "skimgauge.level-reversed")) {
        return;
    }
    assert_eq!(value["schema"], 1, "{line}");
    if value["kind"] == "birth" {
        // The form of a file of its own: held by its tests.
        return;
    }
    assert!(value["t_s"].as_f64().is_some_and(|t_s| t_s >= 0.0), "{line}");
    let fields = match value["kind"].as_str() {
        Some("live") => LIVE,
        Some("take") => TAKE,
        Some("tilt") => TILT,
        Some("message" | "guide") => MESSAGE,
        Some("advice") => ADVICE,
        Some("end") => END,
        Some("walk") => WALK,
        Some("step") => STEP,
        _ => panic!("no such kind: {line}"),
    };
    for (name, check) in fields {
        let field = object.get(*name).unwrap_or_else(|| panic!("without {name}: {line}"));
        assert!(check(field), "{name} is not of its type: {line}");
    }
    assert_eq!(object.len(), fields.len() + 3, "a field that nothing documents: {line}");
    if value["kind"] == "live" && value["gap_mm"]["is"] != "good" {
        assert_eq!(value["can_take"], false, "a gap that is not good can be taken: {line}");
        assert!(value["verdict"].is_null(), "a gap that is not good has a verdict: {line}");
    }
    if value["kind"] == "live" && !value["still_at"].is_null() {
        assert_ne!(value["still_at"], value["station"], "the head is where it is to be: {line}");
        assert!(value["verdict"].is_null(), "another place's gap has a verdict: {line}");
    }
}
