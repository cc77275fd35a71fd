use super::*;
use crate::band::Band;

const MM: Style = Style { units: Units::Mm, signs: crate::style::Signs::Typed };
const INCH: Style = Style { units: Units::Inch, signs: crate::style::Signs::Typed };

fn both(figure: Figure) -> [String; 2] {
    [figure.text(MM), figure.text(INCH)]
}

#[test]
fn each_purpose_has_its_digits() {
    assert_eq!(both(Mm(2.413).gap()), ["2.41 mm", "0.095 in"]);
    assert_eq!(both(Mm(0.5).limit()), ["0.5 mm", "0.02 in"]);
    assert_eq!(both(Mm(0.021).fine()), ["0.021 mm", "0.0008 in"]);
    assert_eq!(both(Mm(2025.0).wall()), ["2025 mm", "79 3/4 in"]);
    assert_eq!(both(Mm(2025.0).tape()), ["2025 mm", "79 23/32 in"]);
    assert_eq!(both(Mm(93.44).tape()), ["93.4 mm", "3 43/64 in"]);
    assert_eq!(both(Mm(610.0).size()), ["610 mm", "24.0157 in"]);
    assert_eq!(both(Mm(0.5).size()), ["0.5 mm", "0.0197 in"]);
    assert_eq!(both(MmPerM(1.0).figure()), ["1.00 mm/m", "0.0120 in/ft"]);
    assert_eq!(both(Deg(-0.123).figure()), ["-0.12\u{b0}", "-0.12\u{b0}"]);
    assert_eq!(both(Celsius(21.46).figure()), ["21.5 \u{b0}C", "21.5 \u{b0}C"]);
    assert_eq!(Turns(-0.72).figure().text(MM), "-0.72 turns");
    assert_eq!(Turns(1.0).figure().text(MM), "1 turn");
    assert_eq!(Turns(-0.72).in_words().text(MM), "nearly three quarters of a turn anticlockwise");
    assert_eq!(Turns(2.25).amount().text(MM), "2 turns and a quarter");
    assert_eq!(Turns(0.001).in_words().text(MM), "no turn");
    assert_eq!(
        (percent(0.42).text(MM), plain(1.25, 1).text(MM)),
        ("42 %".to_owned(), "1.2".to_owned())
    );
}

#[test]
fn an_uncertainty_never_reads_as_none() {
    assert_eq!(both(Mm(0.0871).uncertainty()), ["0.09 mm", "0.003 in"]);
    assert_eq!(both(Mm(0.0041).uncertainty()), ["0.004 mm", "0.0002 in"]);
    assert_eq!(Mm(0.0).uncertainty().text(MM), "0.00 mm");
    assert_eq!(both(Deg(0.000_42).fine_uncertainty()), ["0.0004\u{b0}"; 2]);
    assert_eq!(both(Deg(0.0094).fine_uncertainty()), ["0.009\u{b0}"; 2]);
}

#[test]
fn a_change_shows_its_sign_and_zero_has_none() {
    assert_eq!(both(Mm(0.304).gap().signed()), ["+0.30 mm", "+0.012 in"]);
    assert_eq!(both(Mm(-2.54).gap().signed()), ["-2.54 mm", "-0.100 in"]);
    assert_eq!(both(Mm(-0.001).gap().signed()), ["0.00 mm", "0.000 in"]);
    assert_eq!(Mm(12.7).tape().signed().number(INCH), "+1/2");
    assert_eq!(Mm(-0.1).wall().number(INCH), "0");
}

#[test]
fn a_page_has_true_signs() {
    let page = Style::printed(Units::Inch);
    assert_eq!(Mm(-2025.0).tape().text(page), "\u{2212}79\u{a0}23/32\u{a0}in");
}

