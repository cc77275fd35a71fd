//! Whether a mount sheet is complete and without contradictions.

use skimgauge_quantity::{Mm, Name, Sentence, say};

use super::{LISTED_WITHIN_MM, ListedSize, MountError, MountSheet};
use crate::entry::{length_mm, within};

impl MountSheet {
    /// Whether the sheet is complete and without contradictions.
    ///
    /// # Errors
    /// [`MountError`] for the first thing that is wrong.
    pub fn check(&self) -> Result<(), MountError> {
        self.checked().map(drop)
    }

    pub(super) fn checked(&self) -> Result<Vec<&ListedSize>, MountError> {
        let wrong = |what: Sentence| Err(MountError::Sheet(what));
        if self.plates.is_empty() || self.sizes.is_empty() {
            return wrong("enter at least one plate and one listed size".into());
        }
        if let Some(ratio) = self.throw_ratio {
            within("throw ratio (distance over image width)", ratio, 0.05, 10.0, "times")?;
        }
        for (index, plate) in self.plates.iter().enumerate() {
            let name = &plate.name;
            if self.plates[..index].iter().any(|other| other.name == *name) {
                return wrong(say!("two plates are called {}", Name(name)));
            }
            length_mm(say!("width of {}", Name(name)), plate.width_mm, 20.0, 5000.0)?;
            length_mm(say!("height of {}", Name(name)), plate.height_mm, 20.0, 5000.0)?;
            if plate.holes.is_empty() {
                return wrong(say!("{} has no holes", Name(name)));
            }
            for (index, hole) in plate.holes.iter().enumerate() {
                let of = |what: &str| say!("{what} of hole {} in {}", Name(&hole.name), Name(name));
                length_mm(of("x"), hole.x_mm, -plate.width_mm / 2.0, plate.width_mm / 2.0)?;
                length_mm(of("y"), hole.y_mm, -plate.height_mm / 2.0, plate.height_mm / 2.0)?;
                length_mm(of("diameter"), hole.diameter_mm, 1.0, 60.0)?;
                for other in &plate.holes[..index] {
                    let apart_mm = (other.x_mm - hole.x_mm).hypot(other.y_mm - hole.y_mm);
                    if other.name == hole.name
                        || apart_mm < (other.diameter_mm + hole.diameter_mm) / 2.0
                    {
                        return wrong(say!(
                            "holes {} and {} of {} share a name or run into each other",
                            Name(&other.name),
                            Name(&hole.name),
                            Name(name)
                        ));
                    }
                }
            }
        }
        let mut sizes: Vec<&ListedSize> = self.sizes.iter().collect();
        for size in &sizes {
            length_mm("listed image width", size.image_width_mm, 100.0, 20_000.0)?;
            let at = say!("at the listed width {}", Mm(size.image_width_mm).wall());
            if let Some(arm_mm) = size.arm_mm {
                length_mm(say!("arm {at}"), arm_mm, 0.0, 10_000.0)?;
            }
            for plate in &self.plates {
                if size.plates.iter().filter(|offset| offset.plate == plate.name).count() != 1 {
                    return wrong(say!("{} has to be placed once {at}", Name(&plate.name)));
                }
            }
            for offset in &size.plates {
                if self.plates.iter().all(|plate| plate.name != offset.plate) {
                    return wrong(say!(
                        "{} is placed {at} but not among the plates",
                        Name(&offset.plate)
                    ));
                }
                length_mm(
                    say!("x of {} {at}", Name(&offset.plate)),
                    offset.x_mm,
                    -10_000.0,
                    10_000.0,
                )?;
                length_mm(
                    say!("y of {} {at}", Name(&offset.plate)),
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
                wrong(say!("the width {} is listed twice", Mm(pair[0].image_width_mm).wall()))
            }
            None => Ok(sizes),
        }
    }
}
