use super::*;
use serde_json::json;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Deg, Mm, MmPerM, Units, say};

fn section(name: &str, data_version: u32, data: Value) -> Section {
    let whole = json!({"section": name, "data_version": data_version, "data": data});
    serde_json::from_str(&whole.to_string()).unwrap()
}

/// What the commands of 0.1 wrote, key by key.
fn first_versions() -> Vec<(String, Value)> {
    let all: serde_json::Map<String, Value> =
        serde_json::from_str(include_str!("../../tests/data/sections_v1.json")).unwrap();
    all.into_iter().collect()
}

fn first(name: &str) -> Value {
    first_versions().into_iter().find(|(known, _)| known == name).unwrap().1
}

#[test]
fn the_first_versions_are_read_and_written_with_the_same_keys() {
    for (name, data) in first_versions() {
        let read = section(&name, 1, data.clone());
        assert!(!matches!(read, Section::Other(_)), "{name}");
        assert_eq!(read.word(), name);
        let written = serde_json::to_value(&read).unwrap();
        assert_eq!(written["data_version"], 2);
        let keys = |value: &Value| value.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
        assert_eq!(keys(&written["data"]), keys(&data), "{name}");
        let text = written.to_string();
        assert_eq!(serde_json::from_str::<Section>(&text).unwrap(), read, "{name}");
    }
}

/// A length in a sentence is told in inches, a name with a number in it as it is.
#[test]
fn sentences_are_kept_in_pieces() {
    let Section::SetOut(mut set_out) = section("set-out", 1, first("set-out")) else { panic!() };
    let shelf = skimgauge_quantity::Name("shelf at 100 mm");
    set_out.to_change_first = vec![say!("move {shelf} {} left", Mm(25.4).tape()).into()];
    let text = serde_json::to_string(&Section::SetOut(set_out)).unwrap();
    let Section::SetOut(back) = serde_json::from_str(&text).unwrap() else { panic!() };
    let said = back.to_change_first[0].0.text(Style::typed(Units::Inch));
    assert_eq!(said, "move shelf at 100 mm 1 in left");
}

#[test]
fn what_is_not_known_stays_as_it_stands() {
    let whole = first("square");
    let mut more = whole.clone();
    more["corners"][0]["out_mm"] = json!(1.0);
    for (name, version, data) in [
        ("square", 1, json!({"worst_mm": 1.5})),
        ("square", 3, whole.clone()),
        ("square", 0, whole),
        ("square", 2, more),
        ("plumbing", 1, json!([1, 2])),
        ("level", 1, Value::Null),
    ] {
        let read = section(name, version, data.clone());
        let other = Other { section: name.to_owned(), data_version: version, data };
        assert_eq!(read, Section::Other(other.clone()));
        assert_eq!(serde_json::to_value(&read).unwrap(), serde_json::to_value(other).unwrap());
    }
}

#[test]
fn what_was_held_level_is_written_as_documented() {
    let levelled = Levelled {
        of: "bracket".to_owned(),
        line: Line::Level,
        value: Deg(-0.04),
        known: Known::Expanded(Deg(0.03)),
        target: Band { low: Deg(-0.1), high: Deg(0.1) },
        verdict: Verdict::Within,
        tool: Tool::Head(crate::event::Head {
            serial: "SG-0007".to_owned(),
            firmware: "0.1.0".to_owned(),
            calibration_date: Some("2026-11-20".to_owned()),
            calibration_sha256: None,
        }),
    };
    let documented: String = include_str!("level.rs")
        .lines()
        .skip_while(|line| *line != "/// ```json")
        .skip(1)
        .take_while(|line| *line != "/// ```")
        .map(|line| line.trim_start_matches("///"))
        .collect();
    let documented: Value = serde_json::from_str(&documented).unwrap();
    assert_eq!(serde_json::to_value(&levelled).unwrap(), documented);
    assert_eq!(section("level", 1, documented), Section::from(levelled.clone()));
    let own = Levelled {
        known: Known::Resolution(Deg(0.05)),
        tool: Tool::Own("spirit level, 600 mm".to_owned()),
        ..levelled
    };
    assert_eq!(own.known.give_or_take(), Deg(0.025));
    let json = serde_json::to_value(&own).unwrap();
    assert_eq!(json["known"], json!({"resolution_deg": 0.05}));
    assert_eq!(json["tool"], json!({"own": "spirit level, 600 mm"}));
    assert_eq!(section("level", 1, json), Section::from(own));
}

