//! The page read back: its numbers are the record's, it needs nothing beside it, and no text in it
//! runs.

mod common;

use std::collections::HashMap;

use common::{HOSTILE, made, section, shown, text};
use skimgauge_handover::{Options, Units, page};
use skimgauge_record::event::{Body, Judged, Phase, Section, Take};
use skimgauge_record::{Broken, Event, JobHistory};

fn in_inches(history: &JobHistory) -> String {
    page(history, &Options { units: Units::Inch })
}

/// The page's tags without the values of their attributes.
fn tags(page: &str) -> Vec<String> {
    let mut tags = Vec::new();
    let mut tag: Option<String> = None;
    let mut quoted = false;
    for c in page[page.find("</style>").unwrap()..].chars() {
        match (&mut tag, c) {
            (None, '<') => tag = Some(String::new()),
            (None, _) => {}
            (Some(_), '"') => quoted = !quoted,
            (Some(_), _) if quoted => {}
            (Some(_), '>') => tags.extend(tag.take()),
            (Some(open), c) => open.push(c),
        }
    }
    assert!(!quoted, "every attribute ends");
    tags
}

/// Rows of a section's tables: the text of each cell, and the machine's value where it has one.
fn rows(section: &str) -> Vec<Vec<(String, Option<f64>)>> {
    section
        .split("<tr>")
        .skip(1)
        .map(|row| {
            row.split("<td")
                .skip(1)
                .map(|cell| {
                    let cell = &cell[cell.find('>').unwrap() + 1..cell.find("</td>").unwrap()];
                    let value = cell
                        .split_once("<data value=\"")
                        .map(|(_, rest)| rest.split('"').next().unwrap().parse().unwrap());
                    (text(cell), value)
                })
                .collect::<Vec<_>>()
        })
        .filter(|row| !row.is_empty())
        .collect()
}

/// A shown number as a number.
fn number(shown: &str) -> f64 {
    shown.replace('\u{2212}', "-").parse().unwrap_or_else(|_| panic!("\"{shown}\" is no number"))
}

fn takes(history: &JobHistory) -> Vec<(u32, &Take)> {
    history
        .events
        .iter()
        .filter_map(|event| match &event.body {
            Body::Take(take) => Some((event.seq, take)),
            _ => None,
        })
        .collect()
}

#[test]
fn every_take_stands_on_the_page_as_recorded() {
    let history = common::library_read();
    let page = shown(&history);
    let rows = rows(section(&page, "takes"));
    let takes = takes(&history);
    assert_eq!(rows.len(), takes.len());
    for (row, (seq, take)) in rows.iter().zip(takes) {
        assert_eq!(row[0].0, seq.to_string());
        assert_eq!(row[2].0, take.station);
        assert_eq!(row[4].1, Some(take.gap.0), "to the last bit");
        assert_eq!(row[5].1, Some(take.u_gap.0));
        assert!((number(&row[4].0) - take.gap.0).abs() <= 0.005 + 1e-12, "{row:?}");
        assert!((number(&row[5].0) - take.u_gap.0).abs() <= 0.005 + 1e-12, "{row:?}");
    }
}

#[test]
fn gaps_by_station_are_those_before_and_after() {
    let history = common::library_read();
    let gap_of: HashMap<(Phase, &str), f64> = history
        .current_takes()
        .iter()
        .map(|c| ((c.take.phase, c.take.station.as_str()), c.take.gap.0))
        .collect();
    let page = shown(&history);
    let inches = in_inches(&history);
    let mm_rows = rows(section(&page, "gaps"));
    let inch_rows = rows(section(&inches, "gaps"));
    assert!(mm_rows.len() >= 8);
    for (row, inch_row) in mm_rows.iter().zip(&inch_rows).filter(|(row, _)| row.len() == 6) {
        let station = row[0].0.as_str();
        let (before, after) =
            (gap_of[&(Phase::AsFound, station)], gap_of[&(Phase::AsLeft, station)]);
        assert_eq!((row[1].1, row[3].1), (Some(before), Some(after)), "{station}");
        assert_eq!(inch_row[1].1, Some(before), "the machine's value stays in mm");
        assert!((number(&row[1].0) - before).abs() <= 0.005 + 1e-12);
        assert!((number(&inch_row[1].0) * 25.4 - before).abs() <= 0.0005 * 25.4 + 1e-12);
        assert!((row[5].1.unwrap() - (after - before)).abs() < 1e-12);
    }
}

