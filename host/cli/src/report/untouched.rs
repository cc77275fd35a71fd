//! What of a job file is still as `jobs new` writes it.

use skimgauge_jobfile::untouched;

/// The sections whose measures are still the sample's, with their lines; `None` where there is none.
pub fn sections(text: &str) -> Option<String> {
    let named: Vec<String> = untouched(text)
        .into_iter()
        .map(|(name, lines)| {
            let numbers: Vec<String> = lines.iter().map(usize::to_string).collect();
            let lines = if lines.len() == 1 { "line" } else { "lines" };
            format!("[{name}] ({lines} {})", numbers.join(", "))
        })
        .collect();
    (!named.is_empty()).then(|| named.join(", "))
}
