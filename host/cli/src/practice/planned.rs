//! The simulated room of a job: its board, its emitter on its adjusters; and which job none can be
//! made for.

use crate::jobs;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head::Head;
use skimgauge_bench::room::emitter::Nominal;
use skimgauge_bench::room::relief::Relief;
use skimgauge_bench::room::{Errors, Plan, Room};
use skimgauge_jobfile::{Job, JobErrors, Missing, objection};
use skimgauge_metrology::assess::{MEASURABLE, watched};
use skimgauge_metrology::plane::board::Board;
use skimgauge_model::{Adjuster, Point, Sense};
use skimgauge_quantity::{Mm, Sentence, Style, say};
use std::path::Path;

/// The keys that say how large the image is.
const IMAGE: &[&str] = &["diagonal", "width", "height"];
/// Where the practice emitter's light is above the image's top edge, if the job does not say it.
const ABOVE_TOP: Mm = Mm(80.0);
/// The light stands no nearer above the image's top edge: the head has no room there.
const LEAST_ABOVE_TOP: Mm = Mm(25.0);
/// No side of the image is shorter: the head alone is so large.
const LEAST_SIDE: Mm = Mm(300.0);
/// No place on the image is farther from the light: no emitter was thought of that reaches so far.
const FARTHEST: Mm = Mm(6_000.0);
/// The farthest place of the practice job's own image from its light.
const FARTHEST_OF_DEMO: Mm = Mm(1_700.0);
/// A rough setting by sight stands so far out of the band's middle.
const OUT_OF_THE_MIDDLE_MM: f64 = 0.5;
/// Where the board of chance is at its worst, and where a turn can still be watched: between these
/// the rough setting is aimed, mm.
const AIMED_MM: (f64, f64) = (3.0, 10.0);
/// A board of chance takes no more of the band than this, so that it can be met.
const OF_THE_BAND: f64 = 0.45;
/// The emitter's level as it was set before, out of the middle of what it may be, degrees.
const LEVEL_OUT_DEG: f64 = 0.03;

/// What stands in the way of a simulation, and at which of the keys of which section.
struct Objected {
    section: &'static str,
    keys: &'static [&'static str],
    wrong: Sentence,
    expected: Sentence,
}

/// Whether a room can be simulated for a job.
///
/// # Errors
/// It cannot: with the line in the job file, and what would do.
pub fn can_be_played(path: &Path, job: &Job, text: &str) -> Result<(), JobErrors> {
    jobs::can_be_read(path, job, text)?;
    let looked_at = [
        another_head,
        without_adjusters,
        band_out_of_sight,
        too_small,
        no_room_above,
        out_of_reach,
    ];
    let Some(objected) = looked_at.into_iter().find_map(|look| look(job)) else { return Ok(()) };
    let style = Style::default();
    let (wrong, expected) = (objected.wrong.text(style), objected.expected.text(style));
    let file = path.display().to_string();
    Err(objection((&file, text), (objected.section, objected.keys), wrong, expected))
}

fn another_head(job: &Job) -> Option<Objected> {
    job.head.as_ref().map(|head| Objected {
        section: "head",
        keys: &["serial"],
        wrong: say!(
            "the job is to be measured with head {}, and no simulated one is that",
            &head.serial
        ),
        expected: say!("for practice, # before the lines of [head]"),
    })
}

fn without_adjusters(job: &Job) -> Option<Objected> {
    job.three_adjusters().is_err().then(|| Objected {
        section: "adjuster",
        keys: &[],
        wrong: say!("the job has no [[adjuster]] section: {}", Missing::ADJUSTERS.why),
        expected: say!("three sections that begin with the line [[adjuster]]"),
    })
}

fn band_out_of_sight(job: &Job) -> Option<Objected> {
    let (low, far) = (job.bands.gap.low, watched(MEASURABLE).high);
    (low > far).then(|| Objected {
        section: "band",
        keys: &["gap"],
        wrong: say!(
            "the band begins at {}, and where a turn can be watched ends at {}",
            low.gap(),
            far.gap()
        ),
        expected: say!("the band of the emitter's manual"),
    })
}

fn too_small(job: &Job) -> Option<Objected> {
    let (width, height) = (job.image.width, job.image.height);
    (width.min(height) < LEAST_SIDE).then(|| Objected {
        section: "image",
        keys: IMAGE,
        wrong: say!("an image of {} is not simulated", width.size().by(height.size())),
        expected: say!("sides of {} at the least", LEAST_SIDE.size()),
    })
}

