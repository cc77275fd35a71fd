//! One table as spreadsheets and people write it: every way gives the same rows, and what could be
//! two things is refused.

use proptest::prelude::*;
use skimgauge_model::Point;
use skimgauge_quantity::Mm;
use skimgauge_tables::{Against, Reading, Surveyed, readings, survey, write_survey};

/// The rows without their lines.
fn rows(bytes: &[u8]) -> Vec<(Option<String>, Point, Mm, Option<Mm>)> {
    let found = readings(bytes, &Against::default());
    let found = found.unwrap_or_else(|error| panic!("{error}\n{}", String::from_utf8_lossy(bytes)));
    found
        .rows
        .into_iter()
        .map(|Reading { station, at, gap, u, .. }| (station, at, gap, u))
        .collect()
}

fn refused(text: &str) -> String {
    readings(text.as_bytes(), &Against::default()).unwrap_err().to_string()
}

const PLAIN: &str =
    "station,x_mm,y_mm,gap_mm,u_mm\ntop left,-950.5,0,5.9,0.05\nbottom,0,-1265,5.5,\n";

#[test]
fn every_way_to_write_a_table_gives_the_same() {
    let wanted = rows(PLAIN.as_bytes());
    assert_eq!(wanted[0].1, Point { x: Mm(-950.5), y: Mm(0.0) });
    let utf_16 = |text: &str, bytes: fn(u16) -> [u8; 2]| {
        text.encode_utf16().flat_map(bytes).collect::<Vec<u8>>()
    };
    for text in [
        // Semicolons and decimal commas, CRLF, as spreadsheets in most of Europe save.
        "\u{feff}station;x_mm;y_mm;gap_mm;u_mm\r\ntop left;-950,5;0;5,9;0,05\r\nbottom;0;-1265;5,5;\r\n",
        // Semicolons with points; tabs with commas.
        "station;x_mm;y_mm;gap_mm;u_mm\ntop left;-950.5;0;5.9;0.05\nbottom;0;-1265;5.5;\n",
        "station\tx\ty\tgap\tu\ntop left\t-950,5\t0\t5,9\t0,05\nbottom\t0\t-1265\t5,5\t\n",
        // The line that tells a spreadsheet what parts the values.
        "sep=;\nstation;x;y;gap;u\ntop left;-950,5;0;5,9;0,05\nbottom;0;-1265;5,5;\n",
        // Commas between values and in them: then the values are quoted.
        "station,x,y,gap,u\n\"top left\",\"-950,5\",0,\"5,9\",\"0,05\"\n\"bottom\",\"0\",\"-1265\",\"5,5\",\"\"\n",
        // Empty cells and rows behind and below.
        "station;x;y;gap;u;;\ntop left;-950,5;0;5,9;0,05;;\n;;;;;;\nbottom;0;-1265;5,5;;;\n;;;;;;\n;;;;;;\n",
        // Typographic minus, plus, hard blanks, blanks round quotes.
        "station,x,y,gap,u\ntop left,\u{2212}950.5,0,+5.9,0.05\nbottom,\u{a0}0 , \u{2212}1265 ,5.5,\n",
        "station, x, y, gap, u\n \"top left\" , -950.5, 0, 5.9, 0.05\n\"bottom\",0,-1265,5.50,\n",
        // With powers of ten.
        "station;x;y;gap;u\ntop left;-9,505E+02;0;5,9;5,0E-02\nbottom;0;-1265;5,5;\n",
        // Old line ends.
        "station,x,y,gap,u\rtop left,-950.5,0,5.9,0.05\rbottom,0,-1265,5.5,\r",
        // Columns in another order, a comment between.
        "u,gap,y,x,station\n0.05,5.9,0,-950.5,top left\n# lunch\n,5.5,-1265,0,bottom",
    ] {
        assert_eq!(rows(text.as_bytes()), wanted, "{text}");
        let marked = format!("\u{feff}{text}");
        assert_eq!(rows(&utf_16(&marked, u16::to_le_bytes)), wanted, "{text}");
        assert_eq!(rows(&utf_16(&marked, u16::to_be_bytes)), wanted, "{text}");
    }
}

