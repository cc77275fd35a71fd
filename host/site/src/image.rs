//! The image on the board: its size and the places named after it.

use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::entry::{EntryError, length_mm, within};

/// One inch, exactly (international yard and pound agreement, 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// Smallest and largest edge that counts as an image, mm. Outside it a unit was mixed up.
const EDGE_RANGE_MM: (f64, f64) = (100.0, 20_000.0);

/// The projected or displayed image, a rectangle. Origin of the job's frame: middle of its top
/// edge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Image {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
}

/// Width to height, as in `16:10`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Aspect {
    /// Parts of width.
    pub wide: f64,
    /// Parts of height.
    pub high: f64,
}

/// A place named after the image, in the image's frame (origin: middle of the top edge; x right, y
/// up).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Place {
    /// As the user says it: `top left`.
    pub name: &'static str,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm; zero or less.
    pub y_mm: f64,
}

impl Aspect {
    /// The aspect, if both parts are usable and one is at most five times the other.
    ///
    /// # Errors
    /// [`EntryError`] for a part that is not a positive number, or an aspect no image has.
    pub fn new(wide: f64, high: f64) -> Result<Self, EntryError> {
        within("aspect, parts of width", wide, 1e-3, 1e5, "parts")?;
        within("aspect, parts of height", high, 1e-3, 1e5, "parts")?;
        within("aspect, width over height", wide / high, 0.2, 5.0, "times")?;
        Ok(Self { wide, high })
    }

    /// Width over height.
    pub fn ratio(self) -> f64 {
        self.wide / self.high
    }
}

impl FromStr for Aspect {
    type Err = EntryError;

    /// Reads `16:10`.
    fn from_str(text: &str) -> Result<Self, EntryError> {
        let unreadable = || EntryError::Name {
            what: format!("aspect `{text}`"),
            problem: "write width and height with a colon between, as in 16:10".to_owned(),
        };
        let (wide, high) = text.split_once(':').ok_or_else(unreadable)?;
        let part = |text: &str| text.trim().parse::<f64>().map_err(|_| unreadable());
        Self::new(part(wide)?, part(high)?)
    }
}

impl Image {
    /// An image from its edges.
    ///
    /// # Errors
    /// [`EntryError`] unless both edges are between 100 mm and 20 m and the aspect is between 1:5
    /// and 5:1; the error says in which unit the number would have been possible.
    pub fn new(width_mm: f64, height_mm: f64) -> Result<Self, EntryError> {
        let (low, high) = EDGE_RANGE_MM;
        length_mm("image width", width_mm, low, high)?;
        length_mm("image height", height_mm, low, high)?;
        Aspect::new(width_mm, height_mm)?;
        Ok(Self { width_mm, height_mm })
    }

    /// An image from its diagonal and aspect.
    ///
    /// # Errors
    /// As [`Image::new`].
    pub fn from_diagonal(diagonal_mm: f64, aspect: Aspect) -> Result<Self, EntryError> {
        let (low, high) = EDGE_RANGE_MM;
        length_mm("image diagonal", diagonal_mm, low, high)?;
        let aspect = Aspect::new(aspect.wide, aspect.high)?;
        let parts = aspect.wide.hypot(aspect.high);
        Self::new(diagonal_mm * (aspect.wide / parts), diagonal_mm * (aspect.high / parts))
    }

    /// Corner to opposite corner, mm.
    pub fn diagonal_mm(self) -> f64 {
        self.width_mm.hypot(self.height_mm)
    }

    /// Width over height.
    pub fn aspect_ratio(self) -> f64 {
        self.width_mm / self.height_mm
    }

    /// The nine named places: corners, middles of the edges and the centre, row by row from the top
    /// left.
    pub fn places(self) -> [Place; 9] {
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
        let (half_mm, height_mm) = (self.width_mm / 2.0, self.height_mm);
        std::array::from_fn(|index| Place {
            name: names[index],
            x_mm: [-half_mm, 0.0, half_mm][index % 3],
            y_mm: [0.0, -height_mm / 2.0, -height_mm][index / 3],
        })
    }

