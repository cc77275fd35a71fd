use super::*;
use serde_json::json;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Deg, Mm, Units, say};

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