#[test]
fn verdicts_stand_with_their_numbers_word_and_mark() {
    let history = common::library_read();
    let page = shown(&history);
    let verdicts = section(&page, "verdicts");
    for phase in [Phase::AsFound, Phase::AsLeft] {
        let judged: &Judged = history.verdict(phase).unwrap();
        for value in [judged.worst_gap, judged.expanded_u, judged.margin] {
            assert!(
                verdicts.contains(&format!("<data value=\"{}\">", value.unwrap().0)),
                "{value:?}"
            );
        }
    }
    assert!(verdicts.contains("95 % interval lies in the band"), "the recorded rule");
    // Each mark is followed at once by its word.
    for after in page.split("class=\"mark\"").skip(1) {
        let after = &after[after.find("</svg>").unwrap() + 6..];
        assert!(
            ["within", "outside", "too close to call"].iter().any(|word| after.starts_with(word)),
            "{}",
            &after[..40]
        );
    }
}

#[test]
fn turns_and_calibration_are_told() {
    let history = common::library_read();
    let page = shown(&history);
    let turns = rows(section(&page, "turns"));
    let observed =
        history.events.iter().filter(|event| matches!(event.body, Body::TurnObserved(_))).count();
    assert_eq!(turns.len(), observed);
    assert!(turns.iter().any(|row| {
        row.iter().any(|(text, value)| {
            text.replace('\u{a0}', " ") == "0.31 turns anticlockwise" && *value == Some(-0.31)
        })
    }));
    let with = text(section(&page, "measured-with"));
    for word in [
        "SG-0007",
        "0.1.0",
        "20 November 2026, 5 days before",
        "skimgauge 0.1.0",
        "gauge block 3 mm",
    ] {
        assert!(with.contains(word), "{word} in {with}");
    }
    let check = section(&page, "check");
    assert!(check.contains(&history.summary.head_hash.to_string()));
}

#[test]
fn what_other_parts_recorded_is_shown() {
    let page = shown(&common::library_read());
    let other = text(section(&page, "other-work"));
    for word in [
        "Survey",
        "Fixings",
        "Square",
        "0.82",
        "within the values entered",
        "does not say that the wall",
        "scatter",
        "top left",
        "level and plumb",
        "0.04",
        "left end up",
        "upper end out",
        "spirit level, 600 mm",
    ] {
        assert!(other.to_lowercase().contains(&word.to_lowercase()), "{word} in {other}");
    }
    assert!(section(&page, "other-work").contains("Gap over time"), "the take's history is drawn");
}

#[test]
fn inches_are_shown_in_fractions_and_decimals() {
    let page = in_inches(&common::library_read()).replace('\u{a0}', " ");
    assert!(page.contains("79 23/32 in wide"), "94 in at 16:10 is 79.71 in wide");
    assert!(page.contains("0.039 to 0.157 in"));
    assert!(text(section(&page, "gaps")).contains("by station, in"));
    // The sign of the inch is no word in a sentence.
    assert!([" in in.", " in in ", " in in<", " in in,"].iter().all(|twice| !page.contains(twice)));
    assert!(page.contains("between touch plane and board in inches."), "{page}");
    let budget = text(section(&page, "measured-with"));
    // What the gauge is called is a name.
    let (_, budget) = budget.split_once("contributions in inches").unwrap();
    assert!(!budget.contains(" mm"), "{budget}");
}

#[test]
fn the_page_needs_nothing_beside_it() {
    for history in [common::library_read(), common::hostile_read(), common::empty_read()] {
        let page = shown(&history);
        for part in page.split("src=\"").skip(1) {
            assert!(part.starts_with("data:"), "{}", &part[..40]);
        }
        for forbidden in [
            "<script",
            "<link",
            "<iframe",
            "<object",
            "@import",
            "url(http",
            "href=\"http",
            "javascript:",
        ] {
            assert!(!page.contains(forbidden), "{forbidden}");
        }
    }
}

