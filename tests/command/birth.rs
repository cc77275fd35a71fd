//! `ports --check`: the first start of a simulated head at a real port of this computer. Each fault
//! of its wiring is named with its wire; what a head is like when nothing is wrong, and every fault of
//! a part, is held on the head's own clock in `host/procedure/tests/first_start.rs`.

use crate::place;
use serde_json::Value;
use skimgauge_bench::{Fault, Wiring, first_start};
use skimgauge_tests::command::{Ending, Place, Watch};
use skimgauge_tests::plugged::Plugged;
use std::process::Output;
use std::time::{Duration, Instant};

/// Steps that a person sets up, in their order.
const STEPS: [&str; 11] =
    ["rest", "left", "back", "paper", "lift", "dark", "light", "card", "button", "lamp", "buzzer"];
/// A walk that stands still is waited for no longer.
const PATIENCE: Duration = Duration::from_secs(120);

/// A head with something wrong from before its start.
fn head(seed: u64, wrong: impl FnOnce(&Plugged)) -> Plugged {
    let head = Plugged::absent(seed);
    wrong(&head);
    head.plug();
    head
}

/// A walk of the head's first start with these steps made and the others left out.
fn walk(place: &Place, head: &Plugged, made: &[&str], more: &[&str]) -> Watch {
    let mut command = place.command();
    command.args(["ports", "--check", head.port(), "--json", "--by", "R. Oakes"]).args(more);
    for step in STEPS.iter().filter(|step| !made.contains(step)) {
        command.arg("--skip").arg(format!("{step}=not part of this test"));
    }
    Watch::start(command)
}

/// What a step asks for is done, until the walk ends.
fn walked(mut walk: Watch, head: &Plugged) -> (Ending, Value) {
    let mut at = String::new();
    let started = Instant::now();
    while let Some((_, line)) = walk.line() {
        assert!(started.elapsed() < PATIENCE, "it stands still at {at}: {line}");
        let line: Value = serde_json::from_str(&line).unwrap();
        let step = line["step"].as_str().unwrap_or_default();
        if line["kind"] != "walk" || line["waits"] != true || step == at {
            continue;
        }
        at = step.to_owned();
        first_start::set_up(head.bench(), step);
        head.wait_us(800_000);
        match step {
            "left" | "back" => (),
            "button" => {
                head.press();
                head.wait_us(500_000);
                // Let go where the press was heard.
                walk.say("ready");
            }
            "lamp" | "buzzer" => {
                let says = if shows(head, step) { "yes" } else { "no" };
                walk.say(says);
            }
            _ => walk.say("ready"),
        }
    }
    let ending = walk.ending();
    let certificate = ending.json("birth").pop().unwrap_or_else(|| panic!("{ending:?}"));
    (ending, certificate)
}

/// Whether lamp or buzzer shows itself, as a person would say.
fn shows(head: &Plugged, what: &str) -> bool {
    let bench = head.bench();
    let until_us = bench.now_us() + 1_500_000;
    let (mut lit, mut dark, mut heard) = (false, false, false);
    while bench.now_us() < until_us {
        let on = bench.lamp_is_on();
        (lit, dark, heard) = (lit || on, dark || !on, heard || bench.buzzer_hz().is_some());
        std::thread::sleep(Duration::from_millis(1));
    }
    if what == "lamp" { lit && dark } else { heard }
}

fn check<'a>(certificate: &'a Value, name: &str) -> &'a Value {
    let checks = certificate["checks"].as_array().expect("checks");
    checks.iter().find(|check| check["check"] == name).unwrap_or_else(|| panic!("no {name}"))
}

/// The walk finds this fault in this check, with this part, wire or test point, and ends with 1.
fn finds(seed: u64, wrong: impl FnOnce(&Plugged), made: &[&str], name: &str, wire: &str) {
    let (place, head) = (place(), head(seed, wrong));
    let (ending, certificate) = walked(walk(&place, &head, made, &[]), &head);
    let found = check(&certificate, name);
    assert_eq!(found["verdict"], "fault", "{found}");
    let look = found["wire"]["look"].as_str().unwrap_or_default();
    assert!(look.contains(wire), "{look}");
    assert_eq!((ending.status, &certificate["verdict"]), (Some(1), &Value::from("fault")));
    // A certificate is written all the same, and its page names the wire.
    let page = written(&place, ".html");
    assert!(page.contains(&wire.replace('&', "&amp;")), "{wire}");
}

/// The one file of the folder with this ending.
fn written(place: &Place, ending: &str) -> String {
    let found: Vec<_> = std::fs::read_dir(place.path("."))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            name.starts_with("birth-") && name.ends_with(ending)
        })
        .collect();
    let [path] = &found[..] else { panic!("{found:?}") };
    std::fs::read_to_string(path).unwrap()
}

fn miswired(wiring: Wiring) -> impl FnOnce(&Plugged) {
    move |head| head.bench().set_wiring(wiring, true)
}

fn broken(fault: Fault) -> impl FnOnce(&Plugged) {
    move |head| head.bench().set_fault(fault, true)
}

