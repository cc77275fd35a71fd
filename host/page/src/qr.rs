//! An address as a code for a camera.

use qrcodegen::{QrCode, QrCodeEcc};

/// Light columns and rows around the code (ISO/IEC 18004, 9.1: four).
const QUIET: i32 = 4;

/// The code's rows, a character a module: `1` dark. `None` where the text is too long for one.
pub(crate) fn rows(text: &str) -> Option<Vec<String>> {
    let code = QrCode::encode_text(text, QrCodeEcc::Medium).ok()?;
    let row = |y| (0..code.size()).map(|x| if code.get_module(x, y) { '1' } else { '0' }).collect();
    Some((0..code.size()).map(row).collect())
}

/// The code for a terminal, two modules a character: to be printed black on white, whatever the
/// terminal's own colours. `None` where the text is too long for one.
pub fn in_terminal(text: &str) -> Option<Vec<String>> {
    let code = QrCode::encode_text(text, QrCodeEcc::Medium).ok()?;
    let dark = |x: i32, y: i32| code.get_module(x, y);
    let across = || -QUIET..code.size() + QUIET;
    Some(
        across()
            .step_by(2)
            .map(|y| {
                across()
                    .map(|x| match (dark(x, y), dark(x, y + 1)) {
                        (true, true) => '█',
                        (true, false) => '▀',
                        (false, true) => '▄',
                        (false, false) => ' ',
                    })
                    .collect()
            })
            .collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const ADDRESS: &str = "http://192.168.100.200:47110/phone#k=AAAAAAAAAAAAAAAAAAAAAA";

    /// Half blocks and the quiet zone included it has to stand in 80 by 24 with a line to spare.
    #[test]
    fn the_code_of_the_longest_address_stands_in_a_small_terminal() {
        let lines = in_terminal(ADDRESS).unwrap();
        let width = lines[0].chars().count();
        assert!(lines.len() <= 23 && width <= 80, "{} by {width}", lines.len());
        assert_eq!(lines.len(), width.div_ceil(2));
    }

    /// The rows and the terminal's half blocks are the same code.
    #[test]
    fn both_forms_are_the_same_code() {
        let rows = rows(ADDRESS).unwrap();
        let lines = in_terminal(ADDRESS).unwrap();
        for (y, row) in rows.iter().enumerate() {
            for (x, module) in row.chars().enumerate() {
                let line: Vec<char> = lines[(y + 4) / 2].chars().collect();
                let half = line[x + 4];
                let dark = half == '█' || half == if (y + 4) % 2 == 0 { '▀' } else { '▄' };
                assert_eq!(dark, module == '1', "{x} {y}");
            }
        }
    }

    #[test]
    fn what_is_too_long_has_no_code() {
        assert!(rows(&"x".repeat(5000)).is_none() && in_terminal(&"x".repeat(5000)).is_none());
    }
}