#[test]
fn one_sign_for_decimals_decides_for_the_whole_table() {
    // `1,265` alone may be either; another cell tells.
    let said = refused("x;y;gap\n0;-1,265;3\n");
    assert_eq!(
        said,
        "line 2: y_mm is \"-1,265\", which could be -1.265 or -1265; write decimals so that it shows (1.2650), and nothing between thousands"
    );
    assert_eq!(rows(b"x;y;gap\n0;-1,265;3,5\n")[0].1.y, Mm(-1.265));
    assert!(refused("x;y;gap\n0;-1.265;3\n").contains("could be"));
    assert!(
        refused("x;y;gap\n0;-1265;3.5\n0;-600;3,4\n")
            .starts_with("line 3: gap_mm is \"3,4\", but line 2 has \"3.5\"")
    );
    for grouped in ["-1.265,5", "-1,265.5", "-1 265", "-1\u{a0}265", "-1'265"] {
        let said = refused(&format!("x;y;gap\n0;{grouped};3\n"));
        assert!(said.starts_with("line 2: y_mm is") && said.contains("thousands"), "{said}");
    }
    // Values parted by commas, decimal commas without quotes: too many values, and why.
    let said = refused("x,y,gap\n0,-1265,3,5\n");
    assert_eq!(
        said,
        "line 2: 4 values where the header has 3; with a decimal comma, part the values with semicolons"
    );
}

#[test]
fn a_survey_says_what_is_wrong_with_its_line() {
    let said = |text: &str| survey(text.as_bytes(), &Against::default()).unwrap_err().to_string();
    assert!(said("").starts_with("line 1: the table is empty"));
    assert!(said("x_in,y_in,z_in\n1,2,3\n").ends_with("convert to millimetres first"));
    assert!(said("x_mm,y_mm\n1,2\n").contains("it must be \"x_mm,y_mm,z_mm\", in millimetres"));
    assert!(said("x_mm,y_mm,z_mm\n").contains("no points"));
    assert!(said("# wall\nx_mm,y_mm,z_mm\n\n1,2\n").starts_with("line 4: 2 values"));
    assert!(said("x_mm,y_mm,z_mm\n1,2,abc\n").starts_with("line 2: z_mm is \"abc\""));
    assert!(said("x_mm,y_mm,z_mm\n1,2,NaN\n").contains("not a finite number"));
    assert!(said("x_mm,y_mm,z_mm\n1,2,3e5\n").ends_with("another unit?"));
    assert!(
        said("x_mm,y_mm,z_mm\n1,2,3\n1,2,4\n")
            .starts_with("line 3: this place is surveyed in line 2")
    );
    assert!(
        said("x_mm,y_mm,z_mm\n0,2,3\n-0,2,4\n")
            .starts_with("line 3: this place is surveyed in line 2")
    );
}

#[test]
fn a_survey_is_on_the_board() {
    let image = skimgauge_model::Image { width: Mm(2000.0), height: Mm(1250.0) };
    let against = Against { image: Some(image), ..Against::default() };
    let said = survey(b"x,y,z\n0,600,1\n", &against).unwrap_err().to_string();
    assert!(said.ends_with("is y -600 meant?"), "{said}");
    // The board reaches beyond its image.
    assert_eq!(survey(b"x,y,z\n0,60,1\n", &against).unwrap().len(), 1);
}

proptest! {
    #[test]
    fn points_come_back(points in prop::collection::btree_map((-2000_i32..2000, -2000_i32..2000), -5.0..5.0_f64, 1..40)) {
        let points: Vec<Surveyed> = points.into_iter()
            .map(|((x, y), z)| Surveyed { at: Point { x: Mm(f64::from(x) / 4.0), y: Mm(f64::from(y) / 4.0) }, z: Mm(z), simulated: z > 50.0 })
            .collect();
        prop_assert_eq!(survey(write_survey(&points).as_bytes(), &Against::default()).unwrap(), points);
    }

    /// Whatever the values, a table with commas for decimals reads as the one with points, or is refused as ambiguous.
    #[test]
    fn comma_and_point_read_alike(
        values in prop::collection::vec((-1000.0..1000.0_f64, -1000.0..0.0_f64, 0.1..99.0_f64), 1..6), decimals in 0_usize..5
    ) {
        let table = |comma: bool| {
            let mut text = "x;y;gap\n".to_owned();
            for (x, y, gap) in &values {
                let row = format!("{x:.decimals$};{y:.decimals$};{gap:.decimals$}\n");
                text += &if comma { row.replace('.', ",") } else { row };
            }
            readings(text.as_bytes(), &Against::default()).map(|found| found.rows).map_err(|error| error.to_string().replace(',', "."))
        };
        match (table(true), table(false)) {
            (Ok(with_comma), Ok(with_point)) => prop_assert_eq!(with_comma, with_point),
            (Err(comma), Err(point)) => prop_assert!(decimals == 3 && comma.contains("could be") && point.contains("could be"), "{comma} {point}"),
            (one, other) => prop_assert!(false, "{one:?} {other:?}"),
        }
    }
}
