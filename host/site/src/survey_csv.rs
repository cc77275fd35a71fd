//! Surveyed points as a table of text: `x_mm,y_mm,z_mm`.
//!
//! Lines that begin with `#`, and empty lines, are passed over.

use thiserror::Error;

use crate::survey::Surveyed;

/// The header.
pub const HEADER: &str = "x_mm,y_mm,z_mm";

/// No board is larger, mm.
const LARGEST_MM: f64 = 20_000.0;
/// No board's shape is more, mm.
const LARGEST_HEIGHT_MM: f64 = 200.0;

/// What is wrong with the table, and where.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("line {line}: {problem}")]
pub struct SurveyCsvError {
    /// Line in the text, from one.
    pub line: usize,
    /// What is wrong there, and what to do.
    pub problem: String,
}

/// Reads the points.
///
/// # Errors
/// [`SurveyCsvError`] for another header, a line that is not three numbers, a number that cannot be, two heights at one
/// place, or no points at all.
pub fn read(text: &str) -> Result<Vec<Surveyed>, SurveyCsvError> {
    let wrong = |line: usize, problem: String| Err(SurveyCsvError { line, problem });
    let mut lines = text
        .trim_start_matches('\u{feff}')
        .lines()
        .enumerate()
        .map(|(index, line)| (index + 1, line.trim()))
        .filter(|(_, line)| !line.is_empty() && !line.starts_with('#'));
    let Some((line, header)) = lines.next() else {
        return wrong(1, format!("the table is empty; it begins with {HEADER}"));
    };
    let columns: Vec<&str> = header.split(',').map(str::trim).collect();
    if columns.join(",") != HEADER {
        let shown: String = header.chars().take(60).collect();
        return wrong(line, format!("the header is \"{shown}\"; it must be \"{HEADER}\", in millimetres"));
    }
    let mut points = Vec::new();
    let mut places = std::collections::HashMap::new();
    for (line, row) in lines {
        let fields: Vec<&str> = row.split(',').map(str::trim).collect();
        let [x, y, z] = fields[..] else {
            return wrong(line, format!("{} values where the header has three", fields.len()));
        };
        let mut numbers = [0.0; 3];
        let limits = [("x_mm", x, LARGEST_MM), ("y_mm", y, LARGEST_MM), ("z_mm", z, LARGEST_HEIGHT_MM)];
        for (number, (column, text, largest)) in numbers.iter_mut().zip(limits) {
            let shown: String = text.chars().take(40).collect();
            *number = match text.parse::<f64>() {
                Ok(value) if value.abs() <= largest => value,
                Ok(value) if value.is_finite() => {
                    return wrong(
                        line,
                        format!("{column} is {shown}, more than the {largest} mm that can be: another unit?"),
                    );
                }
                _ => return wrong(line, format!("{column} is \"{shown}\", which is not a number in plain digits")),
            };
        }
        let [x_mm, y_mm, z_mm] = numbers;
        if let Some(earlier) = places.insert((x_mm.to_bits(), y_mm.to_bits()), line) {
            return wrong(line, format!("this place is surveyed in line {earlier} already: leave one of them out"));
        }
        points.push(Surveyed { x_mm, y_mm, z_mm });
    }
    if points.is_empty() { wrong(line, "there are no points under the header".to_owned()) } else { Ok(points) }
}

/// Writes the points as [`read`] reads them.
pub fn write(points: &[Surveyed]) -> String {
    let mut text = format!("{HEADER}\n");
    for point in points {
        text.push_str(&format!("{},{},{}\n", point.x_mm, point.y_mm, point.z_mm));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn says(text: &str, expected: &str) {
        let said = read(text).unwrap_err().to_string();
        assert!(said.contains(expected), "{said}");
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line() {
        says("", "line 1: the table is empty");
        says("x_in,y_in,z_in\n1,2,3\n", "in millimetres");
        says("x_mm,y_mm,z_mm\n", "no points");
        says("# wall\nx_mm,y_mm,z_mm\n\n1,2\n", "line 4: 2 values");
        says("x_mm,y_mm,z_mm\n1,2,abc\n", "line 2: z_mm is \"abc\"");
        says("x_mm,y_mm,z_mm\n1,2,NaN\n", "not a number");
        says("x_mm,y_mm,z_mm\n1,2,3e5\n", "another unit?");
        says("x_mm,y_mm,z_mm\n1,2,3\n1,2,4\n", "line 3: this place is surveyed in line 2");
    }

    proptest! {
        #[test]
        fn points_come_back(points in prop::collection::btree_map((-2000_i32..2000, -2000_i32..2000), -5.0..5.0_f64, 1..40)) {
            let points: Vec<Surveyed> = points.into_iter()
                .map(|((x, y), z_mm)| Surveyed { x_mm: f64::from(x) / 4.0, y_mm: f64::from(y) / 4.0, z_mm })
                .collect();
            prop_assert_eq!(read(&write(&points)).unwrap(), points);
        }

        #[test]
        fn no_text_panics(text in "(x_mm,y_mm,z_mm\n)?[-0-9a-z,.\n#]{0,200}") {
            let _ = read(&text);
        }
    }
}
