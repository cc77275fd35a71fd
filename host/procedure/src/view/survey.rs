//! A survey with the head.

use serde::Serialize;

/// A survey with the head: its points are the stations of the view.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct SurveyView {
    /// Points taken.
    pub taken: usize,
    /// Points to take.
    pub of: usize,
}
