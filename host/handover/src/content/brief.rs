//! What of a job's own words stands on the client's two pages. Whatever does not fit stands in the
//! appendix, and the page says so; nothing is cut.

/// How much there is room for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Brief {
    /// Open points.
    points: usize,
    /// Letters of a text that somebody wrote.
    letters: usize,
    /// Persons with their days, in the list of steps.
    persons: usize,
    /// The story in sentences.
    pub story: bool,
}

/// From all to the least: of a layout on paper the first that fits is taken. Who closed each step
/// goes last.
pub(crate) const BRIEFS: [Brief; 8] = {
    const fn brief(points: usize, letters: usize, persons: usize, story: bool) -> Brief {
        Brief { points, letters, persons, story }
    }
    const EACH: usize = 17;
    [
        brief(usize::MAX, usize::MAX, usize::MAX, true),
        brief(8, 160, EACH, true),
        brief(5, 110, EACH, true),
        brief(4, 80, EACH, false),
        brief(2, 48, EACH, false),
        brief(0, 48, EACH, false),
        brief(2, 48, 6, false),
        brief(0, 0, 0, false),
    ]
};

impl Brief {
    /// Everything: where there are no sheets.
    pub(crate) const ALL: Self = BRIEFS[0];

    /// A text as it is, or where it stands.
    pub(super) fn text(self, text: String) -> String {
        if text.chars().count() <= self.letters { text } else { "see appendix".to_owned() }
    }

    /// A line of facts under the title: as it is, or nothing; the appendix has it.
    pub(super) fn line(self, text: String) -> Option<String> {
        (text.chars().count() <= self.letters).then_some(text)
    }

    /// Points that there is room for, and how many stand in the appendix alone.
    pub(super) fn points(self, points: Vec<String>) -> (Vec<String>, usize) {
        let count = points.len();
        let short = points.into_iter().filter(|point| point.chars().count() <= self.letters);
        let kept: Vec<String> = short.take(self.points).collect();
        let left = count - kept.len();
        (kept, left)
    }

    /// Whether so many persons with their days fit.
    pub(super) fn fits_persons(self, count: usize) -> bool {
        count <= self.persons
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_does_not_fit_is_counted_and_never_cut() {
        let points: Vec<String> = (1..=9).map(|n| "x".repeat(20 * n)).collect();
        for brief in BRIEFS {
            let (kept, left) = brief.points(points.clone());
            assert_eq!(kept.len() + left, 9, "{brief:?}");
            assert!(kept.iter().all(|point| points.contains(point)));
            let long = "y".repeat(200);
            let text = brief.text(long.clone());
            assert!(text == long || text == "see appendix", "{text}");
        }
        assert_eq!(BRIEFS[0].points(points).1, 0);
    }
}