#[test]
fn hostile_names_stay_texts() {
    let history = common::hostile_read();
    let page = shown(&history);
    let lower = page.to_lowercase();
    assert!(!lower.contains("<script"));
    // The one image is the recorded drawing, inside an attribute in which nothing is left of its
    // markup.
    assert_eq!(lower.matches("<img").count(), 1);
    assert!(lower.contains("src=\"data:image/svg+xml,"));
    for tag in tags(&lower) {
        assert!(!tag.contains(" on"), "an event handler: {tag}");
    }
    assert!(page.contains("&lt;script&gt;"), "and yet it is shown");
    // The title is whole and ends where it should.
    let title = &page[page.find("<title>").unwrap()..page.find("</title>").unwrap()];
    assert!(title.contains("&lt;script&gt;"));
    assert!(!HOSTILE.is_empty());
}

/// What no program of ours writes, but a record from elsewhere can hold.
#[test]
fn marks_that_turn_the_direction_of_writing_are_not_on_the_page() {
    const TURNED: &str = "evil\u{202e}live\u{2066}\u{1b}[2J\u{9b}";
    let mut history = common::library_read();
    history.summary.name = TURNED.to_owned();
    for event in &mut history.events {
        event.who = TURNED.to_owned();
        match &mut event.body {
            Body::Take(take) => take.station = TURNED.to_owned(),
            Body::Note(note) => note.text = TURNED.to_owned(),
            Body::Judged(judged) => judged.decision_rule = TURNED.to_owned(),
            Body::TurnObserved(seen) => seen.adjuster = TURNED.to_owned(),
            Body::PhotoAttached(photo) => photo.name = TURNED.to_owned(),
            _ => {}
        }
    }
    let page = shown(&history);
    assert!(page.contains("evillive"));
    let steers = page.chars().find(|c| skimgauge_record::text::steers(*c) && *c != '\n');
    assert_eq!(steers, None);
}

#[test]
fn the_page_shows_the_fingerprint_to_check_against() {
    let history = common::library_read();
    let page = shown(&history);
    let check = text(section(&page, "check"));
    let hash = history.summary.head_hash.to_string();
    assert!(
        check.contains(&format!("skimgauge jobs verify FILE --fingerprint\n{hash}")),
        "{check}"
    );
    assert!(
        check.contains("could have been written anew")
            && check.contains(&history.summary.id.to_string()),
        "{check}"
    );
    assert!(
        page.contains(&format!("({})", history.summary.id.short())),
        "the foot tells namesakes apart"
    );
}

/// Entries of a kind that only a newer program knows: said at the top, and nothing is promised.
#[test]
fn what_a_newer_program_wrote_is_said_and_gives_no_verdict() {
    let mut history = common::library_read();
    assert!(shown(&history).contains("class=\"stamp"));
    let last = history.events.last().unwrap().clone();
    let unknown = skimgauge_record::event::Unknown {
        kind: "plumbed".to_owned(),
        version: 1,
        payload: "{\"x\":1}".to_owned(),
    };
    history.events.push(Event { seq: last.seq + 1, body: Body::Unknown(unknown), ..last });
    let page = shown(&history);
    let head = &page[page.find("<header>").unwrap()..page.find("</header>").unwrap()];
    assert!(head.contains("1 entry was") && head.contains("newer version"), "{head}");
    assert!(!head.contains("class=\"stamp"), "{head}");
}

/// Said on the ladder, read by the client: the job file was another's, or so it looked.
#[test]
fn what_was_said_to_be_the_same_job_stands_on_the_page() {
    let mut bench = common::empty();
    let difference = skimgauge_record::event::Difference {
        what: "client".to_owned(),
        was: Some("Larch Lane".to_owned()),
        is: Some("Mill Street".to_owned()),
    };
    bench.append(skimgauge_record::event::JobRevised {
        said_same: vec![difference],
        ..made::revised(skimgauge_jobfile::demo_job())
    });
    let page = shown(&bench.history());
    assert!(text(section(&page, "notes")).contains("client was Larch Lane, is Mill Street"));
}

