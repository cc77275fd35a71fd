//! The image on the board, and how places on it are called.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Sentence, Tell, plain, say, told_in_mm};

use crate::place::{Point, Station};

/// Smallest and largest edge that counts as an image. Outside it a unit was mixed up.
pub(crate) const EDGE: (Mm, Mm) = (Mm(100.0), Mm(20_000.0));

/// Longest edge over the shorter one.
pub(crate) const LONGEST_ASPECT: f64 = 5.0;

/// So near to an edge, a corner or the middle a place has its name.
const NAMED: Mm = Mm(30.0);

/// So near to a line a place is on it.
const ON_IT: Mm = Mm(1.0);

/// The projected or displayed image, a rectangle. Origin of the job's frame: middle of its top
/// edge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Image {
    /// Left to right.
    #[serde(rename = "width_mm")]
    pub width: Mm,
    /// Top to bottom.
    #[serde(rename = "height_mm")]
    pub height: Mm,
}

/// An image that cannot be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ImageError {
    /// An edge that is not a number.
    NotANumber {
        /// `width`, `height` or `diagonal`.
        edge: &'static str,
    },
    /// An edge shorter than 100 mm or longer than 20 m.
    Edge {
        /// `width`, `height` or `diagonal`.
        edge: &'static str,
        /// As given.
        length: Mm,
    },
    /// One edge more than five times the other.
    Aspect {
        /// Width over height.
        ratio: f64,
    },
}

impl Tell for ImageError {
    fn tell(&self) -> Sentence {
        match *self {
            Self::NotANumber { edge } => say!("image {edge} is not a number; enter it again"),
            Self::Edge { edge, length } => {
                let (low, high) = EDGE;
                let wrong = say!(
                    "image {edge} is {}, expected {}",
                    length.size(),
                    low.wall().to(high.wall())
                );
                let other = [(25.4, "inches"), (10.0, "centimetres"), (1000.0, "metres")]
                    .into_iter()
                    .find(|(factor, _)| (low..=high).contains(&(length * *factor)));
                match other {
                    Some((factor, unit)) => {
                        say!("{wrong}; if it was in {unit}, enter {}", (length * factor).tape())
                    }
                    None => wrong,
                }
            }
            Self::Aspect { ratio } => {
                say!(
                    "the image is {} times as wide as high, expected {} to {}: is one edge in another unit?",
                    plain(ratio, 2),
                    plain(1.0 / LONGEST_ASPECT, 1),
                    plain(LONGEST_ASPECT, 0)
                )
            }
        }
    }
}

told_in_mm!(ImageError);

/// Where a place is across: on an edge or in the middle, if it is there.
fn across(x: Mm, image: Image) -> Option<&'static str> {
    let near = |to: Mm| (x - to).abs() <= NAMED;
    match x {
        _ if near(-image.width / 2.0) => Some("left"),
        _ if near(image.width / 2.0) => Some("right"),
        _ if near(Mm::ZERO) => Some(""),
        _ => None,
    }
}

fn down(y: Mm, image: Image) -> Option<&'static str> {
    let near = |to: Mm| (y - to).abs() <= NAMED;
    match y {
        _ if near(Mm::ZERO) => Some("top"),
        _ if near(-image.height) => Some("bottom"),
        _ if near(-image.height / 2.0) => Some(""),
        _ => None,
    }
}

/// The clip reaches so far in from an edge of the image. Common practice, no source.
const CLIP_REACHES: Mm = Mm(150.0);

impl Image {
    /// Whether the clip reaches a place: else the head is held there by hand, and hands that hold it
    /// turn nothing.
    pub fn is_clipped(self, at: Point) -> bool {
        let from_sides = (self.width / 2.0 - at.x.abs()).min(at.y.abs());
        from_sides.min((at.y + self.height).abs()) <= CLIP_REACHES
    }

    /// Of these stations, by index, the ones where the head is held by hand.
    pub fn held(self, stations: &[Station]) -> Vec<usize> {
        let by_hand = |at: &usize| !self.is_clipped(stations[*at].at);
        (0..stations.len()).filter(by_hand).collect()
    }

