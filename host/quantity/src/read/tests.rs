use super::*;
use crate::unit::{Mm, Turns};
use proptest::prelude::*;

fn mm(text: &str) -> f64 {
    read(text, Kind::Length).unwrap_or_else(|why| panic!("{text}: {why}"))
}

fn fault(text: &str) -> Fault {
    read(text, Kind::Length).unwrap_err().fault().clone()
}

#[test]
fn lengths_in_every_unit() {
    assert_eq!(mm("2025 mm"), 2025.0);
    assert_eq!(mm("2025mm"), 2025.0);
    assert_eq!(mm(" 12.5 cm "), 125.0);
    assert_eq!(mm("1.2 m"), 1200.0);
    // 1 in = 25.4 mm and 1 ft = 304.8 mm, exact (international yard, 1959).
    assert_eq!(mm("1 in"), 25.4);
    assert_eq!(mm("1 ft"), 304.8);
    assert_eq!(mm("94\""), 94.0 * 25.4);
    assert_eq!(mm("94 in."), 94.0 * 25.4);
    assert_eq!(mm("-3 mm"), -3.0);
    assert_eq!(mm("\u{2212}3\u{a0}mm"), -3.0);
    assert_eq!(mm(".5 mm"), 0.5);
}

#[test]
fn fractions_of_an_inch() {
    assert_eq!(mm("3/8 in"), 0.375 * 25.4);
    for text in [
        "93 3/8 in",
        "93-3/8 in",
        "93\u{215c} in",
        "93 \u{215c}\u{2033}",
        "93 3\u{2044}8\u{201d}",
        "93 3/8''",
    ] {
        assert_eq!(mm(text), 93.375 * 25.4, "{text}");
    }
    assert_eq!(mm("-1 1/2 in"), -1.5 * 25.4);
    assert_eq!(mm("-1/2 in"), -0.5 * 25.4);
    assert_eq!(mm("-\u{bd} in"), -0.5 * 25.4);
    for bad in [
        "1/0 in",
        "1.5 1/2 in",
        "1 2 3 in",
        "1 -1/2 in",
        "1/ in",
        "/2 in",
        "1/2/3 in",
        "- 5 mm",
        "--5 mm",
        "-+5 mm",
        "1e3 mm",
    ] {
        assert!(matches!(fault(bad), Fault::BadNumber(_)), "{bad}: {:?}", fault(bad));
    }
}

#[test]
fn feet_and_inches_as_on_drawings() {
    for text in
        ["6 ft 2 1/2 in", "6' 2 1/2\"", "6'-2 1/2\"", "6\u{2032} 2\u{bd}\u{2033}", "6 ft. 2.5 in."]
    {
        assert_eq!(mm(text), 74.5 * 25.4, "{text}");
    }
    assert_eq!(mm("-1 ft 2 in"), -14.0 * 25.4);
    assert_eq!(mm("-0 ft 2 in"), -2.0 * 25.4);
    for odd in ["6.5 ft 2 in", "6 ft 12 in", "1/2 ft 2 in"] {
        assert!(matches!(fault(odd), Fault::FeetAndInches(_)), "{odd}");
    }
    for two in ["6 m 2 mm", "2 in 6 ft", "6 ft 2", "6 ft 2 in 3 in", "2'025 mm"] {
        assert_eq!(fault(two), Fault::TwoQuantities, "{two}");
    }
}

#[test]
fn a_comma_is_decimal_where_it_can_be_nothing_else() {
    for (text, value) in [
        ("1,5 mm", 1.5),
        ("0,125 mm", 0.125),
        ("12,50 mm", 12.5),
        (",5 mm", 0.5),
        ("2025,0 mm", 2025.0),
        ("1234,567 mm", 1234.567),
    ] {
        assert_eq!(mm(text), value, "{text}");
    }
    for text in ["1,265 mm", "-2,025 mm"] {
        assert!(matches!(fault(text), Fault::Comma(_)), "{text}");
    }
    for text in
        ["1.234,5 mm", "1,234.5 mm", "1,234,567 mm", "2 025 mm", "2\u{202f}025 mm", "1.234.567 mm"]
    {
        assert!(matches!(fault(text), Fault::Grouped(_)), "{text}: {:?}", fault(text));
    }
    for text in ["1.2.3 mm", "1,2,3 mm", "5, mm", "1,2/3 in"] {
        assert!(matches!(fault(text), Fault::BadNumber(_)), "{text}: {:?}", fault(text));
    }
}

#[test]
fn angles_slopes_and_turns() {
    assert_eq!(read("0.5 deg", Kind::Angle).unwrap(), 0.5);
    assert_eq!(read("0,5\u{b0}", Kind::Angle).unwrap(), 0.5);
    // 0.01 deg = 0.174533 mm/m (tangent, computed).
    let angle = read("0.174533 mm/m", Kind::Angle).unwrap();
    assert!((angle - 0.01).abs() < 1e-7, "{angle}");
    let slope = read("0.01 deg", Kind::Slope).unwrap();
    assert!((slope - 0.174_533).abs() < 1e-6, "{slope}");
    // 12 in/ft is one in one, 45 degrees.
    assert!((read("12 in/ft", Kind::Angle).unwrap() - 45.0).abs() < 1e-12);
    assert_eq!(read("0.012 in/ft", Kind::Slope).unwrap(), 1.0);
    assert_eq!("90 deg".parse(), Ok(Turns(0.25)));
    assert_eq!("2 1/4 turns".parse(), Ok(Turns(2.25)));
}

