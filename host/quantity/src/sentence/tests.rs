use super::*;
use crate::steers;
use crate::style::Units;
use crate::unit::{Mm, Turns};
use crate::{percent, say};
use proptest::prelude::*;
use serde::{Deserialize, Serialize};

const MM: Style = Style { units: Units::Mm, signs: crate::style::Signs::Typed };
const INCH: Style = Style { units: Units::Inch, signs: crate::style::Signs::Typed };

#[test]
fn a_name_with_a_length_in_it_stays_as_it_was_written() {
    let (gap, name, side) = (Mm(2.54).gap(), Name("shelf at 100 mm"), "above");
    let said = say!("{gap} at {name} lies {side} the band");
    assert_eq!(said.text(MM), "2.54 mm at shelf at 100 mm lies above the band");
    assert_eq!(said.text(INCH), "0.100 in at shelf at 100 mm lies above the band");
}

#[test]
fn the_macro_takes_what_format_takes_but_no_digits() {
    let turns = Turns(-0.25);
    assert_eq!(
        say!("turn {} {}", "left", turns.in_words()).text(MM),
        "turn left a quarter of a turn anticlockwise"
    );
    assert_eq!(
        say!("{share} of {{it}}, {n} times", share = percent(0.5), n = 3).text(MM),
        "50 % of {it}, 3 times"
    );
    assert_eq!(say!("nothing to fill").text(MM), "nothing to fill");
    assert_eq!(
        say!("{turns}{turns}", turns = turns.amount()).text(MM),
        "a quarter of a turna quarter of a turn"
    );
    assert_eq!(
        say!(
            "\u{b1} a \"quote\", \
             a line that goes on, {}\n",
            'x'
        )
        .text(MM),
        "\u{b1} a \"quote\", a line that goes on, x\n"
    );
    assert_eq!(say!(r#"raw "{}" \n"#, 1).text(MM), "raw \"1\" \\n");
    assert!(say!("").is_empty());
}

#[test]
fn what_is_worked_out_in_a_hole_is_worked_out_first() {
    let (at, of) = (2_usize, 5_usize);
    assert_eq!(
        say!("{} of {}, {left} left", at + 1, of, left = of - at).text(MM),
        "3 of 5, 3 left"
    );
}

#[test]
fn sentences_hold_sentences() {
    let inner = say!("{} inside", Mm(0.5).gap());
    let outer = say!("{}: {inner}", Name("top"));
    assert_eq!(outer.text(INCH), "top: 0.020 in inside");
    assert_eq!(
        Sentence::joined([inner.clone(), Sentence::new(), inner], "; ").text(MM),
        "0.50 mm inside; 0.50 mm inside"
    );
    assert_eq!(Sentence::list(["a", "b", "c"], "and").text(MM), "a, b and c");
    assert_eq!(Sentence::list(["a", "b"], "or").text(MM), "a or b");
    assert_eq!(Sentence::list([""; 0], "or").text(MM), "");
}

#[test]
fn sentences_begin_and_end() {
    assert_eq!(say!("take {}", Name("top")).capital().ended().text(MM), "Take top.");
    assert_eq!(say!("done.").ended().text(MM), "done.");
    assert_eq!(say!("what is {}?", 1).ended().text(MM), "what is 1?");
    // A name is not rewritten.
    assert_eq!(say!("{} reads", Name("upper")).capital().text(MM), "upper reads");
    assert!(Sentence::new().ended().is_empty());
}

#[test]
fn what_a_person_wrote_does_not_steer_the_screen() {
    let text = say!("{} {}", Name("left\u{1b}[2J"), "right\u{202e}").text(MM);
    assert_eq!(text, "left\u{fffd}[2J right\u{fffd}");
}

#[test]
fn a_page_can_tell_names_and_numbers() {
    let said = say!("{} at {}", Mm(1.0).gap(), Name("top"));
    let told: Vec<Told<'_>> = said.told(INCH).collect();
    assert_eq!(
        told,
        [Told::Quantity("0.039 in".to_owned()), Told::Words(" at "), Told::Name("top")]
    );
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
struct Kept {
    #[serde(with = "parts")]
    says: Sentence,
}

#[test]
fn json_has_the_text_and_a_record_can_have_the_parts() {
    let said =
        say!("{} at {}, {}", Mm(2.54).gap(), Name("100 mm"), Mm(1.0).limit().to(Mm(4.0).limit()));
    assert_eq!(serde_json::to_string(&said).unwrap(), "\"2.54 mm at 100 mm, 1 to 4 mm\"");
    let kept = serde_json::to_string(&Kept { says: said.clone() }).unwrap();
    assert_eq!(
        kept,
        r#"{"says":[{"show":"gap","value":2.54}," at ",{"name":"100 mm"},", ",{"first":{"show":"limit","value":1.0},"joint":"to","second":{"show":"limit","value":4.0}}]}"#
    );
    let back: Kept = serde_json::from_str(&kept).unwrap();
    assert_eq!(back.says, said);
    assert_eq!(back.says.text(INCH), "0.100 in at 100 mm, 0.039 to 0.157 in");
    let old: Kept = serde_json::from_str(r#"{"says":"2.54 mm at the left"}"#).unwrap();
    assert_eq!(old.says.text(INCH), "2.54 mm at the left");
    assert!(serde_json::from_str::<Kept>(r#"{"says":[{"show":"colour"}]}"#).is_err());
}

proptest! {
    /// Whatever a person writes comes out as it went in, in either unit, and nothing of it is taken for a quantity.
    #[test]
    fn names_pass_through(name in "\\PC{0,30}", mm in -100.0..100.0_f64) {
        prop_assume!(!name.contains(steers));
        let said = say!("{} reads {}", Name(&name), Mm(mm).gap());
        for style in [MM, INCH] {
            prop_assert_eq!(said.text(style), format!("{name} reads {}", Mm(mm).gap().text(style)));
        }
    }

    #[test]
    fn parts_come_back(name in ".{0,12}", words in ".{0,12}", value in any::<f64>()) {
        let said = say!("{words}{} {}", Name(&name), Mm(value).fine().signed());
        let json = serde_json::to_string(&Kept { says: said.clone() }).unwrap();
        let back: Kept = serde_json::from_str(&json).unwrap();
        prop_assert_eq!(back.says.text(INCH).replace("too large", "not known"), said.text(INCH).replace("too large", "not known"));
    }

    #[test]
    fn any_json_is_read_or_refused(json in "\\PC{0,60}") {
        let _ = serde_json::from_str::<Sentence>(&json);
    }
}
