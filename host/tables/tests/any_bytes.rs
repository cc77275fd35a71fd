//! Any bytes at all are read or refused: no panic, no number that is none, and words that steer no
//! screen.

use proptest::prelude::*;
use skimgauge_model::{Image, Point, Station};
use skimgauge_quantity::{Band, Mm, steers};
use skimgauge_tables::{Against, readings, survey};

fn check(bytes: &[u8]) -> Result<(), TestCaseError> {
    let stations =
        [Station { name: "top left".to_owned(), at: Point { x: Mm(-950.0), y: Mm(0.0) } }];
    let job = Against {
        image: Some(Image { width: Mm(2000.0), height: Mm(1250.0) }),
        stations: &stations,
        gaps: Some(Band { low: Mm(0.4), high: Mm(10.5) }),
        band: Some(Band { low: Mm(1.0), high: Mm(4.0) }),
    };
    let lines = 1 + bytes.iter().filter(|byte| matches!(byte, b'\n' | b'\r')).count();
    for against in [job, Against::default()] {
        match readings(bytes, &against) {
            Ok(found) => {
                prop_assert!(!found.rows.is_empty());
                for row in &found.rows {
                    prop_assert!(row.at.is_finite() && row.gap.is_finite() && row.line <= lines);
                    prop_assert!(row.u.is_none_or(|u| u.is_finite() && u > Mm::ZERO));
                    prop_assert!(
                        row.station
                            .as_ref()
                            .is_none_or(|name| !name.trim().is_empty() && !name.contains(steers))
                    );
                }
            }
            Err(error) => {
                prop_assert!((1..=lines).contains(&error.line), "{error}");
                prop_assert!(!error.to_string().contains(steers), "{error:?}");
                prop_assert!(error.to_string().len() < 700, "{error}");
            }
        }
        match survey(bytes, &against) {
            Ok(points) => {
                prop_assert!(
                    points.iter().all(|point| point.at.is_finite() && point.z.is_finite())
                );
            }
            Err(error) => prop_assert!(!error.to_string().contains(steers)),
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    #[test]
    fn bytes(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        check(&bytes)?;
    }

    #[test]
    fn text_under_a_header(
        header in prop::sample::select(vec!["station,x_mm,y_mm,gap_mm,u_mm", "x;y;gap", "u\tgap\tx\ty", "sep=;\nx;y;z", "x,y,z,"]),
        rows in "[-a0-9.,;\"\n e\t\u{2212}\u{a0}#'=]{0,120}"
    ) {
        check(format!("{header}\n{rows}").as_bytes())?;
    }

    /// A good table with some of its bytes changed, left out or doubled.
    #[test]
    fn a_good_table_damaged(changes in prop::collection::vec((0_usize..200, any::<u8>(), 0_u8..3), 0..6), wide in any::<bool>()) {
        let good = "\u{feff}station;x_mm;y_mm;gap_mm;u_mm\r\n\"top left\";-950,5;0;5,9;0,05\r\nK\u{fc}che;0;-1250;5,5;\r\n;1;-2;3;\r\n";
        let mut bytes = if wide { good.encode_utf16().flat_map(u16::to_le_bytes).collect() } else { good.as_bytes().to_vec() };
        for (at, byte, how) in changes {
            let at = at % bytes.len();
            match how {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                _ => { bytes.remove(at); }
            }
        }
        check(&bytes)?;
    }
}