/// The takes that an as-left event refers to are the ones as left, once each, and what is counted
/// is what was made.
#[test]
fn as_left_by_reference_is_shown_and_counted_once() {
    let mut bench = common::empty();
    let mut takes = Vec::new();
    for (n, (x, y)) in [(-900.0, 0.0), (900.0, 0.0), (0.0, -1100.0)].into_iter().enumerate() {
        let name = format!("station {n}");
        bench.append(made::take(&name, x, y, Phase::AsFound, 1, 3.5 + n as f64));
        takes.push(bench.append(made::take(
            &name,
            x,
            y,
            Phase::Between,
            2,
            2.5 + n as f64 / 100.0,
        )));
    }
    bench.append(skimgauge_record::event::AsLeft { takes, tilt: None });
    let page = shown(&bench.history());
    assert_eq!(rows(section(&page, "takes")).len(), 6);
    let gaps = rows(section(&page, "gaps"));
    assert_eq!(
        gaps.iter().map(|row| row[2].1.unwrap()).collect::<Vec<_>>(),
        [2.5, 2.51, 2.52],
        "{gaps:?}"
    );
    assert!(text(section(&page, "check")).contains("Takes6"), "{}", text(section(&page, "check")));
    assert!(text(section(&page, "board")).contains("As left"), "its own picture");
}

#[test]
fn a_job_without_anything_says_so() {
    let page = shown(&common::empty_read());
    assert!(page.contains("Nothing has been measured in this job yet."));
    assert!(page.contains("still open: a draft"));
    assert!(!page.contains("<section id=\"board\">"));
    assert!(!page.contains("class=\"stamp"), "no verdict without one in the record");
}

/// What is open of the work is counted, though the closer named no point; once, and not as the record
/// spells it.
#[test]
fn steps_that_are_not_done_are_counted_beside_the_open_points() {
    let mut bench = common::few();
    bench.close(&["cover plate", "steps not done: set-out, fixings"]);
    let page = shown(&bench.history());
    let not_done =
        "11 steps of the work are not done: where everything goes on the wall; the bracket level";
    assert!(
        page.contains("4 points are still open"),
        "cover plate, no verdict, said, left out: {page}"
    );
    assert!(text(section(&page, "in-short")).contains(not_done), "{page}");
    let open = text(section(&page, "open-points"));
    assert!(open.contains("11 steps of the work are not done: see"), "{page}");
    // Each is an open point by itself.
    assert!(!open.contains("left out: see"), "{page}");
    let left_out = "1 step of the work was left out: the board\u{2019}s own shape.";
    let in_short = text(section(&page, "in-short")).replace('\'', "\u{2019}");
    assert!(in_short.contains(left_out), "{page}");
    assert!(!page.contains("teps not done:"), "{page}");
    assert!(page.contains("Nothing has been measured in this job."), "closed: no yet");
}

#[test]
fn where_only_lengths_were_taped_the_gap_alone_was_not_measured() {
    let mut bench = common::few();
    let all = include_str!("../../record/tests/data/sections_v1.json");
    let square = serde_json::from_str::<serde_json::Value>(all).unwrap()["square"].take();
    bench.append(common::read::<skimgauge_record::section::Section>(
        serde_json::json!({"section": "square", "data_version": 1, "data": square}),
    ));
    let page = shown(&bench.history());
    assert!(!page.contains("Nothing has been measured"), "{page}");
    assert!(page.contains("The gap of the touch plane has not been measured yet."), "{page}");
}

#[test]
fn a_broken_record_gives_no_verdict() {
    let mut history = common::library_read();
    history.events.truncate(30);
    history.broken =
        Some(Broken { seq: 31, why: "event 31 (\"take\") does not match its hash".to_owned() });
    let page = shown(&history);
    let head = &page[page.find("<header>").unwrap()..page.find("</header>").unwrap()];
    assert!(head.contains("damaged from event 31"));
    assert!(!head.contains("class=\"stamp"), "{head}");
}

