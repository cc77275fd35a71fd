//! What is shown, held against what it was made from: read back, in order, and of sensible length,
//! for any number.

use proptest::prelude::*;
use skimgauge_quantity::{
    Celsius, Deg, Figure, Kelvin, Kind, Mm, MmPerM, Sentence, Signs, Style, Turns, Units, column,
    force, mass, percent, plain, read, say,
};

const STYLES: [Style; 4] = [
    Style { units: Units::Mm, signs: Signs::Typed },
    Style { units: Units::Mm, signs: Signs::Printed },
    Style { units: Units::Inch, signs: Signs::Typed },
    Style { units: Units::Inch, signs: Signs::Printed },
];

/// A way to show a length, with the largest step between two things shown, mm: as mm and as inch.
type Shown = (fn(Mm) -> Figure, f64, f64);

/// Each of them.
const LENGTHS: [Shown; 7] = [
    (Mm::gap, 0.01, 0.0254),
    (Mm::limit, 0.01, 0.0254),
    (Mm::fine, 0.001, 0.002_54),
    (Mm::uncertainty, 0.01, 0.0254),
    (Mm::wall, 1.0, 25.4 / 16.0),
    (Mm::tape, 0.1, 25.4 / 64.0),
    (Mm::size, 0.001, 0.002_54),
];

fn read_back(text: &str) -> f64 {
    read::read(text, Kind::Length).unwrap_or_else(|why| panic!("{text}: {why}"))
}

fn every_figure(value: f64) -> Vec<Figure> {
    let lengths = LENGTHS.map(|(show, ..)| show(Mm(value)));
    let others = [
        MmPerM(value).figure(),
        Deg(value).figure(),
        Deg(value).fine(),
        Celsius(value).figure(),
        Kelvin(value).figure(),
        Turns(value).figure(),
        Turns(value).amount(),
        Turns(value).in_words(),
        percent(value),
        plain(value, 3),
    ];
    lengths.into_iter().chain(others).flat_map(|figure| [figure, figure.signed()]).collect()
}

