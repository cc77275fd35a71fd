//! How long a table takes to read: readings and surveyed points, a million and ten thousand rows.
//!
//! `cargo bench -p skimgauge-tables`.

use skimgauge_tables::{Against, readings, survey};
use std::fmt::Write;
use std::hint::black_box;
use std::time::Instant;

fn row(name: &str, work: impl Fn()) {
    let shortest = (0..5)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min);
    println!("{name:<40} {:>9.2} ms", shortest * 1e3);
}

fn main() {
    for (name, rows) in [("10 000", 10_000), ("1 000 000", 1_000_000)] {
        let mut point = String::from("station,x_mm,y_mm,gap_mm,u_mm\n");
        let mut comma = String::from("station;x_mm;y_mm;gap_mm;u_mm\n");
        let mut heights = String::from("x_mm,y_mm,z_mm\n");
        for k in 0..rows {
            let (x, y) = (f64::from(k % 1000) * 2.0 - 1000.5, -f64::from(k / 1000));
            let gap = 5.0 + f64::from(k % 7) / 10.0;
            let _ = writeln!(point, "s{k},{x},{y},{gap:.3},0.05");
            let _ = writeln!(comma, "{}", format!("s{k};{x};{y};{gap:.2};0.05").replace('.', ","));
            let _ = writeln!(heights, "{x},{y},{gap:.3}");
        }
        let nothing = Against::default();
        row(&format!("{name} readings"), || drop(black_box(readings(point.as_bytes(), &nothing))));
        row(&format!("{name} readings, decimal comma"), || {
            drop(black_box(readings(comma.as_bytes(), &nothing)));
        });
        row(&format!("{name} surveyed points"), || {
            drop(black_box(survey(heights.as_bytes(), &nothing)));
        });
        assert!(
            readings(comma.as_bytes(), &nothing).is_ok()
                && survey(heights.as_bytes(), &nothing).is_ok()
        );
    }
}