#[test]
fn a_head_without_a_fault_is_as_it_should_be_and_gets_its_certificate() {
    let (place, head) = (place(), Plugged::new(81));
    let (ending, certificate) = walked(walk(&place, &head, &STEPS, &[]), &head);
    assert_eq!(ending.status, Some(0), "{certificate:#}");
    assert_eq!(certificate["schema"], 1);
    assert_eq!(certificate["verdict"], "as-it-should-be");
    assert_eq!(
        (&certificate["head"], &certificate["by"]),
        (&head.serial().into(), &"R. Oakes".into())
    );
    assert_eq!(certificate["firmware"], "0.1.0");
    for part in ["memory", "converter", "inclinometer", "eye"] {
        assert_eq!(certificate["parts"][part], true, "{part}");
    }
    assert!(certificate["noise"]["stand_off_mm"].as_f64().is_some_and(|mm| mm > 0.0 && mm < 0.03));
    assert_eq!(certificate["tilt_signs"], serde_json::json!({ "level": true, "lean": true }));
    assert_eq!(certificate["zero"]["date"], "2026-03-09");
    for check in certificate["checks"].as_array().unwrap() {
        for key in ["check", "step", "limit", "value", "verdict", "says", "wire"] {
            assert!(check.get(key).is_some(), "{key}: {check}");
        }
    }
    let kept: Value = serde_json::from_str(&written(&place, ".json")).unwrap();
    assert_eq!(kept, certificate);
    let page = written(&place, ".html");
    assert!(page.contains("Birth certificate") && page.contains("as it should be"), "{page}");
    assert!(!page.contains("<script"));
}

#[test]
fn a_converter_that_is_silent() {
    finds(82, broken(Fault::ConverterSilent), &[], "converter", "ready (GPIO 6, board pin 9)");
}

#[test]
fn a_bus_that_is_stuck() {
    finds(83, broken(Fault::BusStuck), &[], "converter", "TP10 to TP3: 3.1 V or more, moving");
}

#[test]
fn a_memory_that_is_missing() {
    finds(84, broken(Fault::MemorySilent), &[], "memory", "U4; sda (GPIO 4, board pin 6)");
}

#[test]
fn an_inclinometer_whose_wires_are_swapped() {
    let wire = "tilt_mosi (GPIO 19, board pin 25)";
    finds(85, broken(Fault::InclinometerFrames), &[], "inclinometer", wire);
}

#[test]
fn an_inclinometer_that_is_unplugged() {
    let wire = "tilt_miso (GPIO 16, board pin 21)";
    finds(86, broken(Fault::InclinometerSilent), &[], "inclinometer", wire);
}

#[test]
fn tilt_axes_that_are_swapped() {
    finds(87, miswired(Wiring::TiltSwapped), &["rest", "left"], "level's sign", "U3");
}

#[test]
fn level_that_counts_the_wrong_way() {
    finds(88, miswired(Wiring::TiltXReversed), &["rest", "left"], "level's sign", "U3");
}

#[test]
fn lean_that_counts_the_wrong_way() {
    finds(89, miswired(Wiring::TiltYReversed), &["rest", "back"], "lean's sign", "U3");
}

#[test]
fn an_inclinometer_that_lies_in_another_plane() {
    finds(90, miswired(Wiring::TiltLying), &["rest"], "tilt at rest", "U3");
}

#[test]
fn a_stand_off_that_is_lost() {
    let wire = "laser_enable (GPIO 10, board pin 14); TP12 to TP3";
    finds(91, broken(Fault::SpotLost), &["paper"], "stand-off", wire);
}

#[test]
fn a_stand_off_behind_a_wrong_divider() {
    finds(92, miswired(Wiring::StandOffDivider), &["paper"], "stand-off", "R15, R16, R17");
}

#[test]
fn a_sensor_that_holds_its_value() {
    let made = ["paper", "lift"];
    finds(93, broken(Fault::StandoffFrozen), &made, "stand-off moves", "J2, R15, R17; TP5 to TP3");
}

#[test]
fn an_eye_that_is_unplugged() {
    finds(94, broken(Fault::PixelsUnplugged), &[], "eye", "J3, U6");
}

#[test]
fn an_eye_without_its_clock() {
    finds(95, miswired(Wiring::PixelClock), &[], "eye", "pixel_clock (GPIO 8, board pin 11)");
}

#[test]
fn an_eye_that_is_frozen() {
    finds(96, broken(Fault::PixelsFrozen), &[], "eye", "TP14 to TP3: pulses, 0 to 3.3 V");
}

#[test]
fn an_eye_at_its_stop_in_the_dark() {
    finds(
        97,
        miswired(Wiring::PixelsAtStop),
        &["dark"],
        "dark",
        "R23, R24, U6, J3; pixels (GPIO 26",
    );
}

#[test]
fn an_eye_with_dead_pixels() {
    finds(98, broken(Fault::PixelsDead), &["dark", "light"], "pixels", "U6; TP7 to TP3");
}

