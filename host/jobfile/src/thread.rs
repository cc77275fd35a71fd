//! Pitches by thread name.

use skimgauge_quantity::Mm;

/// Coarse pitches, for one turn, of the metric threads that adjusters are likely to have. ISO 261,
/// as given alike by <https://mlc.org.uk/guides/metric-thread-pitch-chart>, industrialcalc.com/metric-thread-chart and the data of the
/// Python package bd_warehouse 0.4.0.
pub const COARSE: &[(&str, Mm)] = &[
    ("M2.5", Mm(0.45)),
    ("M3", Mm(0.5)),
    ("M4", Mm(0.7)),
    ("M5", Mm(0.8)),
    ("M6", Mm(1.0)),
    ("M8", Mm(1.25)),
    ("M10", Mm(1.5)),
    ("M12", Mm(1.75)),
];

/// The coarse pitch of a metric thread; `None` if the thread is not in [`COARSE`].
///
/// ```
/// assert_eq!(skimgauge_jobfile::thread::coarse_pitch("M4"), Some(skimgauge_quantity::Mm(0.7)));
/// assert_eq!(skimgauge_jobfile::thread::coarse_pitch("M4x0.5"), None);
/// ```
pub fn coarse_pitch(thread: &str) -> Option<Mm> {
    let wanted = thread.trim();
    COARSE.iter().find(|(name, _)| name.eq_ignore_ascii_case(wanted)).map(|&(_, pitch)| pitch)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Advance per degree of turn, um, to the digits of the table they were checked against
    /// (computed from ISO 261).
    #[test]
    fn advance_per_degree_agrees_with_the_table() {
        let table = [
            ("M2.5", 1.25),
            ("M3", 1.3889),
            ("M4", 1.9444),
            ("M5", 2.2222),
            ("M6", 2.7778),
            ("M8", 3.4722),
            ("M10", 4.1667),
            ("M12", 4.8611),
        ];
        assert_eq!(table.len(), COARSE.len());
        for (thread, um_per_deg) in table {
            let Mm(pitch_mm) = coarse_pitch(thread).unwrap();
            assert!((pitch_mm * 1000.0 / 360.0 - um_per_deg).abs() < 5.1e-5, "{thread}");
        }
    }

    #[test]
    fn names_are_forgiving_but_not_guessed() {
        assert_eq!(coarse_pitch(" m4 "), Some(Mm(0.7)));
        assert_eq!(coarse_pitch("M7"), None);
        assert_eq!(coarse_pitch("M"), None);
    }
}
