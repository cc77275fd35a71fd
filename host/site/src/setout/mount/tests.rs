//! What a sheet gives for sizes that it lists, between them and beyond them; what is refused.

use super::*;
use proptest::prelude::*;

fn sheet(listed: &[(f64, f64, Option<f64>)]) -> MountSheet {
    let hole =
        |name: &str, x_mm: f64| Hole { name: name.to_owned(), x_mm, y_mm: 0.0, diameter_mm: 8.0 };
    MountSheet {
        source: "test sheet".to_owned(),
        aspect: Some(Aspect { wide: 16.0, high: 10.0 }),
        throw_ratio: None,
        plates: vec![Plate {
            name: "centre plate".to_owned(),
            role: PlateRole::Centre,
            width_mm: 200.0,
            height_mm: 100.0,
            holes: vec![hole("1", -80.0), hole("2", 80.0)],
        }],
        sizes: listed
            .iter()
            .map(|&(image_width_mm, y_mm, arm_mm)| ListedSize {
                image_width_mm,
                arm_mm,
                plates: vec![PlateOffset { plate: "centre plate".to_owned(), x_mm: 0.0, y_mm }],
            })
            .collect(),
    }
}

fn image(width_mm: f64) -> Image {
    Image::mm(width_mm, width_mm / 1.6)
}

#[test]
fn a_listed_size_is_given_as_listed() {
    let fit = sheet(&[(2000.0, 300.0, None), (1800.0, 270.0, None)]).at(image(1800.2)).unwrap();
    assert_eq!(fit.basis, Basis::Listed);
    assert_eq!(fit.plates[0].y_mm, 270.0);
    assert!(fit.image_change.is_none());
}

#[test]
fn between_sizes_it_says_so_and_how_far_they_bend() {
    // y = w^2 / 10 000: between 1800 and 2000 the straight line is off by (w-1800)(2000-w)/10
    // 000 = 1 mm at 1900.
    let parabola = |w: f64| (w, w * w / 1e4, None);
    let fit =
        sheet(&[parabola(1600.0), parabola(1800.0), parabola(2000.0)]).at(image(1900.0)).unwrap();
    let Basis::Between { bend_mm, .. } = fit.basis else { panic!("{:?}", fit.basis) };
    assert!((bend_mm.unwrap() - 1.0).abs() < 1e-9);
    assert!((fit.plates[0].y_mm - 362.0).abs() < 1e-9);
    assert!(fit.says.text(skimgauge_quantity::Style::default()).starts_with("NOT listed"));
}

#[test]
fn nothing_is_guessed_beyond_the_sheet() {
    let sheet = sheet(&[(1800.0, 270.0, None), (2000.0, 300.0, None)]);
    for width_mm in [1700.0, 2100.0] {
        assert!(sheet.at(image(width_mm)).unwrap_err().to_string().contains("nothing is guessed"));
    }
    assert!(matches!(
        sheet.at(Image::mm(1900.0, 1900.0 / 16.0 * 9.0)),
        Err(MountError::OtherAspect { .. })
    ));
}

#[test]
fn the_image_grows_with_the_arm() {
    let mut sheet = sheet(&[(1800.0, 270.0, Some(400.0)), (2000.0, 300.0, Some(450.0))]);
    let change = sheet.at(image(1900.0)).unwrap().image_change.unwrap();
    assert!(
        (change.width_mm_per_mm - 4.0).abs() < 1e-12
            && (change.height_mm_per_mm - 2.5).abs() < 1e-12
    );
    assert!((change.diagonal_mm_per_mm - 4.0 * 1.6_f64.hypot(1.0) / 1.6).abs() < 1e-12);
    sheet.throw_ratio = Some(0.35);
    assert!(
        (sheet.at(image(1900.0)).unwrap().image_change.unwrap().width_mm_per_mm - 1.0 / 0.35).abs()
            < 1e-12
    );
}

#[test]
fn gaps_in_the_sheet_are_named() {
    let mut missing = sheet(&[(1800.0, 270.0, None), (2000.0, 300.0, None)]);
    missing.sizes[1].plates.clear();
    assert!(
        missing
            .at(image(1900.0))
            .unwrap_err()
            .to_string()
            .contains("centre plate has to be placed once at the listed width 2000")
    );
    assert!(
        sheet(&[(1800.0, 1.0, None), (1800.4, 2.0, None)])
            .at(image(1800.0))
            .unwrap_err()
            .to_string()
            .contains("listed twice")
    );
    let mut crowded = sheet(&[(1800.0, 270.0, None)]);
    crowded.plates[0].holes[1].x_mm = -76.0;
    assert!(crowded.at(image(1800.0)).unwrap_err().to_string().contains("run into each other"));
}

proptest! {
    #[test]
    fn between_two_sizes_nothing_leaves_their_range(w in 1801.0..1999.0_f64, low in -500.0..500.0_f64, high in -500.0..500.0_f64) {
        let y_mm = sheet(&[(1800.0, low, None), (2000.0, high, None)]).at(image(w)).unwrap().plates[0].y_mm;
        prop_assert!((low.min(high) - 1e-9..=low.max(high) + 1e-9).contains(&y_mm));
    }
}
