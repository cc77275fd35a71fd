//! A head's birth certificate: as JSON, as a page, as text.
//!
//! JSON: `schema` (1), `kind` (`birth`), `date`, `by`, `head`, `number`, `firmware`, `protocol`,
//! `verdict` (`as-it-should-be`, `fault`, `not-seen`), `parts` (each of `memory`, `converter`,
//! `inclinometer`, `eye`: whether it answers, null where that is not known), `noise`
//! (`stand_off_mm`, `tilt_deg`: standard deviation of single readings, or null), `tilt_signs`
//! (`level`, `lean`: whether each counts as it should, or null), `zero` (`date`, `by`, `zero_mm`,
//! `u_mm`; null: it has none), `checks`: each `check`, `step`, `limit` (`low`, `high`, `unit`,
//! `from`, or null), `value`, `verdict`, `says`, `wire` (with a fault: `says`, `parts`, `pins`,
//! `points`, `look`; else null). Fields may be added; what is here keeps its meaning within one
//! schema number.

use super::columns;
use serde_json::json;
use skimgauge_handover::Units;
use skimgauge_handover::document::{Block, Caution, Cell, Column, Document, Section, Table};
use skimgauge_model::Verdict;
use skimgauge_procedure::birth::{Certificate, Check, Found};
use skimgauge_quantity::{Mm, Style, count, say};

/// Version of the certificate's form.
pub const SCHEMA: u32 = 1;

/// When and by whom it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The day.
    pub date: String,
    /// Who.
    pub by: String,
}

fn is_good(certificate: &Certificate, name: &str) -> Option<bool> {
    let found = certificate.check(name)?.verdict;
    (found != Found::NotSeen).then_some(found == Found::AsItShouldBe)
}

fn value(certificate: &Certificate, name: &str) -> Option<f64> {
    certificate.check(name)?.value
}

/// As a program reads it.
pub fn json(certificate: &Certificate, written: &Written) -> String {
    let of = |name| is_good(certificate, name);
    let whole = json!({
        "schema": SCHEMA,
        "kind": "birth",
        "date": written.date,
        "by": written.by,
        "head": certificate.head,
        "number": certificate.number,
        "firmware": certificate.firmware,
        "protocol": certificate.protocol,
        "verdict": certificate.verdict,
        "parts": {
            "memory": of("memory"),
            "converter": of("converter"),
            "inclinometer": of("inclinometer"),
            "eye": of("eye"),
        },
        "noise": {
            "stand_off_mm": value(certificate, "stand-off's noise"),
            "tilt_deg": value(certificate, "tilt at rest"),
        },
        "tilt_signs": { "level": of("level's sign"), "lean": of("lean's sign") },
        "zero": certificate.zero,
        "checks": certificate.checks,
    });
    format!("{whole:#}\n")
}

/// As a person at a terminal reads it.
pub fn text(certificate: &Certificate, style: Style) -> String {
    let row = |check: &Check| {
        let limit = check.limit.map_or_else(String::new, |limit| limit.say().text(style));
        let found = match (check.limit, check.value) {
            (Some(limit), Some(value)) => limit.unit.say(value).text(style),
            _ => String::new(),
        };
        let mark = mark(check.verdict).shape();
        vec![format!("{mark} {}", check.check), check.verdict.shown().to_owned(), found, limit]
    };
    let rows: Vec<Vec<String>> = certificate.checks.iter().map(row).collect();
    let mut text = columns(&["check", "", "found", "may be"], &rows, &[]);
    for check in &certificate.checks {
        match (check.verdict, check.wire) {
            (Found::Fault, Some(wire)) => {
                text += &super::paragraph(&format!("{}: ", check.check), &check.says.text(style));
                text += &super::paragraph("    look at: ", &wire.look());
            }
            (Found::NotSeen, _) => {
                let why = format!("not seen: {}", check.says.text(style));
                text += &super::paragraph(&format!("{}: ", check.check), &why);
            }
            _ => (),
        }
    }
    text + &lead(certificate) + "\n"
}

