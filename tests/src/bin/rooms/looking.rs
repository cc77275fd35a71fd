//! What is done for a verdict besides takes at the edge: a survey, a straightedge.

use crate::room::READING_U_MM;
use crate::trial::{SIZE_MM, Trial};
use skimgauge_metrology::plane::board::{Board, Shape};
use skimgauge_metrology::plane::fit::PlaneFit;
use skimgauge_metrology::plane::surface::Surface;
use skimgauge_metrology::plane::unseen::LookedOver;
use skimgauge_metrology::trim::plan::Task;
use skimgauge_metrology::trim::survey::{Standing, survey_now};
use skimgauge_metrology::verdict::whole::WholeVerdict;
use skimgauge_model::{Point, Station};

/// To run a straightedge over the board, s. Common practice, no source.
const LOOK_OVER_S: f64 = 60.0;
/// Whoever does that finds so many of the dents and bumps that are higher than this, mm.
const FINDS: (f64, f64) = (0.9, 0.3);

impl Trial {
    /// Surveys where that is to be done now; whether anything was.
    pub(super) fn take_survey(&mut self, found: &PlaneFit, whole: &WholeVerdict) -> Option<bool> {
        let ground = self.ground(found);
        let surveyed: Vec<(f64, f64)> = self.survey.iter().map(|p| (p[0], p[1])).collect();
        let Some(looking) = survey_now(&Standing {
            ground: &ground,
            whole,
            best: self.best.as_ref()?,
            surveyed: &surveyed,
            band: self.band,
            u_mm: self.seating.u_mm.hypot(READING_U_MM),
            person: self.person,
            round_s: Task::round_s(&self.person, self.stations.len()),
        }) else {
            return Some(false);
        };
        self.seconds += looking.seconds;
        self.survey_at(looking.places, found)?;
        Some(true)
    }

    /// Surveys these places, and, the first time, the stations.
    fn survey_at(&mut self, mut places: Vec<(f64, f64)>, found: &PlaneFit) -> Option<()> {
        if self.survey.is_empty() {
            places.extend(found.consistency.places.iter().map(|p| (p.x_mm, p.y_mm)));
        }
        for (x_mm, y_mm) in places {
            let place = Station { name: String::new(), at: Point::mm(x_mm, y_mm) };
            // The touch plane is the straightedge.
            let height_mm = found.plane.height_mm(x_mm, y_mm) - self.room.take_mm(&place);
            self.survey.push([x_mm, y_mm, height_mm]);
        }
        let u_mm = self.seating.u_mm.hypot(READING_U_MM);
        let surface = Surface::new(self.survey.clone(), u_mm, SIZE_MM, self.expected).ok()?;
        self.board = Board::surveyed(Shape::Surface(surface), 0.0);
        Some(())
    }

    /// Runs a straightedge over the board, and surveys what is found.
    pub(super) fn look_over(&mut self, found: &PlaneFit) {
        self.looks_over = false;
        self.seconds += LOOK_OVER_S;
        let (finds, from_mm) = FINDS;
        let dent = self.room.dent().filter(|dent| dent[2].abs() > from_mm);
        let dent = dent.filter(|_| self.room.noise.chance(finds));
        let Some([x_mm, y_mm, _]) = dent else {
            self.expected = self.expected.looked_over(LookedOver::Nothing);
            self.ground = None;
            return;
        };
        self.expected = self.expected.looked_over(LookedOver::Surveyed);
        self.seconds += self.person.survey_s(1);
        if self.survey_at(vec![(x_mm, y_mm)], found).is_some() {
            self.anew = true;
        }
    }
}
