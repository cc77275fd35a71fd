//! Several plates, each with its share of what hangs on all of them: no kilogram is lost.

use crate::{input, plate, unit};
use skimgauge_quantity::Style;
use skimgauge_site::fixings::{
    FixedPlate, FixingsError, FixingsInput, Loads, Mass, SHARES_WITHIN, fixings,
};

/// A bracket of plates that carry one 40 kg unit by these shares.
fn shared(shares: &[Option<f64>]) -> FixingsInput {
    let plates = shares.iter().enumerate().map(|(index, share)| FixedPlate {
        name: format!("plate {index}"),
        share: *share,
        own: Loads::default(),
        ..plate()
    });
    FixingsInput {
        plates: plates.collect(),
        shared: Loads {
            masses: vec![Mass { mass_kg: 40.0, ..unit() }],
            handling: plate().own.handling,
        },
        ..input(plate())
    }
}

/// What hangs has to arrive: the weights on all plates, over the load factor, are those that were
/// entered.
fn carried_kg(input: &FixingsInput) -> f64 {
    let report = fixings(input).unwrap();
    report.plates.iter().map(|plate| -plate.cases[0].load.fy_n).sum::<f64>()
        / 9.80665
        / input.load_factor
}

#[test]
fn shares_that_lose_or_double_a_load_are_refused() {
    for (shares, sum) in [
        ([0.3, 0.3], "0.600"),
        ([0.7, 0.7], "1.400"),
        ([0.5, 0.494], "0.994"),
        ([1.0, 1.0], "2.000"),
    ] {
        let said = fixings(&shared(&shares.map(Some))).unwrap_err().to_string();
        assert!(
            said.contains(&format!("add up to {sum}"))
                && said.contains("add up to 1, to within 0.005"),
            "{said}"
        );
    }
    let lost = fixings(&shared(&[Some(0.3), Some(0.3)])).unwrap_err().to_string();
    assert!(lost.contains("40 % of what hangs on all of them would be on no plate"), "{lost}");
    assert_eq!(
        fixings(&shared(&[Some(1.0), None])).unwrap_err(),
        FixingsError::ShareUnsaid { plate: "plate 1".to_owned() }
    );
    let alone = fixings(&shared(&[Some(0.6)])).unwrap_err().to_string();
    assert!(alone.contains("add up to 0.600"), "{alone}");
}

#[test]
fn every_kilogram_arrives() {
    for shares in [
        &[None][..],
        &[Some(0.5), Some(0.5)],
        &[Some(0.333), Some(0.333), Some(0.333)],
        &[Some(1.0), Some(0.0)],
    ] {
        let mut input = shared(shares);
        if shares.len() == 2 && shares[1] == Some(0.0) {
            input.plates[1].own.masses = vec![Mass { mass_kg: 3.0, ..unit() }];
        }
        let hung = 40.0 + if input.plates.len() == 2 && shares[1] == Some(0.0) { 3.0 } else { 0.0 };
        // Three thirds with three digits lack a thousandth, which is made up.
        assert!((carried_kg(&input) - hung).abs() < 1e-9, "{shares:?}");
    }
    const { assert!(SHARES_WITHIN <= 0.005) };
}

/// A mass on one plate is that plate's whole; its share is of what hangs on all of them.
#[test]
fn a_plate_takes_its_own_masses_whole() {
    let mut input = shared(&[Some(0.5), Some(0.5)]);
    input.plates[0].own.masses = vec![Mass { name: "shelf".to_owned(), mass_kg: 10.0, ..unit() }];
    let report = fixings(&input).unwrap();
    let weight = |plate: usize| -report.plates[plate].cases[0].load.fy_n / 9.80665;
    assert!((weight(0) - 30.0).abs() < 1e-9 && (weight(1) - 20.0).abs() < 1e-9);
    assert!(
        report
            .counted_says
            .text(Style::default())
            .starts_with("Counted: unit 40 kg, shelf 10 kg on plate 0; 50 kg in all, times 1.")
    );
    assert!(report.counted_says.text(Style::default()).contains("not counted: mount"));
    let idle = FixingsInput { shared: Loads::default(), ..shared(&[None, None]) };
    assert_eq!(
        fixings(&idle).unwrap_err(),
        FixingsError::NothingHangs { plate: "plate 0".to_owned() }
    );
}
