//! Least squares held against the linear regression sets of NIST's Statistical Reference Datasets,
//! and digits stated.

mod table;

use nalgebra::{DMatrix, DVector};
use skimgauge_metrology::linear::{Fit, solve};
use table::Table;

/// Digits of agreement, the log relative error that NIST itself uses.
fn digits(got: f64, certified: f64) -> f64 {
    if got == certified {
        return 15.0;
    }
    let error = if certified == 0.0 { got.abs() } else { (got / certified - 1.0).abs() };
    (-error.log10()).min(15.0)
}

fn fitted(design: &DMatrix<f64>, values: Vec<f64>) -> Fit {
    let n = values.len();
    solve(design, &DVector::from_vec(values), &vec![1.0; n]).unwrap()
}

fn certified(dataset: &str) -> Vec<(f64, f64)> {
    let table = Table::read(include_str!("data/strd_certified.csv"));
    (0..table.len())
        .filter(|&r| {
            table.text("dataset", r) == dataset && table.text("parameter", r).starts_with('B')
        })
        .map(|r| (table.number("certified_estimate", r), table.number("certified_std_dev", r)))
        .collect()
}

fn least_digits(dataset: &str, fit: &Fit) -> (f64, f64) {
    let birge = fit.birge_ratio().unwrap();
    let all = certified(dataset);
    assert_eq!(all.len(), fit.estimate.len());
    let of_estimate = all.iter().zip(fit.estimate.iter()).map(|(c, &b)| digits(b, c.0));
    let of_sd =
        all.iter().enumerate().map(|(i, c)| digits(birge * fit.covariance[(i, i)].sqrt(), c.1));
    let (estimate, sd) = (of_estimate.fold(15.0, f64::min), of_sd.fold(15.0, f64::min));
    println!("{dataset}: estimates {estimate:.1} digits, standard deviations {sd:.1} digits");
    (estimate, sd)
}

/// Norris: at least 9 digits. The unit-weight covariances are printed in gsl 2.7.1 fit/test.c.
#[test]
fn norris() {
    let table = Table::read(include_str!("data/strd_norris.csv"));
    let x = table.numbers("x");
    let design = DMatrix::from_fn(x.len(), 2, |r, c| if c == 0 { 1.0 } else { x[r] });
    let fit = fitted(&design, table.numbers("y"));
    let (estimate, sd) = least_digits("Norris", &fit);
    assert!(estimate >= 9.0 && sd >= 9.0);
    assert!(digits(fit.birge_ratio().unwrap(), 0.884796396144373) >= 9.0);
    for (got, printed) in [
        (fit.covariance[(0, 0)], 6.92384428759429e-2),
        (fit.covariance[(0, 1)], -9.89095016390515e-5),
        (fit.covariance[(1, 1)], 2.35960747164148e-7),
    ] {
        assert!(digits(got, printed) >= 9.0);
    }
}

/// NoInt1: at least 9 digits.
#[test]
fn noint1() {
    let table = Table::read(include_str!("data/strd_noint1.csv"));
    let x = table.numbers("x");
    let fit = fitted(&DMatrix::from_fn(x.len(), 1, |r, _| x[r]), table.numbers("y"));
    let (estimate, sd) = least_digits("NoInt1", &fit);
    assert!(estimate >= 9.0 && sd >= 9.0);
    assert!(digits(fit.birge_ratio().unwrap(), 3.56753034006338) >= 9.0);
}

/// Longley: at least 8 digits.
#[test]
fn longley() {
    let table = Table::read(include_str!("data/strd_longley.csv"));
    let columns: Vec<Vec<f64>> = (1..=6).map(|i| table.numbers(&format!("x{i}"))).collect();
    let design =
        DMatrix::from_fn(table.len(), 7, |r, c| if c == 0 { 1.0 } else { columns[c - 1][r] });
    let fit = fitted(&design, table.numbers("y"));
    let (estimate, sd) = least_digits("Longley", &fit);
    assert!(estimate >= 8.0 && sd >= 8.0);
    assert!(digits(fit.birge_ratio().unwrap(), 304.854073561965) >= 8.0);
}

