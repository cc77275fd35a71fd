//! Whether the zero in force belongs to this job's board. What the laser reads of another material
//! than that of the zero differs, and nothing in the readings shows it: where the record does not
//! know this zero it is counted.

use super::Takes;
use super::stations::STATED_DOF;
use skimgauge_metrology::measure::{Limits, Material};
use skimgauge_metrology::plane::seating::{Seating, StatedSeat};
use skimgauge_quantity::{Mm, say};
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
        // Held against the gauge later, the same constants keep the seats of when they were found.
        let of_these = self.zeroed_here.iter().filter(|here| here.constants == *constants);
        self.zero_seats = of_these.map(|here| here.seats_mm.clone()).collect();
        let stated_mm = Limits::default().seat_u_mm;
        let seating = self.seating_at_zero(stated_mm);
        let seat = match seating.shown_mm {
            Some(_) => (seating.u_mm, Some(seating.dof)),
            None => (stated_mm, None),
        };
        let worse = seating.is_worse && self.observer.limits().seat_u_mm != seat.0;
        self.observer.seats_scatter(seat.0, seat.1);
        self.observer.zeroed(material);
        if let Some(shown_mm) = seating.shown_mm.filter(|_| worse) {
            let says = say!(
                "When this head was zeroed on this board its seats scattered by {}, more than is stated of them: that is \
                 reckoned with at every station. Is there dirt under its feet?",
                Mm(shown_mm).gap()
            );
            self.say(now, false, says);
        }
        if says {
            let says = say!(
                "This head's zero was not made on this board: its material may move the laser by up to {}, which is \
                 counted. For a surer gap hold it against the gauge on this board: zero --check, with this job.",
                most.gap()
            );
            self.say(now, false, says);
        }
    }

    /// How seats scatter: as stated, standard uncertainty, mm, and as they did when the zero in force
    /// was found on this board.
    pub(crate) fn seating_at_zero(&self, stated_mm: f64) -> Seating {
        let seats: Vec<&[f64]> = self.zero_seats.iter().map(Vec::as_slice).collect();
        Seating::of(StatedSeat { u_mm: stated_mm, dof: STATED_DOF }, &seats)
    }
}

#[cfg(test)]
mod tests {
    use crate::takes::{Begin, ZeroedHere};
    use crate::trial::{SEATED, Trial, head};
    use crate::word::Word;
    use skimgauge_metrology::measure::{Fault, Limits, Material, Source};
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
        let constants = head().calibration.calibration;
        ZeroedHere { constants, material, seats_mm: Vec::new() }
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

    /// What a seat adds to a take, with its degrees of freedom, after a zero whose seats scattered so.
    fn seat(seats_mm: &[f64]) -> (f64, Option<f64>, String) {
        let mut trial = Trial::begun(|mut begin| {
            begin.job.limits.material = Mm(0.2);
            let here = ZeroedHere { seats_mm: seats_mm.to_vec(), ..here(Material::default()) };
            // Held against the gauge since: its seats are those of the zero.
            let checked = self::here(Material::checked(0.01, 0.01));
            Begin { zeroed_here: vec![here, checked], ..begin }
        });
        trial.read(SEATED, 3_000);
        let [kept] = &trial.say(Word::Take)[..] else { panic!("{}", trial.heard()) };
        let part = kept.take.parts.iter().find(|part| part.source == Source::Seating).unwrap();
        (part.effect_mm, part.dof, trial.heard())
    }

    /// The seats of the zero, together with what is stated of every head, are what a seat is reckoned
    /// with at every station.
    #[test]
    fn the_seats_of_the_zero_tell_how_a_seat_scatters() {
        let stated = Limits::default().seat_u_mm;
        assert_eq!((seat(&[]).0, seat(&[]).1), (stated, None));
        // By hand: ten degrees of freedom of the statement, two of three seats.
        let (u_mm, dof, said) = seat(&[0.02, -0.02, 0.0]);
        let wanted = ((10.0 * stated * stated + 0.0008) / 12.0).sqrt();
        assert!((u_mm - wanted).abs() < 1e-12 && dof == Some(12.0), "{u_mm} {dof:?}");
        assert!(!said.contains("scattered"), "{said}");
        // Far more than stated: the seats alone are believed, and it is said.
        let (u_mm, dof, said) = seat(&[0.3, -0.3, 0.0]);
        assert!((u_mm - 0.3).abs() < 1e-12 && dof == Some(2.0), "{u_mm} {dof:?}");
        assert!(said.contains("its seats scattered by 0.30 mm"), "{said}");
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
