//! `watch` with a head whose parts fail: shown, never taken, and gone with the fault. Within which
//! time is held on the head's own clock, in `host/tests/deadlines.rs`.

use crate::place;
use skimgauge_bench::Fault;
use skimgauge_tests::command::{Hand, Watch};
use skimgauge_tests::plugged::Plugged;

fn each(head: &Plugged, watch: &mut Watch, faults: &[(Fault, &str)]) {
    for (fault, name) in faults {
        watch.settled("top left");
        watch.forget();
        head.bench().set_fault(*fault, true);
        let (_, line) = watch
            .live(fault.name(), |line| line["can_take"] == false && line["gap_mm"]["is"] != "good");
        // The name may become clearer a little later than the doubt.
        let named = |line: &serde_json::Value| {
            line["faults"].as_array().is_some_and(|all| all.iter().any(|one| one == name))
        };
        if !named(&line) {
            watch.live(name, named);
        }
        watch.say("take");
        let refused = watch.message("NOT taken: ");
        assert!(refused["text"].as_str().unwrap().len() > 40, "no remedy: {refused}");
        head.bench().set_fault(*fault, false);
    }
    watch.settled("top left");
}

#[test]
fn of_light_and_spot() {
    let (place, head) = (place(), Plugged::new(71));
    let mut watch = place.watch(head.port(), &["--json"]);
    each(
        &head,
        &mut watch,
        &[
            (Fault::NoLight, "no light in the eye"),
            (Fault::TooMuchLight, "too much light"),
            (Fault::TooMuchRoomLight, "too much room light"),
            (Fault::UnevenRoomLight, "uneven room light"),
            (Fault::TwoSheets, "two sheets"),
            (Fault::LightLeavesWindow, "light leaves the window"),
            (Fault::SheetTooThick, "wrong thickness"),
            (Fault::SheetTooThin, "wrong thickness"),
            // Turned so far that its slit shuts the light out; the remedy says to turn it.
            (Fault::EyeTurnedAway, "no light in the eye"),
            (Fault::PixelsDead, "dead pixels"),
            (Fault::PixelsFrozen, "eye frozen"),
            (Fault::SpotLost, "laser spot lost"),
            (Fault::StandoffTooNear, "stand-off out of range"),
        ],
    );
    watch.quit();
    assert!(place.takes().is_empty());
}

#[test]
fn of_the_converter_and_its_bus() {
    let (place, head) = (place(), Plugged::new(72));
    let mut watch = place.watch(head.port(), &["--json"]);
    each(
        &head,
        &mut watch,
        &[
            (Fault::ConverterSilent, "converter not answering"),
            (Fault::BusStuck, "bus stuck"),
            (Fault::ConverterFrozen, "distance frozen"),
        ],
    );
    watch.quit();
    assert!(place.takes().is_empty());
}

#[test]
fn of_the_inclinometer_and_the_supply() {
    let (place, head) = (place(), Plugged::new(73));
    let mut watch = place.watch(head.port(), &["--json"]);
    each(
        &head,
        &mut watch,
        &[
            (Fault::InclinometerSilent, "inclinometer not answering"),
            (Fault::InclinometerFrames, "inclinometer frame error"),
            (Fault::InclinometerStatusTwo, "inclinometer self-test failed"),
            (Fault::SupplyLow, "supply low"),
        ],
    );
    watch.quit();
    assert!(place.takes().is_empty());
}

#[test]
fn constants_that_are_not_this_heads_own_are_never_taken_with() {
    let place = place();
    let head = Plugged::absent(74);
    head.bench().set_fault(Fault::CalibrationMissing, true);
    head.plug();
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.live("a doubtful gap", |line| {
        line["gap_mm"]["is"] == "doubtful" && line["gap_mm"]["why"] == "calibration_missing"
    });
    let why =
        "NOT taken: calibration missing: This head was never zeroed. Zero it: skimgauge zero.";
    watch.refused(why, |watch| watch.say("take"));
    watch.refused(why, |_| head.press());
    watch.quit();
    assert!(place.takes().is_empty());
}

/// An eye that still points to where the emitter stood from the station before is told from no
/// light at all, by name and with the way to turn it, through a head that another process keeps.
#[test]
fn of_an_eye_that_is_not_turned_to_the_emitter() {
    let place = place();
    let mut hand = Hand::new(&place, 75);
    let mut watch = place.watch("head", &["--json"]);
    watch.taken("top left", |watch| watch.say("take"));
    watch.say("station top right");
    // From top left the emitter stands far to the right; from top right far to the left.
    hand.says("to top right\neye 86");
    hand.answer();
    assert_eq!(hand.answer(), "the eye at 86 degrees");
    let named = |line: &serde_json::Value| {
        let faults = line["faults"].as_array();
        faults.is_some_and(|all| all.iter().any(|one| one == "eye not turned to the emitter"))
    };
    let (_, at) = watch.live("its name", |line| line["station"] == "top right" && named(line));
    // A word said in the moment in which the screen changed may have meant what stood there before.
    let time = |line: &serde_json::Value| line["t_s"].as_f64().unwrap();
    let read = |line: &serde_json::Value| time(line) > time(&at) + 1.0;
    watch.live("a second to read it", read);
    watch.say("take");
    let refused = watch.message("NOT taken: eye not turned to the emitter");
    let says = refused["text"].as_str().unwrap();
    assert!(
        says.contains("Turn the eye's pointer to the emitter") && says.contains("left"),
        "{says}"
    );
    assert_eq!(hand.say("eye -86"), "the eye at -86 degrees");
    watch.settled("top right");
    watch.quit();
    assert_eq!(place.takes().len(), 1);
}
