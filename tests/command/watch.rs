//! `watch` with a head that behaves: takes, redo, record, verdict, exit status.

use crate::{EXE, WIDE, job, place, said};
use serde_json::Value;
use skimgauge_tests::command::Place;
use skimgauge_tests::plugged::{Plugged, STATIONS};
use std::process::Stdio;

fn number(line: &Value, field: &str) -> f64 {
    line[field].as_f64().unwrap_or_else(|| panic!("{field} of {line}"))
}

#[test]
fn takes_by_word_and_by_button_are_judged_and_kept() {
    let (place, head) = (place(), Plugged::new(51));
    let mut watch = place.watch(head.port(), &["--json", "--until-taken"]);
    watch.live("a greeting answered", |line| line["link"] == "up" && line["head"] == head.serial());
    let mut announced = Vec::new();
    for (at, (station, ..)) in STATIONS.iter().enumerate() {
        head.to(at);
        let truth_mm = head.bench().truth().gap_mm.unwrap();
        // By turns the word and the head's own button.
        let take = watch
            .taken(station, |watch| if at % 2 == 0 { watch.say("take") } else { head.press() });
        assert_eq!(take["station"], *station);
        assert_eq!(take["came"]["how"], if at == 0 { "first" } else { "seen" }, "{take}");
        assert_eq!(take["verdict"], "within", "{take}");
        let (gap_mm, u_mm) = (number(&take, "gap_mm"), number(&take, "u_mm"));
        // The seat itself scatters by 0.05 mm; the truth is the board's at the seat.
        assert!((gap_mm - truth_mm).abs() < 4.0 * u_mm && u_mm < 0.2, "{take}, true {truth_mm}");
        assert!(number(&take, "expanded_mm") > 1.9 * u_mm, "{take}");
        announced.push((*station, gap_mm, number(&take, "event") as u32));
    }
    let end = watch.ending();
    assert_eq!(end.status, Some(0), "{end:?}");
    let [last] = &end.json("end")[..] else { panic!("one end in {end:?}") };
    assert_eq!(
        (&last["whole"], &last["because"]),
        (&Value::from("within"), &Value::from("")),
        "{last}"
    );
    assert_eq!((&last["skipped_bytes"], &last["simulated"]), (&0.into(), &true.into()), "{last}");
    assert!(last["received"].as_u64().unwrap() > 200, "{last}");

    let kept: Vec<_> = place
        .takes()
        .into_iter()
        .map(|(station, gap_mm, replaces, seq)| {
            assert_eq!(replaces, None);
            (station, gap_mm, seq)
        })
        .collect();
    let announced: Vec<_> = announced
        .into_iter()
        .map(|(station, gap_mm, seq)| (station.to_owned(), gap_mm, seq))
        .collect();
    assert_eq!(kept, announced);

    // What another command says of it.
    let shown = place.run(["jobs", "show", "test wall", "--record", "record.sqlite"]);
    assert_eq!(shown.status.code(), Some(0), "{shown:?}");
    let verified = place.run(["jobs", "verify", "--record", "record.sqlite"]);
    assert_eq!(verified.status.code(), Some(0), "{verified:?}");
}

#[test]
fn a_redo_replaces_the_take_and_the_record_keeps_both() {
    let (place, head) = (place(), Plugged::new(52));
    let mut watch = place.watch(head.port(), &["--json"]);
    let first = watch.taken("top left", |watch| watch.say("take"));
    watch.say("station top left");
    let second = watch.taken("top left", |watch| watch.say("redo"));
    assert_eq!(second["station"], "top left");
    watch.say("station 1");
    let third = watch.taken("top left", |_| head.press_long());
    // The watch has moved on to a place without a take; held again, the button means the one before
    // all the same.
    let fourth = watch.taken("top right", |_| head.press_long());
    assert_eq!(fourth["station"], "top left");
    let end = watch.quit();
    // Three stations are missing.
    assert_eq!(end.status, Some(3), "{end:?}");
    let events = [&first, &second, &third, &fourth]
        .map(|take| take["event"].as_u64().map(|event| event as u32));
    let kept: Vec<_> =
        place.takes().into_iter().map(|(_, _, replaces, seq)| (Some(seq), replaces)).collect();
    assert_eq!(
        kept,
        [(events[0], None), (events[1], events[0]), (events[2], events[1]), (events[3], events[2])]
    );
}

