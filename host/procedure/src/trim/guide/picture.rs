//! The gaps over the board as best known.

use super::{Guide, Stage};
use crate::takes::expanded;
use skimgauge_metrology::plane::board::ControlPoint;
use skimgauge_metrology::trim::learn::Tracker;
use skimgauge_metrology::verdict::decide;
use skimgauge_model::Station;
use skimgauge_model::Verdict;
use skimgauge_quantity::Mm;

/// In the picture a corner stands for a station so near to it, mm: a few of its characters.
const NEAR_MM: f64 = 120.0;

/// A gap somewhere on the board, for the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shown {
    /// The point.
    pub point: ControlPoint,
    /// The gap, mm.
    pub gap_mm: f64,
    /// Half width of its 95 % interval, mm.
    pub expanded_mm: f64,
    /// What may be said of it; `None` in place of a within where nobody looked.
    pub verdict: Option<Verdict>,
}

/// Whether the station stands for this place in the picture.
pub(crate) fn is_near(station: &Station, (x_mm, y_mm): (f64, f64)) -> bool {
    (station.at.x.0 - x_mm).hypot(station.at.y.0 - y_mm) <= NEAR_MM
}

impl Guide {
    /// The gaps at the control points as best known now: from the takes, or, while screws are
    /// turned, from all that was seen since. Where the takes contradict one another, the gaps
    /// read. Empty before there is a plane.
    pub(crate) fn picture(&self) -> Vec<Shown> {
        let turning = matches!(self.work.stage, Stage::Clip { .. } | Stage::Turn(_));
        match (&self.work.learner.tracker(), self.answer()) {
            (Some(tracker), _) if turning => self.expected(tracker),
            (_, Some(answer)) if answer.contradicts() => answer
                .verdict
                .places
                .iter()
                .map(|place| Shown {
                    point: self.board.point(place.x_mm, place.y_mm),
                    gap_mm: place.gap_mm,
                    expanded_mm: place.expanded_mm,
                    verdict: Some(place.verdict),
                })
                .collect(),
            (_, Some(answer)) => answer
                .verdict
                .points
                .iter()
                .map(|j| Shown {
                    point: j.point,
                    gap_mm: j.gap.gap_mm,
                    expanded_mm: j.expanded_mm,
                    verdict: self.drawn(&j.point, j.verdict),
                })
                .collect(),
            _ => Vec::new(),
        }
    }

    /// A verdict at a control point as the picture shows it: within only near a station, where
    /// somebody looks.
    fn drawn(&self, point: &ControlPoint, verdict: Verdict) -> Option<Verdict> {
        let near = |s: &Station| is_near(s, (point.x_mm, point.y_mm));
        let looked_at = self.board.is_surveyed() || self.of.stations.iter().any(near);
        Some(verdict).filter(|verdict| looked_at || *verdict != Verdict::Within)
    }

    /// What the gaps at the control points are expected to be while screws are turned.
    fn expected(&self, tracker: &Tracker) -> Vec<Shown> {
        tracker
            .spots(&self.points)
            .iter()
            .zip(&self.points)
            .map(|(spot, point)| {
                let expanded_mm = expanded(tracker.u_gap_mm(point), None);
                let verdict =
                    self.drawn(point, decide(Mm(spot.gap_mm), Mm(expanded_mm), self.of.band));
                Shown { point: *point, gap_mm: spot.gap_mm, expanded_mm, verdict }
            })
            .collect()
    }

    /// The gap anywhere on the image as best known now, mm; `None` before there is a plane, and
    /// where the takes contradict one another.
    pub(crate) fn gap_at(&self, x_mm: f64, y_mm: f64) -> Option<f64> {
        let turning = matches!(self.work.stage, Stage::Clip { .. } | Stage::Turn(_));
        match (&self.work.learner.tracker(), self.answer()) {
            (Some(tracker), _) if turning => Some(tracker.unseated(x_mm, y_mm).gap_mm),
            (_, Some(answer)) if answer.contradicts() => None,
            (_, Some(answer)) => Some(answer.fit.gap_at(&self.board.point(x_mm, y_mm)).gap_mm),
            _ => None,
        }
    }
}
