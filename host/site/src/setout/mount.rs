//! What a mount's maker says for each image size, entered by the user, and what lies between the
//! listed sizes.

use serde::{Deserialize, Serialize};

use crate::entry::{EntryError, length_mm, within};
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
    Sheet(String),
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
    pub says: String,
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
            let says = format!(
                "listed for an image {:.0} mm wide in: {}",
                sizes[index].image_width_mm, self.source
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
            || "with two sizes only, nothing tells whether a straight line is right".to_owned(),
            |bend_mm| {
                format!("the listed figures bend {bend_mm:.1} mm away from a straight line here")
            },
        );
        let says = format!(
            "NOT listed for this size: worked out along a straight line between the listed {below_mm:.0} mm and {above_mm:.0} mm wide in: {}; {bends}. Ask the maker before drilling",
            self.source
        );
        let basis = Basis::Between { below_mm, above_mm, bend_mm };
        Ok(self.fit(image, &sizes, (lower, upper), share, basis, says))
    }

    /// Whether the sheet is complete and without contradictions.
    ///
    /// # Errors
    /// [`MountError`] for the first thing that is wrong.
    pub fn check(&self) -> Result<(), MountError> {
        self.checked().map(drop)
    }

    fn checked(&self) -> Result<Vec<&ListedSize>, MountError> {
        let wrong = |what: String| Err(MountError::Sheet(what));
        if self.plates.is_empty() || self.sizes.is_empty() {
            return wrong("enter at least one plate and one listed size".to_owned());
        }
        if let Some(ratio) = self.throw_ratio {
            within("throw ratio (distance over image width)", ratio, 0.05, 10.0, "times")?;
        }
        for (index, plate) in self.plates.iter().enumerate() {
            let name = &plate.name;
            if self.plates[..index].iter().any(|other| other.name == *name) {
                return wrong(format!("two plates are called {name}"));
            }
            length_mm(&format!("width of {name}"), plate.width_mm, 20.0, 5000.0)?;
            length_mm(&format!("height of {name}"), plate.height_mm, 20.0, 5000.0)?;
            if plate.holes.is_empty() {
                return wrong(format!("{name} has no holes"));
            }
            for (index, hole) in plate.holes.iter().enumerate() {
                let of = |what: &str| format!("{what} of hole {} in {name}", hole.name);
                length_mm(&of("x"), hole.x_mm, -plate.width_mm / 2.0, plate.width_mm / 2.0)?;
                length_mm(&of("y"), hole.y_mm, -plate.height_mm / 2.0, plate.height_mm / 2.0)?;
                length_mm(&of("diameter"), hole.diameter_mm, 1.0, 60.0)?;
                for other in &plate.holes[..index] {
                    let apart_mm = (other.x_mm - hole.x_mm).hypot(other.y_mm - hole.y_mm);
                    if other.name == hole.name
                        || apart_mm < (other.diameter_mm + hole.diameter_mm) / 2.0
                    {
                        return wrong(format!(
                            "holes {} and {} of {name} share a name or run into each other",
                            other.name, hole.name
                        ));
                    }
                }
            }
        }
        let mut sizes: Vec<&ListedSize> = self.sizes.iter().collect();
        for size in &sizes {
            length_mm("listed image width", size.image_width_mm, 100.0, 20_000.0)?;
            let at = format!("at the listed width {:.0} mm", size.image_width_mm);
            if let Some(arm_mm) = size.arm_mm {
                length_mm(&format!("arm {at}"), arm_mm, 0.0, 10_000.0)?;
            }
            for plate in &self.plates {
                if size.plates.iter().filter(|offset| offset.plate == plate.name).count() != 1 {
                    return wrong(format!("{} has to be placed once {at}", plate.name));
                }
            }
            for offset in &size.plates {
                if self.plates.iter().all(|plate| plate.name != offset.plate) {
                    return wrong(format!(
                        "{} is placed {at} but not among the plates",
                        offset.plate
                    ));
                }
                length_mm(
                    &format!("x of {} {at}", offset.plate),
                    offset.x_mm,
                    -10_000.0,
                    10_000.0,
                )?;
                length_mm(
                    &format!("y of {} {at}", offset.plate),
                    offset.y_mm,
                    -10_000.0,
                    10_000.0,
                )?;
            }
        }
        sizes.sort_by(|a, b| a.image_width_mm.total_cmp(&b.image_width_mm));
        match sizes
            .windows(2)
            .find(|pair| pair[1].image_width_mm - pair[0].image_width_mm <= 2.0 * LISTED_WITHIN_MM)
        {
            Some(pair) => {
                wrong(format!("the width {:.0} mm is listed twice", pair[0].image_width_mm))
            }
            None => Ok(sizes),
        }
    }

    fn fit(
        &self,
        image: Image,
        sizes: &[&ListedSize],
        (lower, upper): (usize, usize),
        share: f64,
        basis: Basis,
        says: String,
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
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn sheet(listed: &[(f64, f64, Option<f64>)]) -> MountSheet {
        let hole = |name: &str, x_mm: f64| Hole {
            name: name.to_owned(),
            x_mm,
            y_mm: 0.0,
            diameter_mm: 8.0,
        };
        MountSheet {
            source: "test sheet".to_owned(),
            aspect: Some(Aspect { wide: 16.0, high: 10.0 }),
            throw_ratio: None,
            plates: vec![Plate {
                name: "centre plate".to_owned(),
                role: PlateRole::Centre,
                width_mm: 200.0,
                height_mm: 100.0,
                holes: vec![hole("1", -80.0), hole("2", 80.0)],
            }],
            sizes: listed
                .iter()
                .map(|&(image_width_mm, y_mm, arm_mm)| ListedSize {
                    image_width_mm,
                    arm_mm,
                    plates: vec![PlateOffset { plate: "centre plate".to_owned(), x_mm: 0.0, y_mm }],
                })
                .collect(),
        }
    }

    fn image(width_mm: f64) -> Image {
        Image::mm(width_mm, width_mm / 1.6)
    }

    #[test]
    fn a_listed_size_is_given_as_listed() {
        let fit = sheet(&[(2000.0, 300.0, None), (1800.0, 270.0, None)]).at(image(1800.2)).unwrap();
        assert_eq!(fit.basis, Basis::Listed);
        assert_eq!(fit.plates[0].y_mm, 270.0);
        assert!(fit.image_change.is_none());
    }

    #[test]
    fn between_sizes_it_says_so_and_how_far_they_bend() {
        // y = w^2 / 10 000: between 1800 and 2000 the straight line is off by (w-1800)(2000-w)/10
        // 000 = 1 mm at 1900.
        let parabola = |w: f64| (w, w * w / 1e4, None);
        let fit = sheet(&[parabola(1600.0), parabola(1800.0), parabola(2000.0)])
            .at(image(1900.0))
            .unwrap();
        let Basis::Between { bend_mm, .. } = fit.basis else { panic!("{:?}", fit.basis) };
        assert!((bend_mm.unwrap() - 1.0).abs() < 1e-9);
        assert!((fit.plates[0].y_mm - 362.0).abs() < 1e-9);
        assert!(fit.says.starts_with("NOT listed"));
    }

    #[test]
    fn nothing_is_guessed_beyond_the_sheet() {
        let sheet = sheet(&[(1800.0, 270.0, None), (2000.0, 300.0, None)]);
        for width_mm in [1700.0, 2100.0] {
            assert!(
                sheet.at(image(width_mm)).unwrap_err().to_string().contains("nothing is guessed")
            );
        }
        assert!(matches!(
            sheet.at(Image::mm(1900.0, 1900.0 / 16.0 * 9.0)),
            Err(MountError::OtherAspect { .. })
        ));
    }

    #[test]
    fn the_image_grows_with_the_arm() {
        let mut sheet = sheet(&[(1800.0, 270.0, Some(400.0)), (2000.0, 300.0, Some(450.0))]);
        let change = sheet.at(image(1900.0)).unwrap().image_change.unwrap();
        assert!(
            (change.width_mm_per_mm - 4.0).abs() < 1e-12
                && (change.height_mm_per_mm - 2.5).abs() < 1e-12
        );
        assert!((change.diagonal_mm_per_mm - 4.0 * 1.6_f64.hypot(1.0) / 1.6).abs() < 1e-12);
        sheet.throw_ratio = Some(0.35);
        assert!(
            (sheet.at(image(1900.0)).unwrap().image_change.unwrap().width_mm_per_mm - 1.0 / 0.35)
                .abs()
                < 1e-12
        );
    }

    #[test]
    fn gaps_in_the_sheet_are_named() {
        let mut missing = sheet(&[(1800.0, 270.0, None), (2000.0, 300.0, None)]);
        missing.sizes[1].plates.clear();
        assert!(
            missing
                .at(image(1900.0))
                .unwrap_err()
                .to_string()
                .contains("centre plate has to be placed once at the listed width 2000")
        );
        assert!(
            sheet(&[(1800.0, 1.0, None), (1800.4, 2.0, None)])
                .at(image(1800.0))
                .unwrap_err()
                .to_string()
                .contains("listed twice")
        );
        let mut crowded = sheet(&[(1800.0, 270.0, None)]);
        crowded.plates[0].holes[1].x_mm = -76.0;
        assert!(crowded.at(image(1800.0)).unwrap_err().to_string().contains("run into each other"));
    }

    proptest! {
        #[test]
        fn between_two_sizes_nothing_leaves_their_range(w in 1801.0..1999.0_f64, low in -500.0..500.0_f64, high in -500.0..500.0_f64) {
            let y_mm = sheet(&[(1800.0, low, None), (2000.0, high, None)]).at(image(w)).unwrap().plates[0].y_mm;
            prop_assert!((low.min(high) - 1e-9..=low.max(high) + 1e-9).contains(&y_mm));
        }
    }
}
