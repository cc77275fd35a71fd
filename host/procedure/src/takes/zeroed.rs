//! Whether the zero in force belongs to this job's board. What the laser reads of another material
//! than that of the zero differs, and nothing in the readings shows it: where the record does not
//! know this zero it is counted.

use super::Takes;
use skimgauge_metrology::measure::Material;
use skimgauge_quantity::say;
use skimgauge_session::HeadIs;
use std::time::Duration;

impl Takes {
    /// A head is there, with these constants.
    pub(super) fn looks_where_zeroed(&mut self, now: Duration, head: &HeadIs) {
        let constants = &head.calibration.calibration;
        let here = self.zeroed_here.iter().rev().find(|here| here.constants == *constants);
        let most = self.job.limits.material;
        let material = here.map_or_else(|| Material::elsewhere(most.0), |here| here.material);
        // Said once, and again with another head.
        let says = material.elsewhere && self.observer.limits().material != material;
        self.observer.zeroed(material);
        if says {
            let says = say!(
                "This head's zero was not made on this board: its material may move the laser by up to {}, which is \
                 counted. For a surer gap hold it against the gauge on this board: zero --check, with this job.",
                most.gap()
            );
            self.say(now, false, says);
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::takes::{Begin, ZeroedHere};
    use crate::trial::{SEATED, Trial, head};
    use crate::word::Word;
    use skimgauge_metrology::measure::{Fault, Material, Source};
    use skimgauge_quantity::Mm;
    use skimgauge_shared::units::Micrometres;

    /// A take's uncertainty and its share of the board's material, mm, on a job with so much for it,
    /// and what was said and noticed.
    fn taken(most_mm: f64, here: &[ZeroedHere]) -> (f64, f64, bool, String) {
        let mut trial = Trial::begun(|mut begin| {
            begin.job.limits.material = Mm(most_mm);
            Begin { zeroed_here: here.to_vec(), ..begin }
        });
        trial.read(SEATED, 3_000);
        let view = trial.view();
        let noticed = view.advice().is_some_and(|one| one.fault == Fault::ZeroedElsewhere);
        // It can wait: nothing has to be done about it before a take.
        assert_eq!(view.in_the_way, None);
        let [kept] = &trial.say(Word::Take)[..] else { panic!("{}", trial.heard()) };
        (kept.take.u_mm, kept.take.effect_mm(Source::Material), noticed, trial.heard())
    }

    fn here(material: Material) -> ZeroedHere {
        ZeroedHere { constants: head().calibration.calibration, material }
    }

    #[test]
    fn a_zero_that_the_record_does_not_know_of_this_board_counts_its_material_and_says_so() {
        let (u_mm, material_mm, noticed, said) = taken(0.2, &[]);
        // A rectangular distribution of 0.2 mm either way.
        assert!((material_mm - 0.1155).abs() < 1e-4 && u_mm > material_mm && noticed);
        assert!(said.contains("may move the laser by up to 0.20 mm"), "{said}");
        let mut other = here(Material::default());
        other.constants.zero = other.constants.zero + Micrometres(1);
        assert_eq!(taken(0.2, &[other]).1, material_mm, "another zero's");
    }

    #[test]
    fn a_zero_of_this_board_or_one_that_was_found_to_hold_on_it_does_not() {
        let (u_mm, material_mm, noticed, said) = taken(0.2, &[here(Material::default())]);
        assert!(material_mm == 0.0 && !noticed && u_mm < taken(0.2, &[]).0, "{u_mm}");
        assert!(!said.contains("material"), "{said}");
        // Found to be 0.03 mm off, known to 0.04: the two together. The later counts.
        let checked = [here(Material::default()), here(Material::checked(0.03, 0.04))];
        let (_, material_mm, noticed, _) = taken(0.2, &checked);
        assert!((material_mm - 0.05).abs() < 1e-9 && !noticed);
        // Whoever knows that the material is the gauge's own says so.
        assert_eq!(taken(0.0, &[]).1, 0.0);
        assert!(!taken(0.0, &[]).2);
    }
}