proptest! {
    /// Read back, a length is within half a step of what it was made from; and shown again it is the same text.
    #[test]
    fn a_length_reads_back(mm in -30_000.0..30_000.0_f64) {
        for (show, step_mm, step_inch) in LENGTHS {
            for style in STYLES {
                let text = show(Mm(mm)).text(style);
                let back = read_back(&text);
                let step = if style.units == Units::Mm { step_mm } else { step_inch };
                prop_assert!((back - mm).abs() <= step / 2.0 + 1e-9, "{mm}: {text}");
                prop_assert_eq!(show(Mm(back)).text(style), text);
            }
        }
    }

    /// The longer of two lengths is never shown as the shorter.
    #[test]
    fn what_is_longer_is_shown_so(mm in -30_000.0..30_000.0_f64, more in prop_oneof![0.0..1e-3_f64, 0.0..2.0_f64, 0.0..1e4_f64]) {
        for (show, ..) in LENGTHS {
            for style in STYLES {
                let (less, more) = (show(Mm(mm)).text(style), show(Mm(mm + more)).text(style));
                prop_assert!(read_back(&less) <= read_back(&more), "{less} and {more}");
            }
        }
    }

    /// Angles, slopes, temperatures and turns read back too.
    #[test]
    fn other_quantities_read_back(value in -500.0..500.0_f64) {
        let back = |figure: Figure, style, kind| read::read(&figure.text(style), kind).unwrap();
        for style in STYLES {
            prop_assert!((back(Deg(value).figure(), style, Kind::Angle) - value).abs() <= 0.005 + 1e-9);
            prop_assert!((back(Celsius(value).figure(), style, Kind::Temperature) - value).abs() <= 0.05 + 1e-9);
            prop_assert!((back(Turns(value).figure(), style, Kind::Turn) - value).abs() <= 0.005 + 1e-9);
            prop_assert!((back(MmPerM(value).figure(), style, Kind::Slope) - value).abs() <= 0.0085 + 1e-9);
        }
    }

    /// No number at all panics, shows a sign on nothing, or runs on: a handful of digits behind the point, words for what
    /// is no number.
    #[test]
    fn any_number_is_shown_sensibly(value in any::<f64>()) {
        for figure in every_figure(value) {
            for style in STYLES {
                for text in [figure.text(style), figure.number(style), figure.cell(style)] {
                    let lower = text.to_lowercase();
                    let odd = lower.split(' ').any(|word| matches!(word.trim_start_matches(['-', '+']), "nan" | "inf" | "infinity"));
                    prop_assert!(!odd, "{text}");
                    let signed = text.strip_prefix(['-', '+', '\u{2212}']);
                    let digits = |text: &str| text.chars().filter(|c| c.is_ascii_digit()).collect::<String>();
                    prop_assert!(signed.is_none_or(|size| digits(size).bytes().any(|digit| digit != b'0')), "{text}");
                    let decimals = text.split_once('.').map_or(0, |(_, behind)| behind.chars().take_while(char::is_ascii_digit).count());
                    prop_assert!(decimals <= 9, "{text}");
                    prop_assert!(text.chars().count() < 64, "{text}");
                }
            }
        }
    }

    /// Lengths in use, in inches, never have more than four decimals.
    #[test]
    fn inches_have_sensible_digits(mm in -30_000.0..30_000.0_f64) {
        for (show, ..) in LENGTHS {
            let text = show(Mm(mm)).text(STYLES[2]);
            let decimals = text.split_once('.').map_or(0, |(_, behind)| behind.chars().take_while(char::is_ascii_digit).count());
            prop_assert!(decimals <= 4 || mm.abs() < 0.002, "{mm}: {text}");
        }
    }

    /// One column, one style: never fractions and decimals together, whatever is in it.
    #[test]
    fn a_column_never_mixes_fractions_and_decimals(
        cells in prop::collection::vec(prop::option::of((0_usize..7, prop_oneof![-1e4..1e4_f64, -0.1..0.1_f64, Just(f64::NAN)])), 0..8)
    ) {
        let figures = || cells.iter().map(|cell| cell.map(|(show, mm)| LENGTHS[show].0(Mm(mm))));
        for style in STYLES {
            let texts = column(figures(), style);
            prop_assert_eq!(texts.len(), cells.len());
            prop_assert!(!(texts.iter().any(|t| t.contains('/')) && texts.iter().any(|t| t.contains('.'))), "{texts:?}");
        }
    }

    /// A sentence of any values and any texts is made in any style.
    #[test]
    fn any_sentence_is_told(value in any::<f64>(), other in any::<f64>(), name in ".{0,20}") {
        let figures = every_figure(value);
        let pairs = figures.iter().zip(every_figure(other)).map(|(a, b)| say!("{}, {}", a.to(b), a.give_or_take(b)));
        let said = say!("{name}: {}", Sentence::joined(pairs, "; ")).capital().ended();
        for style in STYLES {
            let text = said.text(style);
            prop_assert!(!text.contains("-0.00 ") && !text.contains('\n'), "{text}");
        }
    }
}

/// NIST SP 811 (2008), appendix B.8: one pound-force is 4.448 222 N, one pound 0.453 592 37 kg.
#[test]
fn forces_and_masses_go_with_the_lengths() {
    let inch = STYLES.into_iter().find(|style| style.units == Units::Inch).unwrap();
    let mm = Style::default();
    assert_eq!((force(1500.0).text(mm), mass(18.0).text(mm)), ("1500 N".into(), "18 kg".into()));
    assert_eq!(force(812.5).text(mm), "812.5 N");
    assert_eq!(force(1500.0).text(inch).replace('\u{a0}', " "), "337.2 lbf");
    assert_eq!(mass(18.0).text(inch).replace('\u{a0}', " "), "39.7 lb");
    assert_eq!((force(444.8222).cell(inch), force(812.5).cell(mm)), ("100".into(), "812".into()));
}