/// The shape and colour that go with a word.
fn mark(found: Found) -> Verdict {
    match found {
        Found::AsItShouldBe => Verdict::Within,
        Found::NotSeen => Verdict::Unsure,
        Found::Fault => Verdict::Outside,
    }
}

fn lead(certificate: &Certificate) -> String {
    let of = |found: Found| {
        count(certificate.checks.iter().filter(|check| check.verdict == found).count(), "check")
    };
    let all_seen = certificate.checks.iter().all(|check| check.verdict != Found::NotSeen);
    match certificate.verdict {
        Found::AsItShouldBe => "This head is as it should be.".to_owned(),
        Found::NotSeen => format!("Nothing is at fault; not seen: {}.", of(Found::NotSeen)),
        Found::Fault => {
            let besides = if all_seen {
                String::new()
            } else {
                format!("; not seen: {}", of(Found::NotSeen))
            };
            let at_fault = of(Found::Fault);
            format!("At fault: {at_fault}{besides}. Mend it and walk it anew before it is used.")
        }
    }
}

/// As one HTML file that needs nothing beside it.
pub fn page(certificate: &Certificate, written: &Written, units: Units) -> String {
    skimgauge_handover::html(&document(certificate, written, Style::printed(units)))
}

fn document(certificate: &Certificate, written: &Written, style: Style) -> Document {
    let name = certificate.head.as_deref().unwrap_or("without a number");
    let firmware = certificate.firmware.as_deref().unwrap_or("not known");
    let sections = [
        faults(certificate, style),
        found(certificate, style),
        head(certificate, style),
        cautions(),
    ];
    Document {
        kind: "Birth certificate",
        made_by: "skimgauge birth",
        title: format!("Head {name}"),
        under: vec![written.date.clone(), written.by.clone(), format!("firmware {firmware}")],
        verdict: Some(mark(certificate.verdict)),
        word: Some(certificate.verdict.shown()),
        lead: lead(certificate),
        warnings: Vec::new(),
        sections: sections.into_iter().flatten().collect(),
        foot: "From one walk through the head's first start. Keep it with the head, beside the bring-up sheet.".to_owned(),
    }
}

fn faults(certificate: &Certificate, style: Style) -> Option<Section> {
    let at_fault = certificate.checks.iter().filter(|check| check.verdict == Found::Fault);
    let row = |check: &Check| {
        let look = check.wire.map_or_else(String::new, |wire| wire.look());
        vec![Cell::text(check.check), Cell::text(check.says.text(style)), Cell::text(look)]
    };
    let rows: Vec<Vec<Cell>> = at_fault.map(row).collect();
    let table = Table {
        caption: "What is at fault, and where to look".to_owned(),
        columns: ["check", "what it is", "part, wire, test point"].map(Column::text).to_vec(),
        rows,
    };
    (!table.rows.is_empty()).then(|| Section {
        id: "faults",
        title: "Faults".to_owned(),
        blocks: vec![Block::Table(table)],
    })
}

fn found(certificate: &Certificate, style: Style) -> Option<Section> {
    let row = |check: &Check| {
        let value = match (check.limit, check.value) {
            (Some(limit), Some(value)) => {
                Cell::number(value, |value| limit.unit.say(value).text(style))
            }
            _ => Cell::None,
        };
        let limit = check.limit.map_or_else(String::new, |limit| limit.say().text(style));
        // A fault stands above in full, a value beside its limit.
        let says = match (check.verdict, check.limit) {
            (Found::NotSeen, _) | (Found::AsItShouldBe, None) => check.says.text(style),
            _ => String::new(),
        };
        vec![
            Cell::text(check.check),
            Cell::Word(mark(check.verdict), check.verdict.shown()),
            value,
            Cell::text(limit),
            Cell::text(says),
        ]
    };
    let table = Table {
        caption: "Each check of the walk".to_owned(),
        columns: vec![
            Column::text("check"),
            Column::text("verdict"),
            Column::number("found"),
            Column::text("may be"),
            Column::text("in words"),
        ],
        rows: certificate.checks.iter().map(row).collect(),
    };
    let blocks = vec![Block::Table(table)];
    Some(Section { id: "found", title: "What was found".to_owned(), blocks })
}