/// Wampler1: at least 8 digits of every coefficient; the residual standard deviation is zero.
#[test]
fn wampler1() {
    let table = Table::read(include_str!("data/strd_wampler1.csv"));
    let x = table.numbers("x");
    let design = DMatrix::from_fn(x.len(), 6, |r, c| x[r].powi(c as i32));
    let fit = fitted(&design, table.numbers("y"));
    let worst = fit.estimate.iter().map(|&b| digits(b, 1.0)).fold(15.0, f64::min);
    println!("Wampler1: estimates {worst:.1} digits");
    assert!(worst >= 8.0);
    assert!(fit.birge_ratio().unwrap() < 1e-8);
}

/// NBS Handbook 91, 5-4.1 (printed values as in suncal 1.7's test suite): Young's modulus against
/// temperature.
#[test]
fn handbook_91_line() {
    let x: Vec<f64> = std::iter::once(30.0).chain((1..16).map(|i| 100.0 * f64::from(i))).collect();
    let y = [
        4642., 4612., 4565., 4513., 4476., 4433., 4389., 4347., 4303., 4251., 4201., 4140., 4100.,
        4073., 4024., 3999.,
    ];
    let fit = fitted(&DMatrix::from_fn(16, 2, |r, c| if c == 0 { 1.0 } else { x[r] }), y.to_vec());
    let s = fit.birge_ratio().unwrap();
    assert!((fit.estimate[1] - -0.44985482).abs() < 5e-9);
    assert!((fit.estimate[0] - 4654.9846).abs() < 5e-5);
    assert!((s - 9.277617).abs() < 1e-6);
    assert!(digits(s * s * fit.covariance[(1, 1)], 2.5649045e-5) > 7.0);
    assert!(digits(s * s * fit.covariance[(0, 0)], 19.879452) > 7.0);
}

/// GUM H.3 (data of table H.6): intercept -0.1712, its u 0.0029; slope 0.00218, its u 0.00067;
/// correlation -0.930; s 0.0035; b(30 degrees C) -0.1494 with u 0.0041.
#[test]
fn gum_h3_calibration_line() {
    let table = Table::read(include_str!("data/gum_h3.csv"));
    let t = table.numbers("t_degC");
    let fit = fitted(
        &DMatrix::from_fn(t.len(), 2, |r, c| if c == 0 { 1.0 } else { t[r] - 20.0 }),
        table.numbers("b_degC"),
    );
    let s = fit.birge_ratio().unwrap();
    let c = &fit.covariance;
    assert!((fit.estimate[0] - -0.17120379013135).abs() < 1e-12);
    assert!((fit.estimate[1] - 0.00218269773989).abs() < 1e-12);
    assert!((s * c[(1, 1)].sqrt() - 0.000667938772823).abs() < 1e-12);
    assert!((s * c[(0, 0)].sqrt() - 0.0029).abs() < 5e-5);
    assert!((c[(0, 1)] / (c[(0, 0)] * c[(1, 1)]).sqrt() - -0.930).abs() < 5e-4);
    assert!((s - 0.0035).abs() < 5e-5);
    let at_30 = DVector::from_vec(vec![1.0, 10.0]);
    assert!((fit.estimate.dot(&at_30) - -0.1494).abs() < 5e-5);
    assert!((s * (at_30.transpose() * c * &at_30)[0].sqrt() - 0.0041).abs() < 5e-5);
}

/// A weighted plane through three points, worked out in closed form: exact fit, nothing left to
/// judge it by.
#[test]
fn weighted_plane_of_three_points() {
    let table = Table::read(include_str!("data/wls_w3_min.csv"));
    let (x, y) = (table.numbers("x"), table.numbers("y"));
    let design = DMatrix::from_fn(3, 3, |r, c| [1.0, x[r], y[r]][c]);
    let fit = solve(&design, &DVector::from_vec(table.numbers("z")), &table.numbers("u")).unwrap();
    for (got, want) in fit.estimate.iter().zip([1.0, 0.001, 0.002]) {
        assert!(digits(*got, want) > 12.0);
    }
    for (i, want) in [0.1, 0.0001414213562373095, 0.000223606797749979].into_iter().enumerate() {
        assert!(digits(fit.covariance[(i, i)].sqrt(), want) > 12.0);
    }
    assert!(digits(fit.covariance[(1, 2)], 1.0e-8) > 9.0);
    let corner = DVector::from_vec(vec![1.0, 1000.0, 1000.0]);
    let u = (corner.transpose() * &fit.covariance * &corner)[0].sqrt();
    assert!(digits(u, 0.2449489742783178) > 12.0);
    assert_eq!((fit.dof, fit.birge_ratio()), (0, None));
    assert!(fit.chi_square < 1e-18);
}
