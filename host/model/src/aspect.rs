//! Width to height, and an image of that aspect by its diagonal.

use std::str::FromStr;

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Name, Sentence, Tell, plain, say, short, told_in_mm};

use crate::image::{EDGE, Image, ImageError, LONGEST_ASPECT};

/// Width to height, as in `16:10`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Aspect {
    /// Parts of width.
    pub wide: f64,
    /// Parts of height.
    pub high: f64,
}

/// An aspect that cannot be.
#[derive(Debug, Clone, PartialEq)]
pub enum AspectError {
    /// Not two numbers with a colon between.
    Unread {
        /// As written.
        text: String,
    },
    /// A part that is not a number above zero, or one part more than five times the other.
    Parts(Aspect),
}

impl Tell for AspectError {
    fn tell(&self) -> Sentence {
        match self {
            Self::Unread { text } => say!(
                "aspect `{}`: write width and height with a colon between, as in 16:10",
                Name(text)
            ),
            Self::Parts(Aspect { wide, high }) => say!(
                "the aspect {}:{} cannot be: write two numbers above zero, neither more than {} times the other",
                short(*wide),
                short(*high),
                plain(LONGEST_ASPECT, 0)
            ),
        }
    }
}

told_in_mm!(AspectError);

impl Aspect {
    /// The aspect of these parts.
    ///
    /// # Errors
    /// [`AspectError`] unless both parts are above zero and neither is more than five times the
    /// other.
    pub fn new(wide: f64, high: f64) -> Result<Self, AspectError> {
        let aspect = Self { wide, high };
        let usable = |part: f64| (1e-3..=1e5).contains(&part);
        let can_be = usable(wide)
            && usable(high)
            && (1.0 / LONGEST_ASPECT..=LONGEST_ASPECT).contains(&aspect.ratio());
        if can_be { Ok(aspect) } else { Err(AspectError::Parts(aspect)) }
    }

    /// Width over height.
    pub fn ratio(self) -> f64 {
        self.wide / self.high
    }

    /// The image of this aspect and diagonal.
    ///
    /// # Errors
    /// [`ImageError`] where the diagonal or an edge that follows from it cannot be.
    pub fn image(self, diagonal: Mm) -> Result<Image, ImageError> {
        if !diagonal.is_finite() {
            return Err(ImageError::NotANumber { edge: "diagonal" });
        }
        if diagonal < EDGE.0 || diagonal > EDGE.1 {
            return Err(ImageError::Edge { edge: "diagonal", length: diagonal });
        }
        let parts = self.wide.hypot(self.high);
        Image::new(diagonal * (self.wide / parts), diagonal * (self.high / parts))
    }
}

impl FromStr for Aspect {
    type Err = AspectError;

    /// Reads `16:10`.
    fn from_str(text: &str) -> Result<Self, AspectError> {
        let unread = || AspectError::Unread { text: text.to_owned() };
        let (wide, high) = text.split_once(':').ok_or_else(unread)?;
        let part = |text: &str| text.trim().parse::<f64>().map_err(|_| unread());
        Self::new(part(wide)?, part(high)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn of(diagonal_inch: f64, aspect: &str) -> Image {
        aspect.parse::<Aspect>().unwrap().image(Mm::from_inch(diagonal_inch)).unwrap()
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
            let image = aspect.parse::<Aspect>().unwrap().image(Mm(1000.0)).unwrap();
            assert!((image.width.0 / 1000.0 - width).abs() < 1e-12, "{aspect}");
            assert!((image.height.0 / 1000.0 - height).abs() < 1e-12, "{aspect}");
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
            assert!((image.width.0 - width_mm).abs() < 6e-4, "{diagonal_inch} {aspect}");
            assert!((image.height.0 - height_mm).abs() < 6e-4, "{diagonal_inch} {aspect}");
        }
    }

    #[test]
    fn an_unreadable_aspect_says_how_to_write_it() {
        for text in ["16/10", "wide", "16:", ":", "16:0", "NaN:1", "100:1", "-16:-10", "inf:inf"] {
            assert!(text.parse::<Aspect>().is_err(), "{text}");
        }
        let said = |text: &str| text.parse::<Aspect>().unwrap_err().to_string();
        assert!(said("16/10").contains("16:10"), "{}", said("16/10"));
        assert!(said("16:0").contains("16:0 cannot be"), "{}", said("16:0"));
    }

    #[test]
    fn a_diagonal_in_inches_is_refused_with_the_guess() {
        let said = Aspect::new(16.0, 10.0).unwrap().image(Mm(94.0)).unwrap_err().to_string();
        assert!(said.contains("if it was in inches, enter 2387.6 mm"), "{said}");
    }

    proptest! {
        #[test]
        fn diagonal_and_aspect_come_back(diagonal_mm in 600.0..8000.0_f64, wide in 1.0..4.0_f64) {
            let image = Aspect::new(wide, 1.0).unwrap().image(Mm(diagonal_mm)).unwrap();
            prop_assert!((image.diagonal().0 - diagonal_mm).abs() < 1e-9 * diagonal_mm);
            prop_assert!((image.ratio() - wide).abs() < 1e-12 * wide);
        }

        #[test]
        fn no_input_panics(wide in any::<f64>(), high in any::<f64>()) {
            let _ = Aspect::new(wide, high);
            let _ = Aspect { wide, high }.image(Mm(wide));
        }
    }
}
