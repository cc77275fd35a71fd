//! A survey with the head: what was read is written down whatever came after.

use crate::place;
use skimgauge_tests::command::Watch;
use skimgauge_tests::plugged::Plugged;

#[test]
fn one_point_of_a_simulated_head_is_written_down_and_says_what_it_is() {
    let (place, head) = (place(), Plugged::new(161));
    let mut command = place.command();
    command.args(["survey", "--job", "job.toml", "--no-record", "--plain"]);
    command.args(["--points", "points.csv", "--head", head.port()]);
    let mut survey = Watch::start(command);
    let text = |line: &serde_json::Value| line.as_str().unwrap_or_default().to_owned();
    survey.until("a settled line", |line| text(line).contains("settled"));
    loop {
        survey.breathe();
        survey.say("take");
        let (_, line) = survey.until("the take", |line| {
            text(line).ends_with("mm taken") || text(line).contains("NOT taken")
        });
        if text(&line).ends_with("mm taken") {
            break;
        }
    }
    head.unplug(false);
    // Gone by the end, it is known for what it was.
    survey.until("its going", |line| text(line).contains("no readings"));
    let ending = survey.quit();
    assert!(!ending.err.contains("panicked"), "{ending:?}");
    let table = std::fs::read_to_string(place.path("points.csv")).unwrap();
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 3, "{table}");
    assert!(lines[0].starts_with('#') && lines[0].contains("simulated"), "{table}");
}