fn no_room_above(job: &Job) -> Option<Objected> {
    let above = above_top(job);
    (above < LEAST_ABOVE_TOP).then(|| Objected {
        section: "emitter",
        keys: &["above_top"],
        wrong: say!(
            "the emitter's light is {} above the image, where the head has no room before it",
            above.size()
        ),
        expected: say!("{} at the least, in the simulation", LEAST_ABOVE_TOP.size()),
    })
}

fn out_of_reach(job: &Job) -> Option<Objected> {
    let far = farthest(job);
    let beside = job.emitter.right_mm.abs() > job.image.width.0 / 2.0;
    (far > FARTHEST).then(|| Objected {
        section: if beside { "emitter" } else { "image" },
        keys: if beside { &["right"] } else { IMAGE },
        wrong: say!(
            "a corner of the image is {} from the emitter's light, and the simulated one reaches {}",
            far.size(),
            FARTHEST.size()
        ),
        expected: say!("a corner that is nearer to the light"),
    })
}

/// The room of a seed for a job that [`can_be_played`], its head not yet zeroed. Where `known` is a
/// survey's, the board has that shape.
pub fn bench(job: &Job, known: Option<&Board>, seed: u64) -> Bench {
    let mut room = Room::planned(seed, &plan(job, known));
    let level_deg = job.bands.level.map_or(0.0, |level| (level.low.0 + level.high.0) / 2.0);
    let half_deg = job.bands.level.map_or(f64::INFINITY, |l| (l.high.0 - l.low.0) / 2.0);
    room.emitter.level_deg = room.board.level_deg + level_deg + LEVEL_OUT_DEG.min(0.2 * half_deg);
    Bench::with(room, Head::new(seed), seed)
}

fn plan(job: &Job, known: Option<&Board>) -> Plan {
    let usual = Plan::default().readable();
    let (width_mm, height_mm) = (job.image.width.0, job.image.height.0);
    let band = job.bands.gap;
    let (smooth_mm, rough_mm) = usual.peak_to_valley_mm;
    let rough_mm = rough_mm.min(OF_THE_BAND * (band.high.0 - band.low.0));
    let relief = known.filter(|board| board.is_surveyed()).map(|board| {
        Relief::told(|u, v| board.height_mm(u * width_mm / 2.0, (v - 1.0) * height_mm / 2.0))
    });
    let mut light = usual.light.clone();
    // An emitter is as strong as the board that it is made for asks.
    let (low, high) = light.volts_at_1_m;
    let stronger = ((farthest(job).0 + 600.0) / (FARTHEST_OF_DEMO.0 + 600.0)).max(1.0);
    light.volts_at_1_m = (low * stronger, high * stronger);
    // Nor does it fan out more, or a small head would not see the whole of its sheet.
    light.spread_mm_per_m.1 /= stronger;
    let middle_mm = (band.low.0 + band.high.0) / 2.0;
    Plan {
        width_mm,
        height_mm,
        adjusters: nominal(job),
        emitter_x_mm: job.emitter.right_mm,
        emitter_y_mm: above_top(job).0,
        places_mm: job.stations.iter().map(|station| (station.at.x.0, station.at.y.0)).collect(),
        relief,
        peak_to_valley_mm: (smooth_mm.min(rough_mm), rough_mm),
        start_gap_mm: (middle_mm + OUT_OF_THE_MIDDLE_MM).clamp(AIMED_MM.0, AIMED_MM.1),
        comes_to_mm: Some(middle_mm),
        errors: Errors {
            // Nobody misses the place of an adjuster by much of the distance between two.
            position_mm: usual.errors.position_mm.min(least_height_mm(&job.adjusters) / 40.0),
            ..usual.errors
        },
        light,
        ..usual
    }
}

/// The adjusters as the job's papers have them, in its order.
pub fn nominal(job: &Job) -> [Nominal; 3] {
    const NAMES: [&str; 3] = ["first", "second", "third"];
    let usual = Plan::default().adjusters;
    std::array::from_fn(|at| {
        job.adjusters.get(at).map_or(usual[at], |adjuster| Nominal {
            name: NAMES[at],
            x_mm: adjuster.at.x.0,
            y_mm: adjuster.at.y.0,
            pitch_mm: adjuster.pitch.0,
            clockwise_out: adjuster.clockwise == Sense::Out,
            clockwise_turns: adjuster.travel_clockwise.0,
            anticlockwise_turns: adjuster.travel_anticlockwise.0,
        })
    })
}