#[test]
fn an_old_calibration_is_an_open_point() {
    let mut bench = common::empty();
    let mut old = made::take("top", 0.0, 0.0, Phase::AsLeft, 1, 2.0);
    old.head.calibration_date = Some("2025-01-01".to_owned());
    bench.append(old);
    let page = shown(&bench.history());
    let open = text(section(&page, "open-points"));
    assert!(open.contains("zeroed 693 days before its last take; the job allows 365"), "{open}");
}

#[test]
fn five_hundred_takes_make_a_page_that_opens() {
    let history = common::many_read();
    let page = shown(&history);
    assert_eq!(rows(section(&page, "takes")).len(), 500);
    assert!(page.len() < 2_000_000, "{} bytes", page.len());
    assert_eq!(rows(section(&page, "gaps")).len(), 250);
}

#[test]
fn the_same_record_makes_the_same_page() {
    let history = common::library_read();
    assert_eq!(shown(&history), shown(&history));
}

#[test]
fn a_job_file_that_cannot_be_read_is_said() {
    let mut bench = common::Bench::new("odd", "site = \"Hall 3\"\n");
    for (x, y) in [(-900.0, 0.0), (900.0, 0.0), (0.0, -1100.0)] {
        bench.append(made::take(&format!("at {x}"), x, y, Phase::AsFound, 1, 2.0 + x / 1000.0));
    }
    let page = shown(&bench.history());
    assert!(page.contains("job file kept in this record cannot be read"));
    assert!(page.contains("<section id=\"board\">"), "the takes are shown all the same");
}

/// Until the board is surveyed, within is said of the places read and never of the whole board.
#[test]
fn within_names_the_places_read() {
    let history = common::library_read();
    let page = shown(&history).replace('\u{a0}', " ");
    assert!(page.contains("within its band at the 9 places read"), "the lead");
    assert!(page.contains("At each of the 9 places read the gap is within the band"), "in short");
    let verdicts = text(section(&page, "verdicts"));
    assert!(verdicts.contains("9 places read: top left, top, top right"), "{verdicts}");
    assert!(page.matches("Between them nothing was read.").count() >= 2);
    for claim in ["over the whole board", "Everywhere on the board"] {
        assert!(!page.contains(claim), "{claim}");
    }
}

/// A record that does not say where it was judged speaks of the stations taken; one of a surveyed
/// board of the board.
#[test]
fn where_an_older_record_was_judged_follows_from_its_takes_or_its_survey() {
    for (survey, says) in [
        ("", "at the 4 places read"),
        ("[survey]\nfile = \"survey.csv\"\n", "over the whole board as surveyed"),
    ] {
        let mut bench =
            common::Bench::new("older", &format!("{}\n{survey}", skimgauge_jobfile::demo_job()));
        judged_as_left(
            &mut bench,
            skimgauge_record::event::Verdict::Within,
            serde_json::json!({"agreement": "agrees"}),
        );
        let page = shown(&bench.history());
        assert!(page.contains(says), "{says}");
    }
}

/// Four takes, each within by itself, and this verdict over them.
fn judged_as_left(
    bench: &mut common::Bench,
    verdict: skimgauge_record::event::Verdict,
    detail: serde_json::Value,
) {
    common::take_as_left(bench, Some(skimgauge_record::event::Verdict::Within));
    bench.append(Judged {
        would_settle: Some(skimgauge_record::section::Said::of(
            "top left reads 3.20 mm, 0.90 mm more than the others say; read top left again",
        )),
        detail: common::read(detail),
        ..made::judged(verdict)
    });
}

