//! What a mount's maker says for each image size, entered by the user, and what lies between the
//! listed sizes.

mod check;

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Name, Sentence, say};

use crate::entry::EntryError;
use crate::fixings::practice::PlateRole;
use skimgauge_model::{Aspect, Image};

/// A size counts as listed if the image is no farther from it, mm of width.
const LISTED_WITHIN_MM: f64 = 0.5;

/// One hole of a plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hole {
    /// As written on the template.
    pub name: String,
    /// Right of the plate's middle, mm.
    pub x_mm: f64,
    /// Above the plate's middle, mm.
    pub y_mm: f64,
    /// Diameter to drill, mm.
    pub diameter_mm: f64,
}

/// A plate that goes on the wall.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plate {
    /// As the user says it.
    pub name: String,
    /// Which plate of the bracket.
    pub role: PlateRole,
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// Its holes.
    pub holes: Vec<Hole>,
}

/// Where a plate's middle goes for one image size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlateOffset {
    /// Which plate.
    pub plate: String,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
}

/// One listed image size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ListedSize {
    /// Image width, mm.
    pub image_width_mm: f64,
    /// Where each plate goes.
    pub plates: Vec<PlateOffset>,
    /// How far the arm is drawn out, mm.
    #[serde(default)]
    pub arm_mm: Option<f64>,
}

/// A mount's sheet, as entered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MountSheet {
    /// Which sheet, which edition.
    pub source: String,
    /// The aspect for which it is made out; no check if left out.
    #[serde(default)]
    pub aspect: Option<Aspect>,
    /// Distance over image width of the unit, if the sheet gives it.
    #[serde(default)]
    pub throw_ratio: Option<f64>,
    /// The plates.
    pub plates: Vec<Plate>,
    /// The listed sizes, in any order.
    pub sizes: Vec<ListedSize>,
}

/// Why a sheet gives no places.
#[derive(Debug, Clone, PartialEq)]
pub enum MountError {
    /// A number that cannot be right.
    Entry(EntryError),
    /// Something that has to be there is not, or is there twice.
    Sheet(Sentence),
    /// Nothing is guessed beyond what is listed.
    NotListed {
        /// Image width, mm.
        width_mm: f64,
        /// Smallest listed, mm.
        low_mm: f64,
        /// Largest listed, mm.
        high_mm: f64,
    },
    /// Made out for another shape of image.
    OtherAspect {
        /// The sheet's aspect.
        sheet: f64,
        /// The image's.
        image: f64,
    },
}

/// Where figures come from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// Listed for this size.
    Listed,
    /// Between two listed sizes, along a straight line.
    Between {
        /// Listed below, mm of width.
        below_mm: f64,
        /// Listed above, mm of width.
        above_mm: f64,
        /// How far the listed figures bend away from a straight line here, mm, by the next listed
        /// size; absent if there are only two sizes.
        bend_mm: Option<f64>,
    },
}

/// A plate with its place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlacedPlate {
    /// The plate.
    pub plate: Plate,
    /// Its middle right of the image's middle, mm.
    pub x_mm: f64,
    /// Its middle above the image's top edge, mm.
    pub y_mm: f64,
}

/// How the image grows as the arm is drawn out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ImageChange {
    /// Width for each mm of arm, mm.
    pub width_mm_per_mm: f64,
    /// Height for each mm of arm, mm.
    pub height_mm_per_mm: f64,
    /// Diagonal for each mm of arm, mm.
    pub diagonal_mm_per_mm: f64,
    /// Where it comes from.
    pub from: &'static str,
}

/// What a sheet says for one image.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MountFit {
    /// Which sheet.
    pub source: String,
    /// Listed or between.
    pub basis: Basis,
    /// Basis in a sentence.
    pub says: Sentence,
    /// The plates in place.
    pub plates: Vec<PlacedPlate>,
    /// How far the arm is drawn out, mm.
    pub arm_mm: Option<f64>,
    /// How the image changes with the arm, where the sheet tells.
    pub image_change: Option<ImageChange>,
}