fn above_top(job: &Job) -> Mm {
    job.emitter.above_top_mm.map_or(ABOVE_TOP, Mm)
}

/// What a job leaves unsaid and the room has all the same, for whoever plays it.
pub fn assumed(job: &Job, style: Style) -> Option<String> {
    job.emitter.above_top_mm.is_none().then(|| {
        let says = say!(
            "The job does not say where the emitter's light is: here {} above the image.",
            ABOVE_TOP.size()
        );
        says.text(style)
    })
}

/// From the light to the corner of the image that is farthest from it.
fn farthest(job: &Job) -> Mm {
    let across_mm = job.image.width.0 / 2.0 + job.emitter.right_mm.abs();
    Mm(across_mm.hypot(job.image.height.0 + above_top(job).0))
}

/// The least height of the adjusters' triangle, mm.
fn least_height_mm(adjusters: &[Adjuster]) -> f64 {
    let [a, b, c] = adjusters else { return 0.0 };
    let apart = |one: &Adjuster, other: &Adjuster| Point::apart(one.at, other.at).0;
    let longest_mm = apart(a, b).max(apart(b, c)).max(apart(a, c));
    let twice_mm2 = (b.at.x.0 - a.at.x.0) * (c.at.y.0 - a.at.y.0)
        - (c.at.x.0 - a.at.x.0) * (b.at.y.0 - a.at.y.0);
    twice_mm2.abs() / longest_mm.max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ADJUSTERS: [[f64; 2]; 3] = [[-120.0, 130.0], [120.0, 130.0], [0.0, 60.0]];

    fn job(image: &str, above_top: &str, gap: [f64; 2], places: [[f64; 2]; 3]) -> String {
        let adjusters: String = places
            .iter()
            .enumerate()
            .map(|(at, [right, up])| {
                format!(
                    "[[adjuster]]\nname = \"n{at}\"\nright = \"{right} mm\"\nup = \"{up} mm\"\npitch = \"0.7 mm\"\n\
                     clockwise = \"in\"\ntravel_clockwise = \"{} turns\"\ntravel_anticlockwise = \"3 turns\"\n",
                    if at == 0 { 0 } else { 5 }
                )
            })
            .collect();
        format!(
            "[job]\nname = \"x\"\nby = \"y\"\n[image]\n{image}\n[emitter]\n{above_top}\n{adjusters}\
             [band]\ngap = [\"{} mm\", \"{} mm\"]\n",
            gap[0], gap[1]
        )
    }

    fn told(text: &str) -> Option<String> {
        let job = Job::parse("own.toml", text).unwrap();
        let refused = can_be_played(Path::new("own.toml"), &job, text);
        refused.err().map(|problems| problems.to_string())
    }

    /// Whatever the size, each place is in sight and in light at first, and what is left of the
    /// adjusters' travel brings every place into the band.
    #[test]
    fn a_job_of_ones_own_can_be_read_and_met() {
        let images =
            [(1660.0, 934.0), (2025.0, 1265.0), (3600.0, 1500.0), (420.0, 320.0), (900.0, 2200.0)];
        let bands = [[1.0, 4.0], [3.0, 4.5], [0.8, 2.4], [6.0, 9.0]];
        for (width, height) in images {
            for (gap, above) in bands.into_iter().zip(["30 mm", "80 mm", "80 mm", "400 mm"]) {
                let image = format!("width = \"{width} mm\"\nheight = \"{height} mm\"");
                let text = job(&image, &format!("above_top = \"{above}\""), gap, ADJUSTERS);
                assert_eq!(told(&text), None);
                let job = Job::parse("own.toml", &text).unwrap();
                for seed in 0..6 {
                    can_be_met(&job, gap, seed);
                }
            }
        }
    }

    fn can_be_met(job: &Job, gap: [f64; 2], seed: u64) {
        let bench = bench(job, None, seed);
        bench.scene(|scene| {
            let room = &mut scene.room;
            for station in &job.stations {
                let (x, y) = (station.at.x.0, station.at.y.0);
                let at = room.gap_mm(x, y);
                assert!(
                    (gap[0].min(1.7)..=13.0).contains(&at),
                    "{} {at} {seed}: {job:?}",
                    station.name
                );
                let (far, angle) = (room.emitter.distance_mm(x, y), room.emitter.azimuth_deg(x, y));
                let volts = room.sheet.volts_at(far, angle);
                assert!((0.2..=12.0).contains(&volts), "{} {volts}: {job:?}", station.name);
            }
            let middle_mm = (gap[0] + gap[1]) / 2.0;
            for at in 0..3 {
                let adjuster = room.emitter.adjusters[at].clone();
                let out_mm = middle_mm - room.emitter.start.at(adjuster.x_mm, adjuster.y_mm);
                let sign = if adjuster.clockwise_out { 1.0 } else { -1.0 };
                let (turns, of) = (sign * out_mm / adjuster.pitch_mm, adjuster.nominal);
                let travel = -of.anticlockwise_turns..=of.clockwise_turns;
                assert!(travel.contains(&turns), "{turns} turns of {at}, {seed}: {job:?}");
                // Watched, the gap is brought there whatever play there is.
                room.emitter.adjusters[at].nut_turns = turns;
            }
            let (low, high) = room.gap_range_mm();
            assert!(low > gap[0] && high < gap[1], "{low} to {high}, {seed}: {job:?}");
        });
    }

    #[test]
    fn a_board_that_was_surveyed_stands_as_it_was_surveyed() {
        let text = job("width = \"1660 mm\"\nheight = \"934 mm\"", "", [1.0, 4.0], ADJUSTERS);
        let job = Job::parse("own.toml", &text).unwrap();
        let height_mm = |x: f64, y: f64| 0.4 - 0.4 * (x / 830.0).powi(2) + 0.1 * y / 934.0;
        let places = (0..45).map(|at| {
            let (x, y) = (f64::from(at % 9) * 207.5 - 830.0, f64::from(at / 9) * -233.5);
            [x, y, height_mm(x, y)]
        });
        let known = jobs::through(places.collect(), &job).unwrap();
        let bench = bench(&job, Some(&known), 4);
        for (x, y) in [(-600.0, -300.0), (0.0, -467.0), (700.0, -900.0)] {
            let shape_mm = bench.scene(|scene| scene.room.board.shape_mm(x, y));
            let wanted_mm = height_mm(x, y) - height_mm(0.0, 0.0);
            assert!((shape_mm - wanted_mm).abs() < 0.05, "{x} {y}: {shape_mm} {wanted_mm}");
        }
    }

    #[test]
    fn what_cannot_be_simulated_is_refused_at_its_line() {
        let sides = "width = \"1660 mm\"\nheight = \"934 mm\"";
        let usual = |image, above| job(image, above, [1.0, 4.0], ADJUSTERS);
        let without = usual(sides, "").replace("[[adjuster]]", "#").replace("n0", "n");
        let without: String = without
            .lines()
            .filter(|line| {
                !line.starts_with(['n', 'r', 'u', 'p', 'c', 't']) || line.starts_with("name = \"x")
            })
            .map(|line| format!("{line}\n"))
            .collect();
        for (text, line, says) in [
            (usual("width = \"200 mm\"\nheight = \"934 mm\"", ""), 5, "is not simulated"),
            (usual("diagonal = \"12 in\"\naspect = \"16:9\"", ""), 5, "is not simulated"),
            (usual("diagonal = \"12 m\"\naspect = \"16:9\"", ""), 5, "the simulated one reaches"),
            (usual(sides, "above_top = \"10 mm\""), 8, "has no room before it"),
            (
                usual(sides, "right = \"4900 mm\"\nabove_top = \"1.9 m\""),
                8,
                "the simulated one reaches",
            ),
            (job(sides, "", [13.0, 15.0], ADJUSTERS), 34, "where a turn can be watched ends"),
            (job(sides, "", [0.4, 0.9], ADJUSTERS), 34, "no head sees light nearer"),
            (usual(sides, "") + "[head]\nserial = \"SG-0007\"\n", 36, "no simulated one is that"),
            (without, 13, "the job has no [[adjuster]] section"),
        ] {
            let told = told(&text).unwrap_or_else(|| panic!("{says}: {text}"));
            assert!(
                told.starts_with(&format!("own.toml, line {line}, ")) && told.contains(says),
                "{told}"
            );
        }
    }
}