    /// An image from its edges.
    ///
    /// # Errors
    /// [`ImageError`] unless both edges are between 100 mm and 20 m and the aspect is between 1:5
    /// and 5:1; it says in which unit the number would have been possible.
    pub fn new(width: Mm, height: Mm) -> Result<Self, ImageError> {
        for (edge, length) in [("width", width), ("height", height)] {
            if !length.is_finite() {
                return Err(ImageError::NotANumber { edge });
            }
            if length < EDGE.0 || length > EDGE.1 {
                return Err(ImageError::Edge { edge, length });
            }
        }
        let ratio = width / height;
        if (1.0 / LONGEST_ASPECT..=LONGEST_ASPECT).contains(&ratio) {
            Ok(Self { width, height })
        } else {
            Err(ImageError::Aspect { ratio })
        }
    }

    /// The same image, if it can be.
    ///
    /// # Errors
    /// As [`Image::new`].
    pub fn checked(self) -> Result<Self, ImageError> {
        Self::new(self.width, self.height)
    }

    /// An image from bare millimetres, unchecked.
    pub const fn mm(width_mm: f64, height_mm: f64) -> Self {
        Self { width: Mm(width_mm), height: Mm(height_mm) }
    }

    /// Corner to opposite corner.
    pub fn diagonal(self) -> Mm {
        self.width.hypot(self.height)
    }

    /// Width over height.
    pub fn ratio(self) -> f64 {
        self.width / self.height
    }

