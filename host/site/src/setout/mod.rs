//! Where things go on the wall, before anything is drilled.
//!
//! Everything is given twice: in the wall's frame (x from its left end, y from the finished floor),
//! for planning, and from two datum lines, for marking: a plumb line through the image's middle and
//! a level line.

pub mod clearance;
mod emitter;
pub mod marks;
pub mod mount;
mod refusal;
pub mod room;
pub mod steps;

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Name, Sentence, say};

use crate::entry::{EntryError, length_mm, within};
use crate::reach::{self, ImageReach};
use crate::viewing::{Viewing, distances};
use clearance::{Clearance, Fit, Stop, Thing, clearances, stops};
use emitter::Emitter;
pub use emitter::{EmitterPlace, Light};
use marks::{Mark, add_checks, tolerance_mm};
use mount::{Basis, MountError, MountFit, MountSheet};
use room::{Area, Room};
use skimgauge_model::{Image, Verdict};
use steps::{Step, steps};

/// Where the image goes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ImagePlace {
    /// Its middle from the wall's left end, mm.
    pub middle_from_wall_left_mm: f64,
    /// Its top edge above the finished floor, mm.
    pub top_above_floor_mm: f64,
}

/// Everything that set-out needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SetOutInput {
    /// The image.
    pub image: Image,
    /// Where it goes.
    pub place: ImagePlace,
    /// The wall.
    pub room: Room,
    /// The emitter, as far as its place is known.
    #[serde(default)]
    pub emitter: Option<EmitterPlace>,
    /// The mount, if there is one.
    #[serde(default)]
    pub mount: Option<MountSheet>,
    /// Height of the level line above the finished floor, mm; the image's top edge if left out.
    #[serde(default)]
    pub level_line_mm: Option<f64>,
    /// How far a shelf or tray under the image sticks out, mm, for reach.
    #[serde(default)]
    pub shelf_depth_mm: f64,
    /// Standard uncertainty of a pencil mark in each direction, mm.
    #[serde(default = "pencil_mm")]
    pub mark_u_mm: f64,
}

/// Common practice, no source.
fn pencil_mm() -> f64 {
    0.7
}

/// Why a set-out cannot be made.
#[derive(Debug, Clone, PartialEq)]
pub enum SetOutError {
    /// A number that cannot be right.
    Entry(EntryError),
    /// The mount's sheet does not give places.
    Mount(MountError),
    /// The image does not fit between floor and ceiling at all.
    TallerThanRoom {
        /// Image height, mm.
        height_mm: f64,
        /// Ceiling above the floor, mm.
        ceiling_mm: f64,
    },
    /// Light and body of the emitter do not fit one another.
    LightOffBody(Sentence),
    /// The image does not fit where it is put.
    ImageOffTheWall {
        /// By how much, mm.
        beyond_mm: f64,
        /// Beyond what.
        end: &'static str,
    },
}

/// The two lines that everything is measured from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DatumLines {
    /// Plumb line from the wall's left end, mm.
    pub plumb_from_wall_left_mm: f64,
    /// Level line above the finished floor at the plumb line, mm.
    pub level_above_floor_mm: f64,
}

/// A set-out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetOut {
    /// `outside` something has to be changed first, `unsure` a figure is assumed or not listed for
    /// this size, `within` all clear.
    pub verdict: Verdict,
    /// The image.
    pub image: Image,
    /// The wall that it covers.
    pub image_area: Area,
    /// The emitter's body.
    pub emitter_area: Option<Area>,
    /// The emitter's light.
    pub emitter_light: Option<Light>,
    /// What was taken for want of a word in the job, and what to do about it before anything is
    /// marked.
    pub assumed: Vec<Sentence>,
    /// The datum lines.
    pub datum: DatumLines,
    /// What the mount's sheet says.
    pub mount: Option<MountFit>,
    /// What has to be changed before anything is drilled; empty if nothing.
    pub stops: Vec<Stop>,
    /// Free distances.
    pub clearances: Vec<Clearance>,
    /// Every mark, in the order of marking.
    pub marks: Vec<Mark>,
    /// What to do, in order.
    pub steps: Vec<Step>,
    /// Who reaches how much of the image.
    pub reach: Vec<ImageReach>,
    /// Which unit's reach figures decide.
    pub reach_master: &'static str,
    /// From where the image can be read.
    pub viewing: Vec<Viewing>,
    /// What to know, in sentences.
    pub remarks: Vec<Sentence>,
    /// To be shown with every output.
    pub cautions: Vec<&'static str>,
}

/// Printed with every set-out.
pub const CAUTIONS: [&str; 6] = [
    "Marks say where, not whether: no figure here says that a wall carries anything.",
    "The makers' instructions of mount, unit and emitter come first, then local codes; where people pass below, ask a licensed engineer.",
    "Look for cables, pipes and reinforcement on every mark before drilling. Mains work is for licensed people.",
    "A ladder stands fully open or one out for four up, on level ground, and is moved rather than leaned from. Lift heavy units with two people or a lift.",
    "The emitter's light is invisible. Follow the laser class on its label; keep it off while anyone works in front of it.",
    "Reach figures are the published ranges named beside them; whether a room complies is for whoever is responsible for it.",
];

