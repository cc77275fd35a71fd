//! Reads the check data: comma separated, comment lines begin with `#`, first other line is the
//! header.
#![allow(dead_code)]

pub(crate) struct Table {
    header: Vec<String>,
    rows: Vec<Vec<String>>,
    comments: Vec<String>,
}

impl Table {
    pub(crate) fn read(text: &str) -> Self {
        let split = |line: &str| line.split(',').map(|f| f.trim().to_owned()).collect::<Vec<_>>();
        let (comments, lines): (Vec<&str>, Vec<&str>) =
            text.lines().filter(|l| !l.trim().is_empty()).partition(|l| l.starts_with('#'));
        Self {
            header: split(lines[0]),
            rows: lines[1..].iter().map(|l| split(l)).collect(),
            comments: comments.iter().map(|&c| c.to_owned()).collect(),
        }
    }

    pub(crate) fn len(&self) -> usize {
        self.rows.len()
    }

    fn column(&self, name: &str) -> usize {
        self.header.iter().position(|h| h == name).unwrap_or_else(|| panic!("no column {name}"))
    }

    pub(crate) fn text(&self, name: &str, row: usize) -> &str {
        &self.rows[row][self.column(name)]
    }

    pub(crate) fn number(&self, name: &str, row: usize) -> f64 {
        self.text(name, row).parse().unwrap()
    }

    pub(crate) fn numbers(&self, name: &str) -> Vec<f64> {
        (0..self.len()).map(|r| self.number(name, r)).collect()
    }

    /// The number that follows `label` in the first comment that holds it.
    pub(crate) fn stated(&self, label: &str) -> f64 {
        let comment = self
            .comments
            .iter()
            .find(|c| c.contains(label))
            .unwrap_or_else(|| panic!("no {label}"));
        let after = &comment[comment.find(label).unwrap() + label.len()..];
        let end = after
            .find(|c: char| !(c.is_ascii_digit() || "+-.e".contains(c)))
            .unwrap_or(after.len());
        after[..end].trim_end_matches('.').parse().unwrap()
    }
}