#[test]
fn pairs_share_their_unit() {
    let band = Band { low: Mm(1.0), high: Mm(4.0) };
    let limits = band.low.limit().to(band.high.limit());
    assert_eq!(
        (limits.text(MM), limits.text(INCH)),
        ("1 to 4 mm".into(), "0.039 to 0.157 in".into())
    );
    assert_eq!(Mm(2.41).gap().give_or_take(Mm(0.09).uncertainty()).text(MM), "2.41 \u{b1} 0.09 mm");
    assert_eq!(Mm(2025.0).wall().by(Mm(1265.4).wall()).text(MM), "2025 x 1265 mm");
    let unsure = Mm(2.41).gap().give_or_take(Mm(f64::INFINITY).uncertainty());
    assert_eq!(unsure.text(MM), "2.41 mm \u{b1} too large");
    let mixed = Mm(0.4).gap().to(Mm(12.7).wall());
    assert_eq!(mixed.text(INCH), "0.016 to 0.50 in");
}

#[test]
fn a_column_has_one_style_of_inch() {
    let lengths = [Some(Mm(0.4).tape()), Some(Mm(12.7).tape()), None, Some(Mm(2025.0).tape())];
    assert_eq!(column(lengths, INCH), ["1/64", "1/2", "-", "79 23/32"]);
    assert_eq!(column(lengths, MM), ["0.4", "12.7", "-", "2025.0"]);
    let mixed = [Some(Mm(0.4).gap()), Some(Mm(12.7).wall())];
    assert_eq!(column(mixed, INCH), ["0.016", "0.50"]);
    let widths = [
        Some(Mm(0.0041).uncertainty()),
        Some(Mm(0.3).uncertainty()),
        Some(Mm(f64::NAN).uncertainty()),
    ];
    assert_eq!(column(widths, MM), ["0.004", "0.300", "not known"]);
}

#[test]
fn what_is_no_number_has_no_unit() {
    for value in [f64::NAN, f64::INFINITY, -1e300, 5e9] {
        for style in [MM, INCH] {
            for figure in [
                Mm(value).gap(),
                Mm(value).wall(),
                Mm(value).tape().signed(),
                Deg(value).figure(),
                percent(value),
            ] {
                let text = figure.text(style);
                assert!(matches!(text.as_str(), "not known" | "too large"), "{text}");
                assert_eq!((figure.number(style), figure.cell(style)), (text.clone(), text));
            }
        }
    }
    assert_eq!(percent(1e8).text(MM), "too large");
}

/// Sixty-fourths of an inch in millimetres are exact decimals, 25.4 / 64 = 0.396875 (NIST Handbook
/// 44, appendix C: the inch is 25.4 mm exactly; from memory). Each must come out as its own
/// fraction in lowest terms.
#[test]
fn every_sixty_fourth_is_itself() {
    for count in 1_u32..=640 {
        let mm: f64 = format!("{}", f64::from(count) * 0.396_875).parse().unwrap();
        let (whole, rest) = (count / 64, count % 64);
        let divisor =
            (0..=6).rev().map(|power| 1 << power).find(|divisor| rest % divisor == 0).unwrap();
        let expected = match (whole, rest) {
            (whole, 0) => format!("{whole}"),
            (0, rest) => format!("{}/{}", rest / divisor, 64 / divisor),
            (whole, rest) => format!("{whole} {}/{}", rest / divisor, 64 / divisor),
        };
        assert_eq!(Mm(mm).tape().number(INCH), expected);
    }
}

#[test]
fn a_figure_is_kept_and_read_back() {
    for figure in [Mm(2.413).gap(), Turns(-0.25).in_words(), plain(1.2, 1), Mm(0.1).fine().signed()]
    {
        let text = serde_json::to_string(&figure).unwrap();
        assert_eq!(serde_json::from_str::<Figure>(&text).unwrap(), figure, "{text}");
    }
    let unknown = serde_json::to_string(&Mm(f64::NAN).gap()).unwrap();
    assert_eq!(serde_json::from_str::<Figure>(&unknown).unwrap().text(MM), "not known");
}

#[test]
fn a_plain_number_has_the_decimals_it_needs() {
    let said = [16.0, 0.0, 1.5, -0.25, 2.0 / 3.0, 1e6, f64::NAN].map(|value| short(value).text(MM));
    assert_eq!(said, ["16", "0", "1.5", "-0.25", "0.667", "1000000", "not known"]);
}