#[test]
fn one_more_seat_stands_beside_the_first_and_only_after_a_lift() {
    let (place, head) = (place(), Plugged::new(52));
    let mut watch = place.watch(head.port(), &["--json"]);
    let first = watch.taken("top left", |watch| watch.say("take"));
    assert_eq!(
        (&first["seats"], &first["seat_mm"]),
        (&Value::from(1), &first["gap_mm"]),
        "{first}"
    );
    watch.settled("top right");
    // The watch has moved on: the word leads back first, since the head may be anywhere by now.
    watch.say("more");
    watch.message("Back at top left");
    watch.breathe();
    watch.say("more");
    assert_eq!(watch.message("still stands as it did")["bad"], true);
    head.lift();
    watch.live("no gap in the hand", |line| line["gap_mm"]["is"] == "absent");
    head.clip(0);
    let second = watch.taken("top left", |watch| watch.say("more"));
    assert_eq!(
        (&second["station"], &second["seats"]),
        (&Value::from("top left"), &Value::from(2)),
        "{second}"
    );
    let mean_mm = (number(&first, "seat_mm") + number(&second, "seat_mm")) / 2.0;
    assert!((number(&second, "gap_mm") - mean_mm).abs() < 1e-9, "{second}");
    assert!(number(&second, "u_mm") < number(&first, "u_mm"), "{second}");
    let said = watch.message("2 seats");
    assert!(said["text"].as_str().unwrap().contains("mean"), "{said}");
    let end = watch.quit();
    assert_eq!(end.status, Some(3), "{end:?}");
    let kept: Vec<_> =
        place.takes().into_iter().map(|(at, gap_mm, replaces, _)| (at, gap_mm, replaces)).collect();
    let seat = |take: &Value| ("top left".to_owned(), number(take, "seat_mm"), None);
    assert_eq!(kept, [seat(&first), seat(&second)]);
}

#[test]
fn a_redo_after_the_head_was_moved_on_takes_nothing_of_the_wrong_place() {
    let (place, head) = (place(), Plugged::new(56));
    let mut watch = place.watch(head.port(), &["--json"]);
    let first = watch.taken("top left", |watch| watch.say("take"));
    head.to(1);
    watch.settled("top right");
    watch.say("redo");
    watch.message("Back at top left");
    assert_eq!(place.takes().len(), 1);
    // Put there, it is redone.
    head.to(0);
    let second = watch.taken("top left", |watch| watch.say("redo"));
    assert_eq!(
        (&second["station"], &second["seats"]),
        (&Value::from("top left"), &Value::from(1)),
        "{second}"
    );
    watch.quit();
    let replaces: Vec<_> = place.takes().into_iter().map(|(_, _, replaces, _)| replaces).collect();
    assert_eq!(replaces, [None, first["event"].as_u64().map(|event| event as u32)]);
}

#[test]
fn plain_lines_read_like_sentences_and_end_with_the_verdict() {
    let (place, head) = (Place::new(EXE, &job(WIDE)), Plugged::new(53));
    let mut watch = place.watch(head.port(), &["--plain"]);
    watch.until("a settled line", |line| {
        line.as_str().is_some_and(|line| line.starts_with("top left") && line.contains("settled"))
    });
    let says = |line: &Value, end: &str| line.as_str().is_some_and(|line| line.ends_with(end));
    loop {
        watch.breathe();
        watch.say("take");
        let (_, line) = watch.until("the take", |line| {
            says(line, "mm taken") || line.as_str().is_some_and(|line| line.contains("NOT taken"))
        });
        if says(&line, "mm taken") {
            assert!(line.as_str().unwrap().starts_with("  > top left: "), "{line}");
            break;
        }
    }
    for (typed, answer) in [
        (
            "tak",
            "\"tak\" is not known here. Type take, redo, more, next, back, station N, emitter, help or quit.",
        ),
        ("station 9", "There is no station \"9\". They are numbered 1 to 4."),
        (
            "emitter",
            "This job asks for no tilt of the emitter: its file has no band for level or lean.",
        ),
    ] {
        watch.say(typed);
        watch.until(answer, |line| line.as_str() == Some(&format!("  > {answer}")));
    }
    let end = watch.quit();
    assert_eq!(end.status, Some(3), "{end:?}");
    let [.., verdict, kept] = &end.out[..] else { panic!("{end:?}") };
    assert!(
        verdict.to_lowercase().contains("too close to call") && verdict.contains("top right"),
        "{verdict}"
    );
    assert!(
        kept.starts_with("1 take of round 1 kept in ") && kept.ends_with("record.sqlite"),
        "{kept}"
    );
    // Besides the messages, a line now and then.
    assert!(end.out.iter().filter(|line| line.starts_with("top ")).count() >= 2, "{:#?}", end.out);
}

#[test]
fn outside_is_said_at_once_and_is_exit_status_1() {
    let (place, head) = (Place::new(EXE, &job(["15 mm", "16.6 mm"])), Plugged::new(54));
    let mut watch = place.watch(head.port(), &["--json"]);
    let take = watch.taken("top left", |watch| watch.say("take"));
    assert_eq!(
        (&take["verdict"], &take["whole"]),
        (&Value::from("outside"), &Value::from("outside")),
        "{take}"
    );
    let end = watch.quit();
    assert_eq!(end.status, Some(1), "{end:?}");
    let last: Value = serde_json::from_str(end.out.last().unwrap()).unwrap();
    assert!(
        last["because"].as_str().unwrap().ends_with("mm at top left lies below the band"),
        "{last}"
    );
}