impl SetOutInput {
    fn image_area(&self) -> Area {
        let middle_mm = self.place.top_above_floor_mm - self.image.height.0 / 2.0;
        Area::about(
            self.place.middle_from_wall_left_mm,
            middle_mm,
            self.image.width.0,
            self.image.height.0,
        )
    }

    fn check(&self) -> Result<(), SetOutError> {
        self.image.checked().map_err(EntryError::from)?;
        self.room.check()?;
        let (height_mm, ceiling_mm) = (self.image.height.0, self.room.ceiling_mm);
        if height_mm >= ceiling_mm {
            return Err(SetOutError::TallerThanRoom { height_mm, ceiling_mm });
        }
        let wide_mm = self.room.wall_width_mm;
        length_mm(
            "image's middle from the wall's left end",
            self.place.middle_from_wall_left_mm,
            0.0,
            wide_mm,
        )?;
        length_mm("image's top above the floor", self.place.top_above_floor_mm, 300.0, 20_000.0)?;
        let area = self.image_area();
        for (beyond_mm, end) in [
            (-area.left_mm, "left end of the wall"),
            (area.right_mm - wide_mm, "right end of the wall"),
            (-area.bottom_mm, "floor"),
            (area.top_mm - ceiling_mm, "ceiling"),
        ] {
            if beyond_mm > 0.0 {
                return Err(SetOutError::ImageOffTheWall { beyond_mm, end });
            }
        }
        if let Some(emitter) = &self.emitter {
            emitter.check(wide_mm)?;
        }
        if let Some(level_mm) = self.level_line_mm {
            length_mm("level line above the floor", level_mm, 100.0, ceiling_mm - 50.0)?;
        }
        within("uncertainty of a pencil mark", self.mark_u_mm, 0.1, 5.0, "mm")?;
        Ok(())
    }
}

/// Where everything goes, what is in the way, and how to mark it so that errors show.
///
/// # Errors
/// [`SetOutError`] for numbers that cannot be right, an image that does not fit the wall, and a
/// mount sheet without figures for this image. Collisions and short clearances are no errors: they
/// are in [`SetOut::stops`] and [`SetOut::clearances`].
pub fn set_out(input: &SetOutInput) -> Result<SetOut, SetOutError> {
    input.check()?;
    let image_area = input.image_area();
    let datum = DatumLines {
        plumb_from_wall_left_mm: input.place.middle_from_wall_left_mm,
        level_above_floor_mm: input.level_line_mm.unwrap_or(input.place.top_above_floor_mm),
    };
    let mount = input.mount.as_ref().map(|sheet| sheet.at(input.image)).transpose()?;
    let ImagePlace { middle_from_wall_left_mm, top_above_floor_mm } = input.place;
    let emitter = input
        .emitter
        .and_then(|emitter| emitter.on_wall(middle_from_wall_left_mm, top_above_floor_mm));
    let light = emitter.as_ref().and_then(|emitter| emitter.light);
    let body = emitter
        .as_ref()
        .and_then(|emitter| emitter.body)
        .map(|body| Thing { name: "emitter".to_owned(), area: body.area });
    let things = things(input, image_area, mount.as_ref(), body.as_ref());
    let marks = marks(input, datum, emitter.as_ref(), mount.as_ref());
    let clearances = clearances(&image_area, body.as_ref(), light, &input.room);
    let reach = reach::everyone(input.shelf_depth_mm)?
        .into_iter()
        .map(|reach| reach::of_image(reach, image_area.bottom_mm, image_area.top_mm))
        .collect();
    let mut remarks: Vec<Sentence> = clearances.iter().filter_map(clearance_remark).collect();
    remarks.extend(emitter.iter().flat_map(|emitter| emitter.remarks.clone()));
    if let Some(mount) = &mount {
        remarks.push(say!("mount figures: {}.", mount.says));
        if let Some(change) = mount.image_change {
            remarks.push(say!(
                "{} of arm travel changes the image by {} in width, {} in height and {} in diagonal ({}).",
                Mm(1.0).limit(),
                Mm(change.width_mm_per_mm).gap(),
                Mm(change.height_mm_per_mm).gap(),
                Mm(change.diagonal_mm_per_mm).gap(),
                change.from
            ));
        }
    }
    let stops = stops(&things, &image_area, body.as_ref(), light, &input.room);
    let assumed = emitter.as_ref().map(|emitter| emitter.assumed.clone()).unwrap_or_default();
    Ok(SetOut {
        verdict: verdict(&stops, &clearances, &assumed, mount.as_ref()),
        stops,
        steps: steps(input, datum, emitter.as_ref(), &marks),
        image: input.image,
        image_area,
        emitter_area: body.map(|body| body.area),
        emitter_light: light,
        assumed,
        datum,
        mount,
        clearances,
        marks,
        reach,
        reach_master: reach::MASTER,
        viewing: distances(input.image).to_vec(),
        remarks,
        cautions: CAUTIONS.to_vec(),
    })
}

