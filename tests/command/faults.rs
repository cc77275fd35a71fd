//! `watch` with a head whose parts fail: shown in time, never taken, and gone with the fault.

use crate::place;
use skimgauge_bench::Fault;
use skimgauge_tests::command::Watch;
use skimgauge_tests::plugged::Plugged;
use std::time::{Duration, Instant};

/// What the light and the board do needs a moment to be told from a hand; what a part does shows at once.
const AT_ONCE: Duration = Duration::from_millis(400);
const IN_A_MOMENT: Duration = Duration::from_millis(1_500);

fn each(head: &Plugged, watch: &mut Watch, faults: &[(Fault, &str, Duration)]) {
    for (fault, name, within) in faults {
        watch.settled("top left");
        watch.forget();
        let set = Instant::now();
        head.bench().set_fault(*fault, true);
        let (at, line) = watch.live(fault.name(), |line| line["can_take"] == false && line["gap_mm"]["is"] != "good");
        assert!(at - set < *within, "{}: {:?}", fault.name(), at - set);
        // The name may become clearer a little later than the doubt.
        let named =
            |line: &serde_json::Value| line["faults"].as_array().is_some_and(|all| all.iter().any(|one| one == name));
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
            (Fault::NoLight, "no light in the eye", AT_ONCE),
            (Fault::TooMuchLight, "too much light", AT_ONCE),
            (Fault::SpotLost, "laser spot lost", AT_ONCE),
            (Fault::SlideOutOfRange, "slide out of range", AT_ONCE),
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
            (Fault::ConverterSilent, "converter not answering", AT_ONCE),
            (Fault::BusStuck, "bus stuck", IN_A_MOMENT),
            (Fault::ConverterFrozen, "distance frozen", IN_A_MOMENT),
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
            (Fault::InclinometerSilent, "inclinometer not answering", AT_ONCE),
            (Fault::InclinometerFrames, "inclinometer frame error", AT_ONCE),
            (Fault::InclinometerStatusTwo, "inclinometer self-test failed", IN_A_MOMENT),
            (Fault::SupplyLow, "supply low", IN_A_MOMENT),
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
    std::thread::sleep(Duration::from_secs(2));
    watch.say("take");
    watch.message("NOT taken: calibration missing: This head was never zeroed. Zero it: skimgauge zero.");
    head.press();
    watch.message("NOT taken: calibration missing: This head was never zeroed. Zero it: skimgauge zero.");
    watch.quit();
    assert!(place.takes().is_empty());
}