#[test]
fn on_the_limit_is_unsure_and_exit_status_3() {
    // A band that begins where this head's own gap lies.
    let head = Plugged::new(55);
    let gap_mm = head.bench().truth().gap_mm.unwrap();
    let place = Place::new(EXE, &job([&format!("{gap_mm:.2} mm"), "16.6 mm"]));
    let mut watch = place.watch(head.port(), &["--json"]);
    assert_eq!(watch.taken("top left", |watch| watch.say("take"))["verdict"], "unsure");
    assert_eq!(watch.quit().status, Some(3));
}

#[test]
fn a_second_watch_goes_on_with_the_job_in_its_record() {
    let (place, head) = (place(), Plugged::new(56));
    for round in 1..=2 {
        let mut watch = place.watch(head.port(), &["--json"]);
        watch.taken("top left", |watch| watch.say("take"));
        watch.quit();
        assert_eq!(place.takes().len(), round);
    }
}

#[test]
fn a_reader_that_goes_away_is_no_panic() {
    let (place, head) = (place(), Plugged::new(57));
    let mut command = place.command();
    command.args(crate::json_at("watch", head.port()));
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = skimgauge_tests::command::started(&mut command);
    let mut line = String::new();
    std::io::BufRead::read_line(
        &mut std::io::BufReader::new(child.stdout.take().unwrap()),
        &mut line,
    )
    .unwrap();
    // What lies behind it is said in the system's own words.
    let said = crate::said(&child.wait_with_output().unwrap());
    assert!(said.starts_with("Nobody reads the output any more. ("), "{said}");
}

#[test]
fn of_words_in_one_breath_the_first_is_kept_and_the_quick_end_loses_nothing() {
    let (place, head) = (place(), Plugged::new(58));
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.settled("top left");
    watch.say("take\nstation top left\ntake\nquit");
    let end = watch.ending();
    let takes = end.json("take");
    assert_eq!(takes.len(), 1, "{end:?}");
    assert!(
        end.json("message")
            .iter()
            .any(|line| line["text"].as_str().unwrap().starts_with("Let go: ")),
        "{end:?}"
    );
    let kept = place.takes();
    assert_eq!(
        kept.iter().map(|(_, _, _, seq)| Some(u64::from(*seq))).collect::<Vec<_>>(),
        [takes[0]["event"].as_u64()]
    );
}

#[test]
fn the_emitters_tilt_is_announced_and_kept() {
    let text = format!("{}level = [\"-5 deg\", \"5 deg\"]\n", job(WIDE));
    let (place, head) = (Place::new(EXE, &text), Plugged::new(59));
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.taken("top left", |watch| watch.say("take"));
    head.bench().scene(|scene| {
        scene.put(skimgauge_bench::head::Place::Emitter, skimgauge_bench::head::Attitude::Upright);
    });
    watch.say("emitter");
    watch.live("the emitter", |line| line["station"] == "emitter");
    // The inclinometer's filter takes its time: until it rests it is told so.
    let tilt = loop {
        watch.breathe();
        watch.say("take");
        let (_, line) = watch.until("the tilt, or a refusal", |line| {
            line["kind"] == "tilt"
                || line["text"].as_str().is_some_and(|text| text.starts_with("NOT taken"))
        });
        if line["kind"] == "tilt" {
            break line;
        }
    };
    assert_eq!(tilt["came"]["how"], "seen", "{tilt}");
    let truth = head.bench().truth();
    assert!((number(&tilt, "level_deg") - truth.level_deg).abs() < 0.1, "{tilt}, true {truth:?}");
    let event = tilt["event"].as_u64().unwrap();
    watch.quit();
    let record = skimgauge_record::Record::open(&place.record()).unwrap();
    let history = record.job("test wall").unwrap();
    let kept = history.events.iter().find(|kept| u64::from(kept.seq) == event).unwrap();
    assert!(matches!(kept.body, skimgauge_record::Body::EmitterTilt(_)), "{kept:?}");
}

/// Where no place could be read within the band, that is said before anybody climbs a ladder, with
/// the line of the job file; where less than half of it can be seen, it is said and stays said.
#[test]
fn a_band_that_the_head_cannot_see_into_is_told_at_the_start() {
    let place = Place::new(EXE, &job(["0.4 mm", "1.1 mm"]));
    for command in ["watch", "trim"] {
        let output = place.run([command, "--job", "job.toml", "--head", "nowhere", "--plain"]);
        let said = said(&output);
        assert!(said.contains("job.toml, line ") && said.contains("gap = ["), "{said}");
        assert!(said.contains("no head sees light nearer than 1.29 mm"), "{said}");
        assert!(said.contains("the band of the emitter's manual"), "{said}");
    }
    let place = Place::new(EXE, &job(["1.0 mm", "1.8 mm"]));
    let head = Plugged::new(77);
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.message("More than half of the band (1 to 1.8 mm) is nearer than the head sees");
    watch.quit();
}