fn verdict(
    stops: &[Stop],
    clearances: &[Clearance],
    assumed: &[Sentence],
    mount: Option<&MountFit>,
) -> Verdict {
    let short =
        |clearance: &Clearance| matches!(clearance.fit, Fit::Short | Fit::Far | Fit::Overlaps);
    if !stops.is_empty() || clearances.iter().any(short) {
        Verdict::Outside
    } else if !assumed.is_empty() || mount.is_some_and(|mount| mount.basis != Basis::Listed) {
        Verdict::Unsure
    } else {
        Verdict::Within
    }
}

fn clearance_remark(clearance: &Clearance) -> Option<Sentence> {
    let Clearance { from, to, clear_mm, least_mm, most_mm, fit, basis } = clearance;
    let wanted = match (least_mm, most_mm) {
        (Some(least), Some(most)) => say!("{}", Mm(*least).wall().to(Mm(*most).wall())),
        (Some(least), None) => say!("at least {}", Mm(*least).wall()),
        (None, Some(most)) => say!("at most {}", Mm(*most).wall()),
        (None, None) => return None,
    };
    let is_far = match fit {
        Fit::Short => "",
        Fit::Far => " is far",
        Fit::Enough | Fit::Stated | Fit::Overlaps => return None,
    };
    Some(say!(
        "{} to {}: {}{is_far}, wanted {wanted} ({basis}).",
        Name(from),
        Name(to),
        Mm(*clear_mm).wall()
    ))
}

fn things(
    input: &SetOutInput,
    image_area: Area,
    mount: Option<&MountFit>,
    emitter: Option<&Thing>,
) -> Vec<Thing> {
    let mut things = vec![Thing { name: "image".to_owned(), area: image_area }];
    things.extend(emitter.cloned());
    let plates = mount.map_or(&[][..], |mount| &mount.plates);
    things.extend(plates.iter().map(|placed| Thing {
        name: placed.plate.name.clone(),
        area: Area::about(
            input.place.middle_from_wall_left_mm + placed.x_mm,
            input.place.top_above_floor_mm + placed.y_mm,
            placed.plate.width_mm,
            placed.plate.height_mm,
        ),
    }));
    things
}

fn marks(
    input: &SetOutInput,
    datum: DatumLines,
    emitter: Option<&Emitter>,
    mount: Option<&MountFit>,
) -> Vec<Mark> {
    let tolerance_mm = tolerance_mm(input.mark_u_mm);
    let place = input.place;
    let mut marks: Vec<Mark> = Vec::new();
    let group = |marks: &mut Vec<Mark>, of: &str, points: Vec<(String, f64, f64, Option<f64>)>| {
        let first = marks.len();
        marks.extend(points.into_iter().map(|(name, x_mm, y_mm, drill_mm)| {
            let (from_wall_left_mm, above_floor_mm) =
                (place.middle_from_wall_left_mm + x_mm, place.top_above_floor_mm + y_mm);
            Mark {
                name,
                of: of.to_owned(),
                from_plumb_mm: from_wall_left_mm - datum.plumb_from_wall_left_mm,
                from_level_mm: above_floor_mm - datum.level_above_floor_mm,
                above_floor_mm,
                from_wall_left_mm,
                drill_mm,
                checks: Vec::new(),
                slip_shown_mm: None,
            }
        }));
        if of != "datum" {
            add_checks(marks, first, tolerance_mm);
        }
    };
    let crossing_y_mm = datum.level_above_floor_mm - place.top_above_floor_mm;
    group(&mut marks, "datum", vec![("crossing".to_owned(), 0.0, crossing_y_mm, None)]);
    let corners = ["top left", "top right", "bottom right", "bottom left"]
        .into_iter()
        .filter_map(|name| Some((name, input.image.place(name)?)))
        .map(|(name, at)| (format!("image {name}"), at.x.0, at.y.0, None))
        .collect();
    group(&mut marks, "image", corners);
    if let Some(emitter) = emitter {
        let light = emitter
            .light
            .map(|light| ("emitter's light".to_owned(), light.right_mm, light.above_top_mm, None));
        let ends = emitter.body.iter().flat_map(|body| {
            [("left", -0.5), ("right", 0.5)].map(|(end, half)| {
                (
                    body.mark_name(end),
                    body.right_mm + half * body.width_mm,
                    body.lower_edge_mm,
                    None,
                )
            })
        });
        group(&mut marks, "emitter", ends.chain(light).collect());
    }
    for placed in mount.map_or(&[][..], |mount| &mount.plates) {
        let name = &placed.plate.name;
        let mut points = vec![(format!("{name} middle"), placed.x_mm, placed.y_mm, None)];
        points.extend(placed.plate.holes.iter().map(|hole| {
            let hole_name = format!("{name} hole {}", hole.name);
            (hole_name, placed.x_mm + hole.x_mm, placed.y_mm + hole.y_mm, Some(hole.diameter_mm))
        }));
        group(&mut marks, name, points);
    }
    marks
}