/// Takes that contradict one another promise nothing: neither the whole nor any station is within,
/// however each of them was called when it was taken.
#[test]
fn takes_that_contradict_one_another_are_neither_within_nor_outside() {
    let mut bench = common::Bench::new("odd one", skimgauge_jobfile::demo_job());
    let detail = serde_json::json!({"agreement": "contradicts"});
    judged_as_left(&mut bench, skimgauge_record::event::Verdict::Unsure, detail);
    let page = shown(&bench.history());
    assert!(text(&page).contains("The readings as left contradict one another"), "the lead");
    assert!(text(section(&page, "open-points")).contains("read top left again"));
    for part in ["gaps", "takes", "board"] {
        let part = section(&page, part);
        for after in part.split("class=\"mark\"").skip(1) {
            let after = &after[after.find("</svg>").unwrap() + 6..];
            assert!(after.starts_with("too close to call"), "{}", &after[..40]);
        }
    }
    assert!(
        !text(section(&page, "in-short")).contains("within"),
        "{}",
        text(section(&page, "in-short"))
    );
}

/// Level and lean have one value each, wherever the page tells them, and stand beside what they are
/// the difference of.
#[test]
fn level_and_lean_have_one_value() {
    let page = shown(&common::library_read());
    let verdicts = section(&page, "verdicts");
    for (name, value, emitter, board) in [("Level", 0.01, 0.06, 0.05), ("Lean", -0.12, -0.09, 0.03)]
    {
        let card = verdicts.rsplit(&format!(">{name}<")).next().unwrap();
        let told = &card[card.find("<data value=\"").unwrap() + 13..];
        assert!(told.starts_with(&format!("{value}\"")), "{name} on the card: {}", &told[..30]);
        let rows = rows(section(&page, "gaps"));
        let left = rows
            .iter()
            .filter(|row| row[0].0 == "As left" && row.iter().any(|cell| cell.0 == name));
        let values: Vec<Vec<f64>> =
            left.map(|row| row.iter().filter_map(|cell| cell.1).collect()).collect();
        let [row] = &values[..] else { panic!("{name}: {values:?}") };
        assert_eq!((row[0], row[2], row[3]), (value, emitter, board), "{name}: {row:?}");
        assert!((row[2] - row[3] - row[0]).abs() < 1e-9);
    }
}

/// What was gone through before hands were let go of the projector, and what was said of a step.
#[test]
fn the_list_that_was_gone_through_stands_on_the_page() {
    let mut bench = common::empty();
    bench.append(common::made::step("fixings", None));
    bench.append(common::read::<Section>(serde_json::json!({
        "section": "step", "data_version": 1, "data": {
            "step": "hanging", "how": "done", "why": "with B. Fitter",
            "checked": ["two people, the floor below clear", "a tether to the building"],
        },
    })));
    let page = shown(&bench.history());
    let short = text(section(&page, "steps-in-short"));
    assert!(short.contains("bracket: 2 points gone through first"), "{short}");
    let full = text(section(&page, "steps"));
    for words in
        ["With B. Fitter.", "Gone through first: two people, the floor below clear; a tether"]
    {
        assert!(full.contains(words), "{words}: {full}");
    }
}

#[test]
fn with_every_step_left_out_the_page_says_that_nothing_was_done() {
    let mut bench = common::empty();
    for step in skimgauge_steps::Step::all().filter(|step| *step < skimgauge_steps::Step::Handover)
    {
        bench.append(common::made::step(step.word(), Some("not asked for")));
    }
    bench.close(&[]);
    let page = shown(&bench.history());
    let says = text(section(&page, "in-short"));
    assert!(says.contains("Every step of the work was left out"), "{says}");
    assert!(!page.contains("of the work are not done"), "{page}");
}

/// Who only said a step done measured nothing.
#[test]
fn measured_by_are_those_who_measured_and_said_by_those_who_said() {
    let facts = |bench: common::Bench| text(section(&shown(&bench.history()), "in-short"));
    let said = facts(common::few());
    assert!(!said.contains("Measured by"), "{said}");
    let said = said.replace('\'', "\u{2019}");
    let who = "Said byR. Oakes (cables and pipes in the wall looked for; what the anchors carry, proof loads with it; \
               the projector lifted onto its bracket; the board\u{2019}s own shape: left out)";
    assert!(said.contains(who), "{said}");
    let mut bench = common::few();
    bench.who = "M. Reading".to_owned();
    common::take_as_left(&mut bench, None);
    let measured = facts(bench);
    assert!(measured.contains("Measured byM. ReadingSaid byR. Oakes ("), "{measured}");
}