fn head(certificate: &Certificate, style: Style) -> Option<Section> {
    let text = |text: &Option<String>| text.as_deref().map_or(Cell::None, Cell::text);
    let zero = certificate.zero.as_ref().map_or(Cell::None, |zero| {
        let figure = Mm(zero.zero_mm).fine().give_or_take(Mm(zero.u_mm).uncertainty());
        Cell::text(say!("{}", figure).text(style))
    });
    let zeroed = certificate.zero.as_ref().map_or_else(String::new, |zero| {
        if zero.by.is_empty() { zero.date.clone() } else { format!("{}, {}", zero.date, zero.by) }
    });
    let facts = vec![
        ("Serial number".to_owned(), text(&certificate.head)),
        ("Memory's number".to_owned(), text(&certificate.number)),
        ("Firmware".to_owned(), text(&certificate.firmware)),
        ("Zero".to_owned(), zero),
        ("Zeroed".to_owned(), Cell::text(zeroed)),
    ];
    let blocks = vec![Block::Facts(facts)];
    Some(Section { id: "head", title: "The head".to_owned(), blocks })
}

fn cautions() -> Option<Section> {
    let caution = |about: &str, says: &str| {
        Block::Caution(Caution { about: about.to_owned(), says: says.to_owned() })
    };
    let blocks = vec![
        caution(
            "Laser",
            "Do not look into the head's laser, nor at its reflection. Class and conditions are on its maker's label. Unplug the head before working on it.",
        ),
        caution(
            "What this is not",
            "It says what this head did on this day. It is no proof of laser safety, of electromagnetic compatibility, or of its readings: these rest on the zero, found on the gauge at each job.",
        ),
    ];
    Some(Section { id: "cautions", title: "Cautions".to_owned(), blocks })
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_procedure::birth::{Begin, Birth};
    use skimgauge_procedure::trial::{SEATED, TODAY, Trial};

    fn certificate() -> Certificate {
        let begin = Begin { port: "port".to_owned(), today: TODAY, left_out: Vec::new() };
        let mut trial = Trial::at(Birth::new(begin));
        // This head has no eye: that is at fault, and nothing else was come to.
        trial.read(SEATED, 8_000);
        trial.takes.certificate()
    }

    fn written() -> Written {
        Written { date: "2026-06-01".to_owned(), by: "R. <Oakes>".to_owned() }
    }

    #[test]
    fn json_says_what_the_page_says() {
        let certificate = certificate();
        let json: serde_json::Value =
            serde_json::from_str(&json(&certificate, &written())).unwrap();
        assert_eq!((&json["schema"], &json["kind"]), (&1.into(), &"birth".into()));
        assert_eq!(json["verdict"], "fault");
        assert_eq!(
            (&json["parts"]["eye"], &json["parts"]["memory"]),
            (&false.into(), &true.into())
        );
        assert_eq!(json["tilt_signs"]["level"], serde_json::Value::Null);
        assert_eq!(json["checks"].as_array().map(Vec::len), Some(certificate.checks.len()));
        let page = page(&certificate, &written(), Units::Mm);
        assert!((crate::written::BIRTH_PAGE.is)(page.as_bytes()));
        assert!(!(crate::written::PAGE.is)(page.as_bytes()), "a handover never replaces it");
        assert!(page.contains("R. &lt;Oakes&gt;") && page.contains("At fault: 1 check"));
        for check in &certificate.checks {
            assert!(page.contains(check.verdict.shown()), "{}", check.check);
        }
        let inch = super::page(&certificate, &written(), Units::Inch);
        assert!(!inch.contains(" mm<"), "{inch}");
    }

    #[test]
    fn a_terminal_shows_each_check_and_where_to_look() {
        let certificate = certificate();
        let text = text(&certificate, Style::default());
        for check in &certificate.checks {
            assert!(text.contains(check.check), "{text}");
        }
        assert!(text.contains("look at: J3, U6") && text.contains("pixel_clock (GPIO 8"), "{text}");
        assert!(text.lines().all(|line| line.chars().count() <= 120), "{text}");
    }
}