#[test]
fn other_kinds() {
    assert_eq!(read("1 day", Kind::Time).unwrap(), 86_400.0);
    assert!((read("68 F", Kind::Temperature).unwrap() - 20.0).abs() < 1e-12);
    assert_eq!(read("1500 mV", Kind::Voltage).unwrap(), 1.5);
    // NIST SP 811: 1 lbf = 4.448222 N (from memory, to the digits given).
    assert!((read("1 lbf", Kind::Force).unwrap() - 4.448_222).abs() < 5e-7);
    assert_eq!(read("1 lb", Kind::Mass).unwrap(), 0.453_592_37);
}

#[test]
fn each_fault_is_told_apart() {
    assert_eq!(fault("  "), Fault::Empty);
    assert_eq!(fault("mm"), Fault::NoNumber);
    assert_eq!(fault("wide"), Fault::NoNumber);
    assert_eq!(fault("M8"), Fault::NoNumber);
    assert_eq!(fault("94"), Fault::NoUnit("94".into()));
    assert_eq!(fault("3 deg"), Fault::WrongKind { unit: "deg".into(), measures: Kind::Angle });
    let unknown = |unit: &str, nearest| Fault::UnknownUnit { unit: unit.into(), nearest };
    assert_eq!(fault("3 MM"), unknown("MM", Some("mm")));
    assert_eq!(fault("3 inchs"), unknown("inchs", Some("inch")));
    assert_eq!(fault("3 furlongs"), unknown("furlongs", None));
    assert_eq!(fault(&format!("{} mm", "9".repeat(400))), Fault::NotFinite);
}

#[test]
fn what_is_wrong_is_said_with_what_is_expected() {
    let said = |text: &str| text.parse::<Mm>().unwrap_err().to_string();
    assert_eq!(
        said("94"),
        "`94` has no unit; expected a length with its unit, such as 2025 mm (units: mm, cm, m, in, ft)"
    );
    assert_eq!(
        said("94 kg"),
        "`kg` is the unit of a weight; expected a length in one of: mm, cm, m, in, ft"
    );
    let bare = Mm::read_bare("wide").unwrap_err().to_string();
    assert!(bare.contains("expected a length in mm, or with its unit"), "{bare}");
    assert!(!said("\u{1b}[2J\u{202e}9").contains(['\u{1b}', '\u{202e}']));
}

#[test]
fn a_bare_number_counts_where_the_caller_says_so() {
    assert_eq!(Mm::read_bare("2024,5"), Ok(Mm(2024.5)));
    assert_eq!(Mm::read_bare("94 1/8 in"), Ok(Mm(94.125 * 25.4)));
    assert!(Mm::read_bare("top").is_err());
}

#[test]
fn every_kind_reads_its_own_example() {
    for kind in Kind::ALL {
        assert!(read(kind.example(), kind).is_ok(), "{kind:?}");
        assert_eq!(read(&format!("1 {}", kind.base_unit()), kind), Ok(1.0), "{kind:?}");
        for unit in kind.units() {
            assert!(read(&format!("1 {unit}"), kind).is_ok(), "{kind:?} {unit}");
        }
    }
}

proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC*") {
        for kind in Kind::ALL {
            for value in [read(&text, kind), read_bare(&text, kind)].into_iter().flatten() {
                prop_assert!(value.is_finite());
            }
        }
    }

    #[test]
    fn near_misses_are_read_or_refused(
        text in "[-+0-9 ./,'\"\u{2212}\u{bd}e]{0,9}(mm|in|ft|\"|deg|turns|[a-z.]{0,3}) ?[-0-9a-z/ ]{0,5}(in|\")?"
    ) {
        for kind in Kind::ALL {
            match read(&text, kind) {
                Ok(value) => prop_assert!(value.is_finite() && (value != 0.0 || value.is_sign_positive())),
                Err(why) => prop_assert!(!why.to_string().is_empty()),
            }
        }
    }

    #[test]
    fn what_is_written_comes_back(value in -1e6..1e6_f64) {
        prop_assert_eq!(mm(&format!("{value} mm")), value);
    }

    /// With as many decimals as leave no doubt, comma and point say the same.
    #[test]
    fn a_decimal_comma_reads_as_a_point(value in -1e4..1e4_f64, decimals in 1_usize..7) {
        prop_assume!(decimals != 3);
        let text = format!("{value:.decimals$} mm");
        prop_assert_eq!(mm(&text.replace('.', ",")), mm(&text));
    }
}