/// The table at the top of the module is the table of the program.
#[test]
fn the_sections_in_the_documentation_are_those_written() {
    let documented: Vec<(String, u32)> = include_str!("mod.rs")
        .lines()
        .filter_map(|line| {
            let mut cells = line.strip_prefix("//! | `")?.split('|');
            let word = cells.next()?.trim().trim_end_matches('`').to_owned();
            Some((word, cells.next()?.trim().parse().ok()?))
        })
        .collect();
    let written: Vec<(String, u32)> =
        Section::WORDS.iter().map(|(word, version)| ((*word).to_owned(), *version)).collect();
    assert_eq!(documented, written);
}

#[test]
fn a_number_that_is_none_is_refused() {
    let Section::Survey(mut survey) = section("survey", 1, first("survey")) else { panic!() };
    survey.flatness = Mm(f64::NAN);
    assert!(crate::Body::from(Section::Survey(survey)).payload().is_err());
}

#[test]
fn a_proof_is_written_as_documented_and_an_older_word_stays_what_it_was() {
    let touch = Touch {
        verdict: Verdict::Unsure,
        because: say!("touch stands {} off", Mm(2.5).gap()).into(),
        settle: Some(say!("tap another three rounds").into()),
        cause: None,
        image: skimgauge_model::Image::mm(2025.0, 1265.6),
        tool: "rod".to_owned(),
        limit: Mm(3.0),
        map: Some(TouchMap {
            right: Found { value: Mm(0.4), u: Mm(0.41) },
            up: Found { value: Mm(-0.2), u: Mm(0.41) },
            scale_across: Found { value: MmPerM(1.5), u: MmPerM(0.2) },
            scale_down: Found { value: MmPerM(0.1), u: MmPerM(0.3) },
            turn: Found { value: MmPerM(0.0), u: MmPerM(0.2) },
            shear: Found { value: MmPerM(0.0), u: MmPerM(0.3) },
            scatter: Mm(0.6),
        }),
        places: vec![TouchPlace {
            name: "top left".to_owned(),
            x: Mm(-1012.5),
            y: Mm(0.0),
            right: Mm(-1.1),
            up: Mm(0.3),
            expanded: Mm(0.9),
            verdict: Verdict::Within,
        }],
        marks: vec![TouchMark {
            name: "centre".to_owned(),
            x: Mm(0.0),
            y: Mm(-632.8),
            taps: 3,
            missed: 1,
            right: Mm(0.5),
            up: Mm(0.1),
            bent: false,
        }],
        strokes: vec![vec![[-911.3, -63.3], [911.2, -63.1]]],
        parts: vec![TouchPart {
            what: "map".to_owned(),
            verdict: Verdict::Unsure,
            says: say!("touch stands off").into(),
        }],
        told: vec![say!("latency cannot be measured from a page").into()],
        made: json!({"form": 1}),
    };
    let written = serde_json::to_value(Section::from(touch.clone())).unwrap();
    assert_eq!((&written["section"], &written["data_version"]), (&json!("touch"), &json!(1)));
    let data = &written["data"];
    assert_eq!(data["limit_mm"], 3.0);
    assert_eq!(data["map"]["scale_across_mm_per_m"], json!({"value": 1.5, "u": 0.2}));
    assert_eq!(data["marks"][0]["missed"], 1);
    assert_eq!(data["places"][0]["verdict"], "within");
    assert_eq!(serde_json::from_value::<Section>(written).unwrap(), Section::from(touch));
    // How well the head repeats is no proof of touch, and is read as before.
    assert!(Section::WORDS.contains(&("prove", 1)) && Section::WORDS.contains(&("touch", 1)));
}
