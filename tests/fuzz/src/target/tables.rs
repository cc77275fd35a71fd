//! Tables: read or refused at a line that there is; and what is read is what the CSV library makes
//! of the row's own line, the same in UTF-8 and both UTF-16s (decoded here as browsers do), and with
//! any line ends. Surveyed points that are written are read back the same.

use crate::Target;
use skimgauge_quantity::{Mm, steers};
use skimgauge_tables::{
    Against, LARGEST_BYTES, Reading, TableError, readings, rounds, survey, write_survey,
};

/// Tables.
pub const TARGET: Target = Target {
    name: "tables",
    check,
    each_run: 15_000,
    words: &[
        "station,x_mm,y_mm,gap_mm,u_mm\n",
        "x;y;gap\n",
        "x\ty\tz\n",
        "sep=;\n",
        "\"",
        "\"\"",
        ",",
        ";",
        "\t",
        "\r",
        "\n",
        "\r\n",
        "-",
        "\u{2212}",
        "1,5",
        "1.5",
        "1e9",
        "nan",
        "\u{feff}",
        "#",
        "#REF!",
        "'",
        "\u{a0}",
        "1 000",
        "round,station,x_mm,y_mm,gap_mm,adjuster,turns\n",
    ],
};

fn check(input: &[u8]) {
    let nothing = Against::default();
    let lines = 2 + input.iter().filter(|byte| matches!(byte, b'\n' | b'\r')).count();
    match readings(input, &nothing) {
        Err(error) => refused(&error, lines),
        Ok(found) => {
            assert!(!found.rows.is_empty() && found.rows.len() <= lines);
            let text = decoded(input);
            found.rows.iter().for_each(|row| as_the_library_splits_it(row, &text));
            for bytes in other_forms(&text) {
                assert_eq!(readings(&bytes, &nothing).as_ref(), Ok(&found), "{bytes:?}");
            }
        }
    }
    match survey(input, &nothing) {
        Err(error) => refused(&error, lines),
        Ok(points) => {
            let again = survey(write_survey(&points).as_bytes(), &nothing);
            assert_eq!(again.as_ref(), Ok(&points), "what is written is read back");
        }
    }
    match rounds(input, &["left", "right", "upper"], &nothing) {
        Err(error) => refused(&error, lines),
        Ok(rounds) => {
            assert!(rounds.is_sorted_by_key(|round| round.number));
            assert!(rounds.iter().flat_map(|round| &round.turns).all(|turn| turn.adjuster < 3));
        }
    }
}

fn refused(error: &TableError, lines: usize) {
    assert!((1..=lines).contains(&error.line), "{error}");
    let said = error.to_string();
    assert!(!said.contains(steers) && said.len() < 700, "{said:?}");
}

/// As browsers decode it (WHATWG Encoding Standard); UTF-16 without a mark is told by its zeros.
fn decoded(input: &[u8]) -> String {
    assert!(input.len() <= LARGEST_BYTES);
    let zeros =
        |from: usize| input.iter().skip(from).step_by(2).take(32).filter(|b| **b == 0).count();
    let marked = encoding_rs::Encoding::for_bom(input);
    let encoding = match marked {
        Some((encoding, _)) => encoding,
        None if zeros(1) > zeros(0) => encoding_rs::UTF_16LE,
        None if zeros(0) > zeros(1) => encoding_rs::UTF_16BE,
        None => encoding_rs::UTF_8,
    };
    let (text, _, broken) = encoding.decode(input);
    assert!(!broken, "what is accepted is text");
    text.replace("\r\n", "\n").replace('\r', "\n")
}

fn other_forms(text: &str) -> [Vec<u8>; 5] {
    let marked = format!("\u{feff}{}", text.trim_start_matches('\u{feff}'));
    [
        text.as_bytes().to_vec(),
        marked.as_bytes().to_vec(),
        text.replace('\n', "\r\n").into_bytes(),
        marked.encode_utf16().flat_map(u16::to_le_bytes).collect(),
        marked.encode_utf16().flat_map(u16::to_be_bytes).collect(),
    ]
}

/// One of the three separators makes cells of the row's line that hold its place and its gap.
fn as_the_library_splits_it(row: &Reading, text: &str) {
    let line = text.split('\n').nth(row.line - 1).expect("a line of the text");
    // The library knows no blanks before a quote.
    if line.contains('"') {
        return;
    }
    let wanted = [row.at.x, row.at.y, row.gap];
    let holds = |separator: u8| {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(separator)
            .trim(csv::Trim::All)
            .from_reader(line.as_bytes());
        let cells = reader.records().next().and_then(Result::ok).unwrap_or_default();
        let numbers: Vec<Mm> = cells.iter().filter_map(number).map(Mm).collect();
        wanted.iter().all(|wanted| numbers.contains(wanted))
    };
    assert!([b',', b';', b'\t'].into_iter().any(holds), "{row:?} of {line:?}");
}

/// With a point or a comma for decimals, and a typographic minus.
fn number(cell: &str) -> Option<f64> {
    cell.trim().replace(',', ".").replace(['\u{2212}', '\u{2012}', '\u{2013}'], "-").parse().ok()
}
