//! What is asked of the person, one thing at a time.

use crate::marks::{self, CORNERS, HELD, WALKS};
use serde::{Deserialize, Serialize};
use skimgauge_model::{Image, Point};
use skimgauge_quantity::{Mm, Name, Sentence, say};

/// How many lines are drawn: three across, three down.
pub const STROKES: u8 = 6;
/// How many quick dashes are drawn in a corner.
pub const DASHES: usize = 10;
/// So long a contact is held, ms.
pub const HOLD_MS: f64 = 2000.0;
/// So long hands are off, ms.
pub const HANDS_OFF_MS: f64 = 60_000.0;
/// So long a laid leaf is looked at, ms.
pub const LEAF_MS: f64 = 2000.0;

/// One thing asked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Ask {
    /// Tap a mark.
    Mark {
        /// Which, by its place among the marks.
        mark: u8,
        /// Which round, from 0.
        round: u8,
    },
    /// Draw a line there and back.
    Stroke {
        /// Which: 0 to 2 across, 3 to 5 down, 6 and 7 the diagonals.
        stroke: u8,
    },
    /// Hold a contact still.
    Hold {
        /// At which mark.
        mark: u8,
    },
    /// Touch nothing.
    HandsOff,
    /// Draw ten quick dashes.
    Dashes {
        /// At which mark.
        mark: u8,
    },
    /// Lay a leaf flat at a station.
    Leaf {
        /// The station.
        station: String,
        /// Right of the image's middle.
        #[serde(rename = "x_mm")]
        x: Mm,
        /// Above the image's top edge.
        #[serde(rename = "y_mm")]
        y: Mm,
        /// How thick it is.
        #[serde(rename = "thickness_mm")]
        thickness: Mm,
    },
}

impl Ask {
    /// What a person does.
    pub fn says(&self, tool: crate::limits::Tool) -> Sentence {
        match self {
            Self::Mark { mark, .. } => {
                say!("tap the mark at {} with the {}", marks::name(*mark), tool.word())
            }
            Self::Stroke { .. } => {
                say!("draw along the line to its other end and back, in one go, at an even pace")
            }
            Self::Hold { mark } => {
                say!("press the mark at {} and hold still until it says so", marks::name(*mark))
            }
            Self::HandsOff => say!("hands off: touch nothing, stand clear, for a minute"),
            Self::Dashes { mark } => say!(
                "at {}: ten quick dashes side by side, lifting a little between them; then say that ten are drawn",
                marks::name(*mark)
            ),
            Self::Leaf { station, thickness, .. } => say!(
                "lay the leaf of {} flat at {}, take the hand away, then say that it lies",
                thickness.size(),
                Name(station)
            ),
        }
    }

    /// Where on the image it is; the beginning of a line.
    pub fn at(&self, image: Image, inset: f64) -> Option<Point> {
        match self {
            Self::Mark { mark, .. } | Self::Hold { mark } | Self::Dashes { mark } => {
                marks::at(image, inset, *mark)
            }
            Self::Stroke { stroke } => line(image, inset, *stroke).map(|(from, _)| from),
            Self::HandsOff => None,
            Self::Leaf { x, y, .. } => Some(Point { x: *x, y: *y }),
        }
    }

    /// Whether its numbers are those of something that can be asked.
    pub fn can_be(&self, image: Image) -> bool {
        match self {
            Self::Mark { mark, round } => {
                usize::from(*mark) < marks::MARKS && usize::from(*round) < 10
            }
            Self::Hold { mark } | Self::Dashes { mark } => usize::from(*mark) < marks::MARKS,
            Self::Stroke { stroke } => *stroke < STROKES + 2,
            Self::HandsOff => true,
            Self::Leaf { station, x, y, thickness } => {
                station.chars().count() <= 300
                    && image.contains(Point { x: *x, y: *y }, Mm(50.0))
                    && (0.01..=100.0).contains(&thickness.0)
            }
        }
    }
}

/// Both ends of a line; `None` where there is none of this number.
pub fn line(image: Image, inset: f64, stroke: u8) -> Option<(Point, Point)> {
    let (x, y) = (image.width * (0.5 - inset), image.height);
    let row = |share: f64| {
        let y = -(y * share);
        (Point { x: -x, y }, Point { x, y })
    };
    let column = |x: Mm| (Point { x, y: -(y * inset) }, Point { x, y: -(y * (1.0 - inset)) });
    let corner = |mark: u8| marks::at(image, inset, mark);
    Some(match stroke {
        0 => row(inset),
        1 => row(0.5),
        2 => row(1.0 - inset),
        3 => column(-x),
        4 => column(Mm::ZERO),
        5 => column(x),
        6 => (corner(0)?, corner(12)?),
        7 => (corner(2)?, corner(10)?),
        _ => return None,
    })
}

/// The core of a proof: three rounds of taps, lines, holds, hands off. `left_out`: marks that are
/// out of reach.
pub fn core(left_out: &[u8]) -> Vec<Ask> {
    let reached = |mark: &u8| !left_out.contains(mark);
    let taps = WALKS.iter().zip(0u8..).flat_map(|(walk, round)| {
        walk.iter().filter(|mark| reached(mark)).map(move |&mark| Ask::Mark { mark, round })
    });
    let mut asks: Vec<Ask> = taps.collect();
    asks.extend(
        (0..STROKES)
            .filter(|stroke| ends(*stroke).iter().all(reached))
            .map(|stroke| Ask::Stroke { stroke }),
    );
    asks.extend(HELD.iter().filter(|mark| reached(mark)).map(|&mark| Ask::Hold { mark }));
    asks.push(Ask::HandsOff);
    asks
}

/// What is asked where something is outside or too close to call: dashes in the corners, diagonals.
pub fn more(left_out: &[u8]) -> Vec<Ask> {
    let reached = |mark: &u8| !left_out.contains(mark);
    let mut asks: Vec<Ask> =
        CORNERS.iter().filter(|mark| reached(mark)).map(|&mark| Ask::Dashes { mark }).collect();
    asks.extend(
        (STROKES..STROKES + 2)
            .filter(|stroke| ends(*stroke).iter().all(reached))
            .map(|stroke| Ask::Stroke { stroke }),
    );
    asks
}

/// The marks at a line's ends.
fn ends(stroke: u8) -> [u8; 2] {
    match stroke {
        0 => [0, 2],
        1 => [5, 7],
        2 => [10, 12],
        3 => [0, 10],
        4 => [1, 11],
        5 => [2, 12],
        6 => [0, 12],
        _ => [2, 10],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_core_is_39_taps_6_lines_5_holds_and_a_minute() {
        let core_of = core(&[]);
        let count = |kind: fn(&Ask) -> bool| core_of.iter().filter(|ask| kind(ask)).count();
        assert_eq!(count(|ask| matches!(ask, Ask::Mark { .. })), 39);
        assert_eq!(count(|ask| matches!(ask, Ask::Stroke { .. })), 6);
        assert_eq!(count(|ask| matches!(ask, Ask::Hold { .. })), 5);
        assert_eq!(count(|ask| matches!(ask, Ask::HandsOff)), 1);
        let without = core(&[0, 1, 2]);
        assert!(without.len() < core_of.len());
        assert!(without.iter().all(|ask| !matches!(ask, Ask::Mark { mark: 0..=2, .. })));
    }
}
