//! A gap on a line with its band: told by place and shape, with or without colour.

use crate::lengths::Lengths;
use skimgauge_quantity::{Band, Mm};

/// Three lines of text. The band stands between `┃` marks and is drawn heavy; the pointer is above
/// it, and beyond either end of the line it becomes an arrow that says which way the gap is off.
pub fn lines(band: Band<Mm>, gap_mm: Option<f64>, columns: usize, units: Lengths) -> [String; 3] {
    let columns = columns.max(21);
    // The band takes the middle half of the line.
    let low_at = columns / 4;
    let high_at = columns - 1 - columns / 4;
    let per_mm = (high_at - low_at) as f64 / band.width().0;
    let mut pointer = vec![' '; columns];
    if let Some(gap_mm) = gap_mm {
        let at = low_at as f64 + (gap_mm - band.low.0) * per_mm;
        if at < -0.5 {
            pointer[0] = '◀';
        } else if at > columns as f64 - 0.5 {
            pointer[columns - 1] = '▶';
        } else {
            pointer[(at.round().max(0.0) as usize).min(columns - 1)] = '▼';
        }
    }
    let middle = (low_at + high_at) / 2;
    let line = (0..columns).map(|at| match at {
        _ if at == low_at || at == high_at => '┃',
        _ if at == middle => '╋',
        _ if at > low_at && at < high_at => '━',
        _ => '┄',
    });
    let mut labels = vec![' '; columns];
    for (at, mm) in [(low_at, band.low), (high_at, band.high)] {
        let text = units.gap_number(mm.0);
        let from = at.saturating_sub(text.len() / 2);
        for (offset, character) in text.chars().enumerate() {
            if let Some(cell) = labels.get_mut(from + offset) {
                *cell = character;
            }
        }
    }
    [pointer.into_iter().collect(), line.collect(), labels.into_iter().collect()]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pointer(gap_mm: f64) -> String {
        lines(Band { low: Mm(1.0), high: Mm(4.0) }, Some(gap_mm), 41, Lengths::default())[0].clone()
    }

    #[test]
    fn the_pointer_says_where_the_gap_is() {
        assert_eq!(pointer(1.0).find('▼'), Some(10));
        assert_eq!(pointer(4.0).find('▼'), Some(30));
        assert_eq!(pointer(-3.0).find('◀'), Some(0));
        assert!(pointer(40.0).ends_with('▶'));
        assert_eq!(pointer(f64::NAN).trim(), "▼", "shown at an end, never a panic");
    }

    #[test]
    fn without_a_gap_there_is_no_pointer() {
        assert_eq!(
            lines(Band { low: Mm(1.0), high: Mm(4.0) }, None, 41, Lengths::default())[0].trim(),
            ""
        );
    }
}
