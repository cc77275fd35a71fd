//! What is too near, too far, in the way or off the wall.

use serde::Serialize;
use skimgauge_quantity::{Mm, Name, Sentence, say};

use super::emitter::Light;
use super::room::{Area, Room};

/// Free margin round the image, mm: common practice, no source.
pub const ROUND_IMAGE_MM: f64 = 50.0;
/// Image's top edge up to the emitter's light, mm: common practice, no source.
pub const IMAGE_TO_EMITTER_MM: (f64, f64) = (50.0, 100.0);

/// How a free distance compares with what is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fit {
    /// As wanted.
    Enough,
    /// Nearer than wanted.
    Short,
    /// Farther than wanted.
    Far,
    /// The two overlap.
    Overlaps,
    /// Nothing is wanted of it.
    Stated,
}

/// A free distance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Clearance {
    /// From what.
    pub from: String,
    /// To what.
    pub to: String,
    /// Free distance, mm; zero where the two overlap.
    pub clear_mm: f64,
    /// Least wanted, mm.
    pub least_mm: Option<f64>,
    /// Most wanted, mm.
    pub most_mm: Option<f64>,
    /// Compared.
    pub fit: Fit,
    /// Where the wanted figure comes from.
    pub basis: &'static str,
}

/// Something that has to be changed before anything is drilled.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stop {
    /// What kind.
    pub kind: StopKind,
    /// What to do about it, in a sentence.
    pub says: Sentence,
}

/// Kinds of [`Stop`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StopKind {
    /// Two things want the same place.
    Collides,
    /// Something reaches beyond the wall.
    OffTheWall,
    /// Something stands in the light's way.
    ShadesTheLight,
}

/// A thing to be mounted.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Thing {
    pub(crate) name: String,
    pub(crate) area: Area,
}

const PRACTICE: &str = "common practice, no source";

fn compare(clear_mm: f64, overlaps: bool, least_mm: Option<f64>, most_mm: Option<f64>) -> Fit {
    if overlaps {
        Fit::Overlaps
    } else if least_mm.is_some_and(|least| clear_mm < least) {
        Fit::Short
    } else if most_mm.is_some_and(|most| clear_mm > most) {
        Fit::Far
    } else if least_mm.is_some() || most_mm.is_some() {
        Fit::Enough
    } else {
        Fit::Stated
    }
}

/// Free distances round the image and above it.
pub(crate) fn clearances(
    image: &Area,
    emitter: Option<&Thing>,
    light: Option<Light>,
    room: &Room,
) -> Vec<Clearance> {
    let mut found = Vec::new();
    let mut state = |from: &str, to: &str, clear_mm: f64, overlaps: bool, least_mm, most_mm| {
        found.push(Clearance {
            from: from.to_owned(),
            to: to.to_owned(),
            clear_mm,
            least_mm,
            most_mm,
            fit: compare(clear_mm, overlaps, least_mm, most_mm),
            basis: PRACTICE,
        });
    };
    let least_mm = Some(ROUND_IMAGE_MM);
    let wall = room.wall();
    for (to, clear_mm) in [
        ("ceiling", wall.top_mm - image.top_mm),
        ("floor", image.bottom_mm),
        ("left end of the wall", image.left_mm),
        ("right end of the wall", wall.right_mm - image.right_mm),
    ] {
        state("image", to, clear_mm, false, least_mm, None);
    }
    for obstacle in &room.obstacles {
        let area = obstacle.area();
        state(
            "image",
            &obstacle.name,
            image.clear_mm(&area),
            image.overlap_mm(&area).is_some(),
            least_mm,
            None,
        );
    }
    if let Some(light) = light {
        let (least_mm, most_mm) = IMAGE_TO_EMITTER_MM;
        let up_mm = light.above_floor_mm - image.top_mm;
        state("image's top", "emitter's light", up_mm, up_mm < 0.0, Some(least_mm), Some(most_mm));
    }
    if let Some(emitter) = emitter {
        let clear_mm = emitter.area.bottom_mm - image.top_mm;
        let overlaps = image.overlap_mm(&emitter.area).is_some();
        state("image's top", &emitter.name, clear_mm, overlaps, None, None);
        state(&emitter.name, "ceiling", wall.top_mm - emitter.area.top_mm, false, None, None);
    }
    found
}

/// What collides, what is off the wall, and what stands between the emitter and the image's lower
/// edge.
pub(crate) fn stops(
    things: &[Thing],
    image: &Area,
    emitter: Option<&Thing>,
    light: Option<Light>,
    room: &Room,
) -> Vec<Stop> {
    let mut stops = Vec::new();
    let mut stop = |kind, says: Sentence| stops.push(Stop { kind, says });
    let wall = room.wall();
    for (index, thing) in things.iter().enumerate() {
        for (beyond_mm, end) in [
            (-thing.area.left_mm, "left end"),
            (thing.area.right_mm - wall.right_mm, "right end"),
            (-thing.area.bottom_mm, "foot"),
            (thing.area.top_mm - wall.top_mm, "top"),
        ] {
            if beyond_mm > 0.0 {
                stop(
                    StopKind::OffTheWall,
                    say!(
                        "{} reaches {} beyond the wall's {end}: move the image, or measure the wall again",
                        Name(&thing.name),
                        Mm(beyond_mm).wall()
                    ),
                );
            }
        }
        let rest = things[index + 1..].iter().map(|other| (&other.name, other.area));
        let others =
            rest.chain(room.obstacles.iter().map(|obstacle| (&obstacle.name, obstacle.area())));
        for (name, area) in others {
            if let Some((across_mm, upright_mm)) = thing.area.overlap_mm(&area) {
                stop(
                    StopKind::Collides,
                    say!(
                        "{} and {} overlap by {} across and {} upright: move one of them",
                        Name(&thing.name),
                        Name(name),
                        Mm(across_mm).wall(),
                        Mm(upright_mm).wall()
                    ),
                );
            }
        }
    }
    // Light goes from where it leaves to all of the image; where only the body is known, from its
    // lower edge.
    let from =
        light.map(|light| (light.from_wall_left_mm, light.from_wall_left_mm, light.above_floor_mm));
    let from =
        from.or(emitter.map(|body| (body.area.left_mm, body.area.right_mm, body.area.bottom_mm)));
    if let Some((left_mm, right_mm, top_mm)) = from {
        let path = Area {
            left_mm: image.left_mm.min(left_mm),
            right_mm: image.right_mm.max(right_mm),
            bottom_mm: image.bottom_mm,
            top_mm,
        };
        for obstacle in &room.obstacles {
            let area = obstacle.area();
            if obstacle.off_wall_mm > 0.0
                && path.overlap_mm(&area).is_some()
                && image.overlap_mm(&area).is_none()
            {
                stop(
                    StopKind::ShadesTheLight,
                    say!(
                        "{} stands {} out between the emitter and the image: it shades the touch plane; move it or the image",
                        Name(&obstacle.name),
                        Mm(obstacle.off_wall_mm).wall()
                    ),
                );
            }
        }
    }
    stops
}
