//! By which parts of the job file each step stands: one table. A step that was done by one value and
//! has another in the job file now is to be done again; what the table does not name may change.

use crate::step::Step;
use serde::Serialize;
use serde_json::{Value, json};
use skimgauge_jobfile::JobFile;

/// A part of the job file, as far as a step stands by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The image's rectangle.
    Image,
    /// Where on the wall it goes.
    Place,
    /// The whole room, with that.
    Room,
    /// Where the emitter's light and body go.
    Emitter,
    /// Which emitter hangs there, and where.
    Mounted,
    /// The adjusters' names and pitch: on which screws it sits.
    Screws,
    /// The mount's plates and holes.
    Mount,
    /// Loads, anchors, what they may carry, proof loads.
    Fixings,
    /// How far off square the image may stay.
    MayRemain,
    /// Lengths taped.
    Tape,
    /// Corners against their marks.
    Corners,
    /// Places and pitch of the adjusters.
    Adjusters,
    /// What gap, level and lean may be.
    Band,
    /// What the gap may be.
    GapBand,
    /// Where the head is clipped.
    Stations,
    /// What the board may do between the places read.
    Board,
    /// How well seat and board are known to read.
    Reading,
    /// Which file has the board's shape.
    Survey,
    /// What touch may miss by.
    Touch,
}

use Part::{
    Adjusters, Band, Board, Corners, Emitter, Fixings, GapBand, Image, MayRemain, Mount, Mounted,
    Place, Reading, Room, Screws, Stations, Survey, Tape, Touch,
};

/// The table. A step that is not in it stands by no number of the job file.
const TABLE: [(Step, &[Part]); 10] = [
    (Step::SetOut, &[Image, Room, Emitter, Mount]),
    (Step::Fixings, &[Fixings]),
    (Step::Hanging, &[Image]),
    (Step::Focus, &[Image]),
    (Step::Square, &[Image, Place, MayRemain, Tape, Corners]),
    (Step::Emitter, &[Image, Place, Mounted, Screws]),
    (Step::Survey, &[Image, Place, GapBand, Board]),
    (Step::Trim, &[Image, Place, Adjusters, Band, Stations, Board, Reading, Survey]),
    (Step::Proof, &[Image, Place, Touch]),
    (Step::AsLeft, &[Image, Place]),
];

impl Part {
    /// As it is named to the person: by its section.
    pub fn named(self) -> &'static str {
        match self {
            Image => "[image]",
            Place => "the image's place in [room]",
            Room => "[room]",
            Emitter | Mounted => "[emitter]",
            Screws => "name or pitch of an [[adjuster]]",
            Mount => "[mount]",
            Fixings => "[fixings]",
            MayRemain => "square in [limits]",
            Tape => "[tape]",
            Corners => "[corners]",
            Adjusters => "[[adjuster]]",
            Band => "[band]",
            GapBand => "gap in [band]",
            Stations => "[[station]]",
            Board => "[board]",
            Reading => "seat or material in [limits]",
            Survey => "[survey]",
            Touch => "[touch]",
        }
    }

    fn value(self, job: &JobFile) -> Value {
        match self {
            Image => value(&job.image),
            Place => value(&job.room.as_ref().map(|plan| plan.place)),
            Room => value(&job.room),
            Emitter => value(&job.emitter.place()),
            Mounted => json!({ "model": job.emitter.model, "place": job.emitter.place() }),
            Screws => job.adjusters.iter().map(|screw| json!([screw.name, screw.pitch])).collect(),
            Mount => value(&job.mount),
            Fixings => value(&job.fixings),
            MayRemain => value(&job.limits.square),
            Tape => value(&job.tape),
            Corners => value(&job.corners),
            Adjusters => value(&job.adjusters),
            Band => value(&job.bands),
            GapBand => value(&job.bands.map(|bands| bands.gap)),
            Stations => value(&job.stations),
            Board => value(&job.board),
            Reading => json!([job.limits.seat, job.limits.material]),
            Survey => value(&job.survey),
            Touch => value(&job.touch),
        }
    }

    fn differs(self, kept: &JobFile, now: &JobFile) -> bool {
        let (kept, mut now) = (self.value(kept), self.value(now));
        // Work that needs no place of the image on the wall did not stand by one that is said later;
        // nor was the emitter hung by what is measured of it when it hangs.
        let first_said = match self {
            Place => kept.is_null(),
            Screws => kept.as_array().is_some_and(Vec::is_empty),
            Mounted => {
                leave_out_first_said(&kept, &mut now);
                false
            }
            _ => false,
        };
        !first_said && !same(&kept, &now)
    }
}

