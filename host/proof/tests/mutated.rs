//! A proof's file that somebody changed, or that was cut: no panic, no number that is none, no
//! verdict from nonsense.

use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use serde_json::Value;
use skimgauge_model::{Image, Verdict};
use skimgauge_proof::finger::{Display, Finger, Hand, begun, played};
use skimgauge_proof::judge::judge;
use skimgauge_proof::limits::{Limits, Tool};
use skimgauge_proof::raw::{Gap, Proof};

fn good() -> Proof {
    let (limits, tool) = (Limits::default(), Tool::Rod);
    let display = Display { reports_per_s: 40.0, ..Display::default() };
    let mut finger = Finger::new(display, Hand::with(tool), 5).biased(limits.of(tool));
    played(&mut finger, begun(Image::mm(2025.0, 1265.6), tool, limits, Gap::Within), &[], vec![])
}

/// Somewhere in it: down from key to key, so that what stands outside of the long paths is hit too.
fn somewhere<'a>(chance: &mut Pcg64Mcg, value: &'a mut Value) -> &'a mut Value {
    let (stop, pick) = (chance.next_u64().is_multiple_of(4), chance.next_u64() as usize);
    let inside = match &*value {
        Value::Array(list) => list.len(),
        Value::Object(keys) => keys.len(),
        _ => 0,
    };
    if stop || inside == 0 {
        return value;
    }
    let next = match value {
        Value::Array(list) => list.get_mut(pick % inside),
        Value::Object(keys) => keys.values_mut().nth(pick % inside),
        _ => None,
    };
    somewhere(chance, next.expect("there are so many"))
}

fn change(chance: &mut Pcg64Mcg, value: &mut Value) {
    let number = chance.next_u64();
    *value = match (chance.next_u64() % 8, &*value) {
        (0, _) => Value::Null,
        (1, _) => Value::from(-1),
        (2, _) => Value::from(1e300),
        (3, _) => Value::from(number as i64),
        (4, Value::Number(was)) => Value::from(was.as_f64().unwrap_or(0.0) * -3.7),
        (5, Value::Array(list)) => Value::Array(list.iter().rev().cloned().collect()),
        (6, Value::Array(list)) => Value::Array(list.iter().chain(list).cloned().collect()),
        (5 | 6, Value::Number(was)) => {
            Value::from(was.as_i64().unwrap_or(0).wrapping_add(7_777_777))
        }
        (_, Value::Array(_)) => Value::Array(Vec::new()),
        _ => Value::from("nonsense"),
    };
}

/// What must be a number is one: JSON has no other word than null for what is none.
fn numbers_are(value: &Value, at: &str) {
    const MAY_BE_NONE: [&str; 22] = [
        "settle",
        "cause",
        "map",
        "moved",
        "leaf",
        "head_mm",
        "not_mm",
        "registers_mm",
        "depth_mm",
        "below",
        "above",
        "scatter_mm",
        "below_mm",
        "above_mm",
        "reports_per_s",
        "jitter_mm",
        "bow",
        "below_per_min",
        "above_per_min",
        "below_per_min_in_all",
        "left_right_mm",
        "left_up_mm",
    ];
    match value {
        Value::Null => {
            assert!(MAY_BE_NONE.contains(&at) || at == "studentised", "{at} is no number");
        }
        Value::Array(list) => list.iter().for_each(|value| numbers_are(value, at)),
        Value::Object(keys) => keys.iter().for_each(|(key, value)| numbers_are(value, key)),
        Value::String(text) => {
            assert!(!text.contains("NaN") && !text.contains("inf "), "{at}: {text}");
        }
        _ => (),
    }
}

#[test]
fn a_thousand_changed_proofs_are_refused_or_judged_in_numbers() {
    let proof = good();
    let untouched = judge(&proof).unwrap();
    assert_eq!(untouched.verdict, Verdict::Within, "{:?}", untouched.because);
    let file = serde_json::to_value(&proof).unwrap();
    assert_eq!(serde_json::from_value::<Proof>(file.clone()).unwrap(), proof);
    let mut chance = Pcg64Mcg::seed_from_u64(17);
    let (mut refused, mut judged) = (0, 0);
    for round in 0..1000u64 {
        let mut changed = file.clone();
        for _ in 0..1 + round % 3 {
            let place = somewhere(&mut chance, &mut changed);
            change(&mut chance, place);
        }
        let Ok(proof) = serde_json::from_value::<Proof>(changed) else {
            refused += 1;
            continue;
        };
        match judge(&proof) {
            Err(why) => {
                assert!(!why.is_empty());
                refused += 1;
            }
            Ok(found) => {
                numbers_are(&serde_json::to_value(&found).unwrap(), "");
                judged += 1;
            }
        }
    }
    assert!(refused > 300 && judged > 10, "{refused} refused, {judged} judged");
}

#[test]
fn a_file_cut_anywhere_is_refused() {
    let text = serde_json::to_string(&good()).unwrap();
    for share in 1..50 {
        let cut = &text[..text.len() * share / 50];
        assert!(serde_json::from_str::<Proof>(cut).is_err());
    }
}

#[test]
fn nonsense_has_no_verdict() {
    let refused = |change: &dyn Fn(&mut Proof)| {
        let mut proof = good();
        change(&mut proof);
        judge(&proof).is_err()
    };
    assert!(refused(&|proof| proof.form = 2));
    assert!(refused(&|proof| proof.image = Image::mm(0.0, 1000.0)));
    assert!(refused(&|proof| proof.windows.clear()));
    assert!(refused(&|proof| proof.windows[0].width = f64::NAN));
    assert!(refused(&|proof| proof.limits.rod.limit.0 = f64::INFINITY));
    assert!(refused(&|proof| proof.limits.inset = 0.7));
    assert!(refused(&|proof| proof.asked[3].to_ms = -1.0));
    assert!(refused(&|proof| proof.asked.swap(3, 9)), "times run backwards");
    assert!(refused(&|proof| proof.asked[0].contacts[0].path[1] = 9_000_000), "beside the screen");
    assert!(refused(&|proof| proof.asked[0].contacts[0].path.truncate(2)));
    assert!(refused(&|proof| proof.left_out.push(13)));
    let unsure = |change: &dyn Fn(&mut Proof)| {
        let mut proof = good();
        change(&mut proof);
        judge(&proof).unwrap().verdict == Verdict::Unsure
    };
    assert!(unsure(&|proof| proof.asked.clear()), "nothing was done");
    assert!(unsure(&|proof| proof.asked.truncate(30)), "not all was done");
    assert!(unsure(&|proof| proof.windows[0].screen_width = 2500.0), "not full screen");
    assert!(unsure(&|proof| proof.windows[0].scale = 2.0), "zoomed");
    assert!(unsure(&|proof| proof.image = Image::mm(2025.0, 1139.0)), "another aspect");
    assert!(unsure(&|proof| proof.gap = Gap::OlderThanTurn));
    let mouse = |proof: &mut Proof| {
        for asked in &mut proof.asked {
            asked.contacts.iter_mut().for_each(|c| c.kind = skimgauge_proof::raw::Kind::Mouse);
        }
    };
    assert!(unsure(&mouse), "every contact a mouse");
}