#[test]
fn an_eye_that_is_upside_down() {
    let made = ["dark", "light", "card"];
    finds(99, miswired(Wiring::PixelsUpsideDown), &made, "which end is up", "U6");
}

#[test]
fn a_supply_that_is_low() {
    finds(101, broken(Fault::SupplyLow), &[], "supply", "F1, J1; TP1 to TP3: 4.5 to 5.5 V");
}

#[test]
fn a_supply_behind_a_wrong_divider() {
    finds(102, miswired(Wiring::SupplyDivider), &[], "supply", "R5, R6; TP9 to TP3: half of TP1");
}

#[test]
fn a_button_that_is_stuck() {
    finds(
        103,
        miswired(Wiring::ButtonStuck),
        &["button"],
        "button",
        "button (GPIO 14, board pin 19)",
    );
}

#[test]
fn a_lamp_that_stays_dark() {
    finds(
        104,
        miswired(Wiring::LampDark),
        &["lamp"],
        "lamp",
        "D5, R26; lamp (GPIO 13, board pin 17)",
    );
}

#[test]
fn a_buzzer_that_is_silent() {
    finds(
        105,
        miswired(Wiring::BuzzerSilent),
        &["buzzer"],
        "buzzer",
        "buzzer (GPIO 12, board pin 16)",
    );
}

#[test]
fn constants_of_another_head() {
    finds(106, broken(Fault::CalibrationOfOtherHead), &[], "zero", "U4");
}

/// Nothing at fault and something not seen is 3; the reason that was typed is kept.
#[test]
fn what_is_left_out_is_not_seen_with_its_reason() {
    let (place, head) = (place(), Plugged::new(107));
    let mut walk = walk(&place, &head, &["light"], &["--out", "first"]);
    walk.until("the eye", |line| {
        line["kind"] == "walk" && line["found"].as_array().is_some_and(|all| !all.is_empty())
    });
    let (ending, certificate) = walked(walk, &head);
    assert_eq!(ending.status, Some(3), "{certificate:#}");
    assert_eq!(certificate["verdict"], "not-seen");
    let says = check(&certificate, "level's sign")["says"].as_str().unwrap().to_owned();
    assert_eq!(says, "left out: not part of this test");
    assert!(place.path("first.json").exists() && place.path("first.html").exists());
}

#[test]
fn a_reason_is_typed_at_the_step() {
    let (place, head) = (place(), Plugged::new(108));
    let mut walk = walk(&place, &head, &["lamp"], &[]);
    walk.until("the lamp", |line| line["kind"] == "walk" && line["step"] == "lamp");
    walk.say("skip it is too bright here");
    let ending = walk.ending();
    let certificate = ending.json("birth").pop().expect("a certificate");
    assert_eq!(check(&certificate, "lamp")["says"], "left out: it is too bright here");
    assert_eq!(ending.status, Some(3));
}

fn unattended(place: &Place, head: &Plugged, more: &[&str]) -> Output {
    place.run(["ports", "--check", head.port()].into_iter().chain(more.iter().copied()))
}

/// Where nobody types, the parts are asked and nothing waits; no certificate is written over.
#[test]
fn an_earlier_certificate_is_never_written_over() {
    let (place, head) = (place(), Plugged::new(109));
    for _ in 0..2 {
        let output = unattended(&place, &head, &[]);
        assert_eq!(output.status.code(), Some(3), "{output:?}");
    }
    let name = |number: &str| {
        let all = std::fs::read_dir(place.path(".")).unwrap();
        let mut names = all.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
        names.any(|name| name.starts_with("birth-SIM-") && name.ends_with(number))
    };
    assert!(name("-2.json") && name("-2.html"), "the second has a name of its own");

    std::fs::write(place.path("mine.html"), "mine").unwrap();
    let output = unattended(&place, &head, &["--out", "mine"]);
    let said = crate::said(&output);
    assert!(said.contains("mine.html is there already"), "{said}");
    assert_eq!(std::fs::read_to_string(place.path("mine.html")).unwrap(), "mine");
    assert!(!place.path("mine.json").exists(), "nothing is written by halves");
}

#[test]
fn a_walk_that_is_ended_writes_no_certificate() {
    let (place, head) = (place(), Plugged::new(110));
    let mut walk = walk(&place, &head, &["rest"], &[]);
    walk.until("the first step", |line| line["kind"] == "walk" && line["step"] == "rest");
    walk.say("quit");
    let ending = walk.ending();
    assert_eq!(ending.status, Some(3));
    let birth = |name: &std::ffi::OsStr| name.to_string_lossy().starts_with("birth-");
    let all = std::fs::read_dir(place.path(".")).unwrap();
    assert!(!all.map(|entry| entry.unwrap().file_name()).any(|name| birth(&name)));
}

#[test]
fn a_port_where_nothing_answers_says_where_a_new_head_is_looked_at() {
    let silent = skimgauge_tests::plugged::Stranger::silent();
    let said = crate::said(&place().run(["ports", "--check", &silent]));
    assert!(said.contains("Nothing answers") && said.contains("not swapped (D-, D+)"), "{said}");
}