impl MountSheet {
    /// Where everything goes for `image`.
    ///
    /// # Errors
    /// [`MountError`] for a sheet with gaps or contradictions, another aspect, or a size outside
    /// those listed.
    pub fn at(&self, image: Image) -> Result<MountFit, MountError> {
        let sizes = self.checked()?;
        if let Some(aspect) = self.aspect {
            let (sheet, image) = (aspect.ratio(), image.ratio());
            if (sheet / image - 1.0).abs() > 0.005 {
                return Err(MountError::OtherAspect { sheet, image });
            }
        }
        let width_mm = image.width.0;
        let first_mm = sizes.first().map_or(f64::NAN, |size| size.image_width_mm);
        let last_mm = sizes.last().map_or(f64::NAN, |size| size.image_width_mm);
        if let Some(index) =
            sizes.iter().position(|size| (size.image_width_mm - width_mm).abs() <= LISTED_WITHIN_MM)
        {
            let says = say!(
                "listed for an image {} wide in: {}",
                Mm(sizes[index].image_width_mm).wall(),
                Name(&self.source)
            );
            return Ok(self.fit(image, &sizes, (index, index), 0.0, Basis::Listed, says));
        }
        let upper =
            sizes.iter().position(|size| size.image_width_mm > width_mm).filter(|index| *index > 0);
        let Some(upper) = upper else {
            return Err(MountError::NotListed { width_mm, low_mm: first_mm, high_mm: last_mm });
        };
        let lower = upper - 1;
        let (below_mm, above_mm) = (sizes[lower].image_width_mm, sizes[upper].image_width_mm);
        let share = (width_mm - below_mm) / (above_mm - below_mm);
        let bend_mm = self.bend_mm(&sizes, lower, width_mm);
        let bends = bend_mm.map_or_else(
            || "with two sizes only, nothing tells whether a straight line is right".into(),
            |bend_mm| {
                let bend = Mm(bend_mm).gap();
                say!("the listed figures bend {bend} away from a straight line here")
            },
        );
        let says = say!(
            "NOT listed for this size: worked out along a straight line between the listed {} and {} wide in: {}; {bends}. Ask the maker before drilling",
            Mm(below_mm).wall(),
            Mm(above_mm).wall(),
            Name(&self.source)
        );
        let basis = Basis::Between { below_mm, above_mm, bend_mm };
        Ok(self.fit(image, &sizes, (lower, upper), share, basis, says))
    }

    fn fit(
        &self,
        image: Image,
        sizes: &[&ListedSize],
        (lower, upper): (usize, usize),
        share: f64,
        basis: Basis,
        says: Sentence,
    ) -> MountFit {
        let mix = |low: f64, high: f64| low + (high - low) * share;
        let plates = self
            .plates
            .iter()
            .map(|plate| {
                let (low, high) =
                    (offset(sizes[lower], &plate.name), offset(sizes[upper], &plate.name));
                PlacedPlate {
                    plate: plate.clone(),
                    x_mm: mix(low.0, high.0),
                    y_mm: mix(low.1, high.1),
                }
            })
            .collect();
        MountFit {
            source: self.source.clone(),
            basis,
            says,
            plates,
            arm_mm: sizes[lower].arm_mm.zip(sizes[upper].arm_mm).map(|(low, high)| mix(low, high)),
            image_change: self.image_change(image, sizes, lower, upper),
        }
    }

    fn image_change(
        &self,
        image: Image,
        sizes: &[&ListedSize],
        lower: usize,
        upper: usize,
    ) -> Option<ImageChange> {
        // At a listed size the neighbours on both sides tell the slope.
        let (lower, upper) = if lower == upper {
            (lower.saturating_sub(1), (upper + 1).min(sizes.len() - 1))
        } else {
            (lower, upper)
        };
        let listed = || {
            let (low, high) = (sizes[lower], sizes[upper]);
            let arm_mm = high.arm_mm? - low.arm_mm?;
            (arm_mm.abs() > 1e-6).then(|| (high.image_width_mm - low.image_width_mm) / arm_mm)
        };
        let (width_mm_per_mm, from) = match self.throw_ratio {
            Some(ratio) => (1.0 / ratio, "the sheet's throw ratio"),
            None => (listed()?, "the arm figures of the listed sizes on both sides"),
        };
        Some(ImageChange {
            width_mm_per_mm,
            height_mm_per_mm: width_mm_per_mm / image.ratio(),
            diagonal_mm_per_mm: width_mm_per_mm * image.diagonal().0 / image.width.0,
            from,
        })
    }

    /// Largest distance between the straight line and the parabola through the next listed size on
    /// either side.
    fn bend_mm(&self, sizes: &[&ListedSize], lower: usize, width_mm: f64) -> Option<f64> {
        let mut values: Vec<Vec<f64>> = Vec::new();
        for plate in &self.plates {
            values.push(sizes.iter().map(|size| offset(size, &plate.name).0).collect());
            values.push(sizes.iter().map(|size| offset(size, &plate.name).1).collect());
        }
        if let Some(arms) = sizes.iter().map(|size| size.arm_mm).collect::<Option<Vec<f64>>>() {
            values.push(arms);
        }
        let w = |index: usize| sizes[index].image_width_mm;
        let upper = lower + 1;
        let neighbours = [lower.checked_sub(1), (upper + 1 < sizes.len()).then_some(upper + 1)];
        neighbours
            .into_iter()
            .flatten()
            .flat_map(|third| values.iter().map(move |value| (third, value)))
            .map(|(third, value)| {
                let slope = |i: usize, j: usize| (value[j] - value[i]) / (w(j) - w(i));
                let second = (slope(upper, third) - slope(lower, upper)) / (w(third) - w(lower));
                (second * (width_mm - w(lower)) * (width_mm - w(upper))).abs()
            })
            .reduce(f64::max)
    }
}

/// Zeros only for a plate that [`MountSheet::checked`] has already refused.
fn offset(size: &ListedSize, plate: &str) -> (f64, f64) {
    size.plates
        .iter()
        .find(|offset| offset.plate == plate)
        .map_or((0.0, 0.0), |offset| (offset.x_mm, offset.y_mm))
}

#[cfg(test)]
mod tests;
