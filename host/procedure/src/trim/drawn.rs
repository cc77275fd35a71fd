//! The picture of a trim: the gaps over the board, and those that are written into it.

use super::Trim;
use super::guide;
use crate::adopt;
use crate::view::TakenView;
use crate::view::board::{Field, Spot};
use skimgauge_model::{Point, Station};
use skimgauge_quantity::Mm;

/// Gaps of the picture across and down.
const GRID: (usize, usize) = (41, 21);
/// So many spots are written in: corners, edges and middle.
const SPOTS: usize = 9;
/// What a picture was made from: where one of these is another, so is the picture.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct MadeFrom {
    gaps: [Option<f64>; 4],
    taken: usize,
    round: u32,
    turning: bool,
    contradicts: bool,
}

impl Trim {
    /// Draws the picture anew where what it shows has changed.
    pub(super) fn draws(&mut self) {
        let image = self.guide.image();
        let (half, down) = (image.width.0 / 2.0, -image.height.0);
        let corners = [(-half, 0.0), (half, 0.0), (-half, down), (half, down)];
        let made_from = MadeFrom {
            gaps: corners.map(|(x_mm, y_mm)| self.guide.gap_at(x_mm, y_mm)),
            taken: self.takes.stations().taken(),
            round: self.guide.round(),
            turning: self.watches(),
            contradicts: self.guide.answer().is_some_and(|answer| answer.contradicts()),
        };
        if self.made_from.as_ref() == Some(&made_from) {
            return;
        }
        self.made_from = Some(made_from);
        self.picture = (self.field(), self.spots());
    }

    fn field(&self) -> Option<Field> {
        let image = self.guide.image();
        self.guide.gap_at(0.0, 0.0)?;
        let (columns, rows) = GRID;
        let gaps = (0..rows * columns).map(|at| {
            let across = (at % columns) as f64 / (columns - 1) as f64 - 0.5;
            let down = (at / columns) as f64 / (rows - 1) as f64;
            self.guide.gap_at(across * image.width.0, -down * image.height.0).map(Mm)
        });
        Some(Field { image, columns, rows, gaps: gaps.collect() })
    }

    fn spots(&self) -> Vec<Spot> {
        let (image, band) = (self.guide.image(), self.guide.band());
        let picture = self.guide.picture();
        let room = |shown: &guide::Shown| band.inside(Mm(shown.gap_mm)).0 - shown.expanded_mm;
        let worst =
            (0..picture.len()).min_by(|&a, &b| room(&picture[a]).total_cmp(&room(&picture[b])));
        let spot = |(at, shown): (usize, &guide::Shown)| {
            let point = adopt::of_control(&shown.point);
            let taken = self.taken_at(point);
            let (gap, expanded, verdict) = match &taken {
                Some(taken) => (taken.gap, taken.expanded, Some(taken.verdict)),
                None => (Mm(shown.gap_mm), Mm(shown.expanded_mm), shown.verdict),
            };
            let (called, read) = (image.whereabouts(point), taken.is_some());
            Spot {
                at: point,
                called,
                gap,
                expanded,
                verdict,
                read,
                worst: read && Some(at) == worst,
            }
        };
        picture.iter().enumerate().take(SPOTS).map(spot).collect()
    }

    /// The take of a station so near that in the picture it is there; none once adjusters are turned.
    fn taken_at(&self, point: Point) -> Option<TakenView> {
        let near = |station: &Station| guide::is_near(station, (point.x.0, point.y.0));
        let at = self
            .takes
            .stations()
            .rows()
            .position(|(station, kept)| kept.is_some() && near(station));
        at.filter(|_| !self.watches()).and_then(|at| self.takes.station_view(at)?.taken)
    }
}
