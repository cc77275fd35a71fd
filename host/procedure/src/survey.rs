//! A survey with the head: the touch plane is the straightedge, and the board's height is what the
//! gap lacks.

use crate::takes::{Begin, Takes, unsurveyed};
use crate::view::survey::SurveyView;
use crate::view::{Part, View};
use crate::{Input, Output, Procedure};
use skimgauge_metrology::flatness::form::{self, Form};
use skimgauge_metrology::plane::board::Board;
use skimgauge_model::{Image, Point, Station};
use skimgauge_quantity::Mm;
use skimgauge_site::survey::{
    HEIGHT_U_MM, INSET_MM, Known, Proposed, Surveyed, next_points, to_begin,
};
use std::time::Duration;

/// Takes at points of the board, each once.
///
/// A height is the gap with its sign turned: the touch plane is flat, and its own height and tilt
/// go out with the plane that flatness takes off. Nothing here is a take of the job: what is kept
/// is for a shell that keeps nothing.
pub struct Survey {
    takes: Takes,
}

impl Survey {
    /// At these points, over the board of this job; it ends by itself once each has its take.
    pub fn new(begin: Begin, at: &[Proposed]) -> Self {
        let mut job = begin.job;
        job.bands.level = None;
        job.bands.lean = None;
        job.stations.clear();
        for point in at {
            let called = called(point);
            let twice = job.stations.iter().any(|station| station.name == called);
            let name = if twice { format!("{called}, point {}", point.order) } else { called };
            let at = Point { x: Mm(point.x_mm), y: Mm(point.y_mm) };
            job.stations.push(Station { name, at });
        }
        let board = unsurveyed(&job);
        Self { takes: Takes::new(Begin { job, board, until_taken: true, ..begin }) }
    }

    /// Whether a simulated head was heard.
    pub fn is_simulated(&self) -> bool {
        self.takes.is_simulated
    }

    /// The heights taken; points without a take are left out.
    pub fn heights(&self) -> Vec<Surveyed> {
        let taken = self.takes.stations().rows();
        taken
            .filter_map(|(station, kept)| {
                Some(Surveyed {
                    x_mm: station.at.x.0,
                    y_mm: station.at.y.0,
                    z_mm: -kept?.take.gap_mm,
                })
            })
            .collect()
    }
}

/// Surveyed places `[x, y, height]`, mm, with what bow and twist leave of each.
pub fn known(places: &[[f64; 3]], form: &Form) -> Vec<Known> {
    let with_residuals = places.iter().zip(&form.residuals_mm);
    with_residuals
        .map(|(&[x_mm, y_mm, _], &residual_mm)| Known { x_mm, y_mm, residual_mm })
        .collect()
}

/// The points at which `skimgauge survey --next` has the head clipped on, where it is asked for at
/// least so many over this board: the first survey's, or further ones. `None` where it proposes none.
pub fn points(board: &Board, image: Image, count: usize) -> Option<Vec<Proposed>> {
    let places = board.surveyed_places();
    let proposed = if places.is_empty() {
        to_begin(image, INSET_MM, count).ok()?
    } else {
        let form = form::form(places, image.width.0, image.height.0, HEIGHT_U_MM).ok()?;
        next_points(image, INSET_MM, &known(places, &form), count).ok()?
    };
    (!proposed.is_empty()).then_some(proposed)
}

/// Where a point is, as one says it in front of the board, mm; short, for it stands in a column.
fn called(point: &Proposed) -> String {
    let across = match point.x_mm.round() {
        0.0 => "middle".to_owned(),
        x if x < 0.0 => format!("{} left", -x),
        x => format!("{x} right"),
    };
    format!("{across}, {} down", (-point.y_mm).round() + 0.0)
}

impl Procedure for Survey {
    fn on(&mut self, now: Duration, input: Input) -> Vec<Output> {
        self.takes.on(now, input)
    }

    fn view(&self, now: Duration) -> View {
        let view = self.takes.view(now);
        let (taken, of) = (self.takes.stations().taken(), view.stations.len());
        // Heights are judged once there are enough of them, and not by the gap's band.
        View { part: Part::Survey(SurveyView { taken, of }), whole: None, ..view }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::{SEATED, Trial, begin};
    use crate::word::Word;

    #[test]
    fn a_point_is_told_by_where_it_is() {
        let point = |x_mm, y_mm| Proposed { order: 1, x_mm, y_mm, why: "".into() };
        assert_eq!(called(&point(-972.4, -40.0)), "972 left, 40 down");
        assert_eq!(called(&point(0.2, 0.0)), "middle, 0 down");
        assert_eq!(called(&point(972.0, -632.8)), "972 right, 633 down");
    }

    #[test]
    fn each_point_is_taken_once_and_then_it_is_over() {
        let point = |order, x_mm| Proposed { order, x_mm, y_mm: -300.0, why: "".into() };
        let mut trial = Trial::at(Survey::new(begin(), &[point(1, -500.0), point(2, 500.0)]));
        trial.read(SEATED, 3_000);
        assert_eq!(trial.say(Word::Take).len(), 1, "{}", trial.heard());
        assert_eq!(trial.view().part, Part::Survey(SurveyView { taken: 1, of: 2 }));
        assert!(!trial.is_over());
        trial.carry();
        assert_eq!(trial.say(Word::Take).len(), 1, "{}", trial.heard());
        assert!(trial.is_over());
        let heights = trial.takes.heights();
        assert_eq!([heights[0].x_mm, heights[1].x_mm], [-500.0, 500.0]);
        assert!(heights.iter().all(|height| (height.z_mm + 2.5).abs() < 0.3), "{heights:?}");
    }
}