/// What was not said before is left as it was.
fn leave_out_first_said(kept: &Value, now: &mut Value) {
    match (kept, now) {
        (Value::Null, now) => *now = Value::Null,
        (Value::Object(kept), Value::Object(now)) => {
            for (key, now) in now {
                leave_out_first_said(kept.get(key).unwrap_or(&Value::Null), now);
            }
        }
        _ => {}
    }
}

fn value(of: &impl Serialize) -> Value {
    serde_json::to_value(of).unwrap_or(Value::Null)
}

/// By which parts a step stands.
pub fn stands_by(step: Step) -> &'static [Part] {
    TABLE.iter().find(|(of, _)| *of == step).map_or(&[], |(_, parts)| parts)
}

/// Which of the parts that the step stands by are others now than when it was done.
pub fn changed(step: Step, kept: &JobFile, now: &JobFile) -> Vec<Part> {
    stands_by(step).iter().copied().filter(|part| part.differs(kept, now)).collect()
}

/// The same length written in another unit is the same, to the last digit that anybody measures.
const ALIKE: f64 = 1e-6;

fn same(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => match (a.as_f64(), b.as_f64()) {
            (Some(a), Some(b)) => (a - b).abs() <= ALIKE,
            _ => a == b,
        },
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b))
        }
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(key, a)| b.get(key).is_some_and(|b| same(a, b)))
        }
        _ => a == b,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const JOB: &str = "[job]\nname = \"Hall 3\"\n[image]\nwidth = \"2025 mm\"\nheight = \"1265.6 mm\"\n\
                       [band]\ngap = [\"1.0 mm\", \"4.0 mm\"]\n";

    fn job(text: &str) -> JobFile {
        JobFile::read("job file", text).unwrap()
    }

    #[test]
    fn each_step_is_in_the_table_once_and_names_no_part_twice() {
        for (at, (step, parts)) in TABLE.iter().enumerate() {
            assert!(TABLE[..at].iter().all(|(before, _)| before < step), "{step:?}");
            for (at, part) in parts.iter().enumerate() {
                assert!(!parts[..at].contains(part), "{step:?}: {part:?}");
            }
        }
    }

    #[test]
    fn another_band_changes_the_verdict_and_nothing_that_comes_before_it() {
        let wider = JOB.replace("4.0 mm", "5.0 mm");
        let of = |step| changed(step, &job(JOB), &job(&wider));
        assert_eq!(of(Step::Trim), [Part::Band]);
        assert_eq!(of(Step::Survey), [Part::GapBand]);
        for step in [Step::SetOut, Step::Fixings, Step::Square, Step::Proof, Step::AsLeft] {
            assert_eq!(of(step), [], "{step:?}");
        }
    }

    #[test]
    fn the_same_size_in_another_unit_is_the_same() {
        let inches = format!("{} in", 2025.0 / 25.4);
        let other = JOB.replace("2025 mm", &inches);
        assert_eq!(changed(Step::Trim, &job(JOB), &job(&other)), []);
        let other = JOB.replace("2025 mm", "2025.2 mm");
        assert_eq!(changed(Step::Square, &job(JOB), &job(&other)), [Part::Image]);
    }
}