    /// The nine named places: corners, middles of the edges and the centre, row by row from the top
    /// left.
    pub fn places(self) -> [(&'static str, Point); 9] {
        let names = [
            "top left",
            "top",
            "top right",
            "left",
            "centre",
            "right",
            "bottom left",
            "bottom",
            "bottom right",
        ];
        let half = self.width / 2.0;
        std::array::from_fn(|index| {
            let x = [-half, Mm::ZERO, half][index % 3];
            let y = [Mm::ZERO, -self.height / 2.0, -self.height][index / 3];
            (names[index], Point { x, y })
        })
    }

    /// The place of this name, or `None` if there is none.
    pub fn place(self, name: &str) -> Option<Point> {
        self.places().into_iter().find(|(known, _)| *known == name).map(|(_, point)| point)
    }

    /// How far a point lies beside the image, across and up or down, whichever is more; zero on it.
    pub fn off_by(self, point: Point) -> Mm {
        let beside = point.x.abs() - self.width / 2.0;
        let above = point.y;
        let below = -self.height - point.y;
        beside.max(above).max(below).max(Mm::ZERO)
    }

    /// Whether a point lies on the image, or beside it by no more than this. What is not a number
    /// does not.
    pub fn contains(self, point: Point, slack: Mm) -> bool {
        point.is_finite() && self.off_by(point) <= slack
    }

    /// A place as a person on a ladder finds it: `top left corner`, `middle of the left edge`, or
    /// by its distances.
    pub fn whereabouts(self, point: Point) -> Sentence {
        match (down(point.y, self), across(point.x, self)) {
            (Some(""), Some("")) => say!("middle of the image"),
            (Some(""), Some(edge)) | (Some(edge), Some("")) => say!("middle of the {edge} edge"),
            (Some(down), Some(across)) => say!("{down} {across} corner"),
            _ => by_distance(point),
        }
    }

    /// The same as the end of `the gap …`: `at the top left corner`, `300 mm right of the middle,
    /// 200 mm down`.
    pub fn at(self, point: Point) -> Sentence {
        match (down(point.y, self), across(point.x, self)) {
            (Some(""), Some("")) => say!("in the middle of the image"),
            (Some(_), Some(_)) => say!("at the {}", self.whereabouts(point)),
            _ => by_distance(point),
        }
    }
}

fn by_distance(point: Point) -> Sentence {
    let across = match point.x {
        x if x.abs() < ON_IT => say!("in the middle"),
        x => {
            say!("{} {} of the middle", x.abs().wall(), if x < Mm::ZERO { "left" } else { "right" })
        }
    };
    match point.y {
        y if y.abs() < ON_IT => say!("{across}, at the top edge"),
        y if y > Mm::ZERO => say!("{across}, {} above the top edge", y.wall()),
        y => say!("{across}, {} down", y.abs().wall()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use skimgauge_quantity::{Style, Units};

    const IMAGE: Image = Image { width: Mm(2000.0), height: Mm(1200.0) };

    fn at(x: f64, y: f64) -> Point {
        Point { x: Mm(x), y: Mm(y) }
    }

    #[test]
    fn in_json_an_image_is_as_it_was() {
        let json = r#"{"width_mm":2000.0,"height_mm":1200.0}"#;
        assert_eq!(serde_json::to_string(&IMAGE).unwrap(), json);
        assert_eq!(serde_json::from_str::<Image>(json).unwrap(), IMAGE);
    }

    #[test]
    fn places_have_the_names_a_person_uses() {
        for (x, y, name, with) in [
            (-1000.0, 0.0, "top left corner", "at the top left corner"),
            (0.0, -1190.0, "middle of the bottom edge", "at the middle of the bottom edge"),
            (990.0, -600.0, "middle of the right edge", "at the middle of the right edge"),
            (0.0, -600.0, "middle of the image", "in the middle of the image"),
            (
                300.0,
                -200.0,
                "300 mm right of the middle, 200 mm down",
                "300 mm right of the middle, 200 mm down",
            ),
            (
                -300.0,
                0.0,
                "300 mm left of the middle, at the top edge",
                "300 mm left of the middle, at the top edge",
            ),
            (
                0.0,
                50.0,
                "in the middle, 50 mm above the top edge",
                "in the middle, 50 mm above the top edge",
            ),
        ] {
            assert_eq!(IMAGE.whereabouts(at(x, y)).text(Style::default()), name);
            assert_eq!(IMAGE.at(at(x, y)).text(Style::default()), with);
        }
        let inch = IMAGE.at(at(304.8, -203.2)).text(Style::typed(Units::Inch));
        assert_eq!(inch, "12 in right of the middle, 8 in down");
    }

    #[test]
    fn named_places_are_found() {
        assert_eq!(IMAGE.place("bottom right"), Some(at(1000.0, -1200.0)));
        assert_eq!(IMAGE.place("middle of nowhere"), None);
        for (name, point) in IMAGE.places() {
            assert_eq!(IMAGE.off_by(point), Mm::ZERO, "{name}");
        }
    }

    #[test]
    fn off_the_image_is_told_by_how_much() {
        assert_eq!(IMAGE.off_by(at(1010.0, 3.0)), Mm(10.0));
        assert_eq!(IMAGE.off_by(at(0.0, -1205.0)), Mm(5.0));
        assert!(
            IMAGE.contains(at(1004.0, 0.0), Mm(5.0)) && !IMAGE.contains(at(1006.0, 0.0), Mm(5.0))
        );
        assert!(!IMAGE.contains(at(f64::NAN, 0.0), Mm(5.0)));
    }

    #[test]
    fn an_image_that_cannot_be_is_refused_with_the_guess() {
        for (width, height, says) in [
            (
                94.0,
                1200.0,
                "image width is 94 mm, expected 100 to 20000 mm; if it was in inches, enter 2387.6 mm",
            ),
            (
                2000.0,
                1.2,
                "image height is 1.2 mm, expected 100 to 20000 mm; if it was in metres, enter 1200 mm",
            ),
            (2000.0, f64::NAN, "image height is not a number; enter it again"),
            (
                2000.0,
                200.0,
                "the image is 10.00 times as wide as high, expected 0.2 to 5: is one edge in another unit?",
            ),
        ] {
            assert_eq!(Image::new(Mm(width), Mm(height)).unwrap_err().to_string(), says);
        }
        assert!(Image::new(Mm(-2000.0), Mm(1200.0)).is_err());
    }

    proptest! {
        #[test]
        fn no_place_panics(x in any::<f64>(), y in any::<f64>(), width in any::<f64>(), height in any::<f64>()) {
            let image = Image { width: Mm(width), height: Mm(height) };
            let said = image.at(at(x, y)).text(Style::typed(Units::Inch)) + &image.whereabouts(at(x, y)).text(Style::default());
            prop_assert!(!said.is_empty());
            if let Err(why) = Image::new(image.width, image.height) {
                prop_assert!(why.to_string().starts_with(['i', 't']));
            }
        }
    }
}