    /// The named place, or `None` if there is none of that name.
    pub fn place(self, name: &str) -> Option<Place> {
        self.places().into_iter().find(|place| place.name == name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn of(diagonal_inch: f64, aspect: &str) -> Image {
        Image::from_diagonal(diagonal_inch * MM_PER_INCH, aspect.parse().unwrap()).unwrap()
    }

    /// Aspect arithmetic, computed with numpy: W/D = wide/hypot(wide, high), H/D likewise.
    #[test]
    fn edges_per_diagonal_follow_the_aspect() {
        for (aspect, width, height) in [
            ("16:9", 0.871_575_537_125, 0.490_261_239_633),
            ("16:10", 0.847_998_304_005, 0.529_998_940_003),
            ("4:3", 0.8, 0.6),
            ("21:9", 0.919_145_030_018, 0.393_919_298_579),
        ] {
            let image = Image::from_diagonal(1000.0, aspect.parse().unwrap()).unwrap();
            assert!((image.width_mm / 1000.0 - width).abs() < 1e-12, "{aspect}");
            assert!((image.height_mm / 1000.0 - height).abs() < 1e-12, "{aspect}");
        }
    }

    /// Nominal display formats, computed with numpy from diagonal and aspect.
    #[test]
    fn display_formats_have_their_sizes() {
        for (diagonal_inch, aspect, width_mm, height_mm) in [
            (65.0, "16:9", 1438.971, 809.421),
            (75.0, "16:9", 1660.351, 933.948),
            (86.0, "16:9", 1903.870, 1070.927),
            (100.0, "16:9", 2213.802, 1245.264),
            (120.0, "16:9", 2656.562, 1494.316),
            (100.0, "16:10", 2153.916, 1346.197),
        ] {
            let image = of(diagonal_inch, aspect);
            assert!((image.width_mm - width_mm).abs() < 6e-4, "{diagonal_inch} {aspect}");
            assert!((image.height_mm - height_mm).abs() < 6e-4, "{diagonal_inch} {aspect}");
        }
    }

    #[test]
    fn an_unreadable_aspect_says_how_to_write_it() {
        for text in ["16/10", "wide", "16:", ":", "16:0", "NaN:1", "100:1"] {
            assert!(text.parse::<Aspect>().is_err(), "{text}");
        }
        let said = "16/10".parse::<Aspect>().unwrap_err().to_string();
        assert!(said.contains("16:10"), "{said}");
    }

    #[test]
    fn a_diagonal_in_inches_is_refused_with_the_guess() {
        let said =
            Image::from_diagonal(94.0, Aspect::new(16.0, 10.0).unwrap()).unwrap_err().to_string();
        assert!(said.contains("inches"), "{said}");
    }

    #[test]
    fn places_are_found_by_name() {
        let image = Image::new(2000.0, 1250.0).unwrap();
        let corner = image.place("bottom right").unwrap();
        assert_eq!((corner.x_mm, corner.y_mm), (1000.0, -1250.0));
        assert!(image.place("middle of nowhere").is_none());
    }

    proptest! {
        #[test]
        fn diagonal_and_aspect_come_back(diagonal_mm in 600.0..8000.0_f64, wide in 1.0..4.0_f64) {
            let aspect = Aspect::new(wide, 1.0).unwrap();
            let image = Image::from_diagonal(diagonal_mm, aspect).unwrap();
            prop_assert!((image.diagonal_mm() - diagonal_mm).abs() < 1e-9 * diagonal_mm);
            prop_assert!((image.aspect_ratio() - wide).abs() < 1e-12 * wide);
        }

        #[test]
        fn no_input_panics(width_mm in any::<f64>(), height_mm in any::<f64>()) {
            let _ = Image::new(width_mm, height_mm);
            let _ = Image::from_diagonal(width_mm, Aspect { wide: height_mm, high: width_mm });
        }
    }
}
