//! A gap on a line with its band: told by place and shape, with or without colour.

use skimgauge_quantity::{Band, Mm, Style};

/// Two lines. The band stands between `┃` marks, its ends written beside them, and is drawn heavy;
/// the pointer is above it, and beyond either end of the line it becomes an arrow that says which
/// way the gap is off.
pub(super) fn lines(band: Band<Mm>, gap: Option<Mm>, columns: usize, style: Style) -> [String; 2] {
    let columns = columns.max(31);
    // The band takes the middle half of the line.
    let (low_at, high_at) = (columns / 4, columns - 1 - columns / 4);
    let mut pointer = vec![' '; columns];
    if let Some(gap) = gap {
        let share = (gap - band.low) / band.width();
        let at = low_at as f64 + share * (high_at - low_at) as f64;
        let last = columns - 1;
        let (at, mark) = match at {
            at if at < -0.5 => (0, '◀'),
            at if at > last as f64 + 0.5 => (last, '▶'),
            // What is no number is shown at an end.
            at => ((at.round().max(0.0) as usize).min(last), '▼'),
        };
        pointer[at] = mark;
    }
    let middle = (low_at + high_at) / 2;
    let mut line: Vec<char> = (0..columns)
        .map(|at| match at {
            _ if at == low_at || at == high_at => '┃',
            _ if at == middle => '╋',
            _ if at > low_at && at < high_at => '━',
            _ => '┄',
        })
        .collect();
    let [low, high] = [band.low, band.high].map(|end| format!(" {} ", end.limit().number(style)));
    let from = low_at.saturating_sub(low.chars().count());
    for (at, letter) in low
        .chars()
        .enumerate()
        .map(|(at, letter)| (from + at, letter))
        .chain(high.chars().enumerate().map(|(at, letter)| (high_at + 1 + at, letter)))
    {
        if let Some(cell) = line.get_mut(at) {
            *cell = letter;
        }
    }
    [pointer.into_iter().collect(), line.into_iter().collect()]
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_quantity::Units;

    const BAND: Band<Mm> = Band { low: Mm(1.0), high: Mm(4.0) };

    fn pointer(gap_mm: f64) -> String {
        lines(BAND, Some(Mm(gap_mm)), 41, Style::default())[0].clone()
    }

    #[test]
    fn the_pointer_says_where_the_gap_is() {
        assert_eq!(pointer(1.0).find('▼'), Some(10));
        assert_eq!(pointer(4.0).find('▼'), Some(30));
        assert_eq!(pointer(-3.0).find('◀'), Some(0));
        assert!(pointer(40.0).ends_with('▶'));
        assert_eq!(pointer(f64::NAN).trim(), "▼", "shown at an end, never a panic");
        assert_eq!(lines(BAND, None, 41, Style::default())[0].trim(), "");
    }

    #[test]
    fn the_bands_ends_are_written_beside_it() {
        let [_, line] = lines(BAND, None, 41, Style::default());
        assert!(line.contains(" 1 ┃━") && line.contains("━┃ 4 "), "{line}");
        let [_, line] = lines(BAND, None, 41, Style::typed(Units::Inch));
        assert!(line.contains(" 0.039 ┃━") && line.contains("━┃ 0.157 "), "{line}");
    }
}
