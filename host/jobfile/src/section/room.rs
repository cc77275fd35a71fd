//! `[room]`: the wall, where the image goes on it, and what is in the way. For set-out.

use serde::{Deserialize, Serialize};
use skimgauge_site::setout::ImagePlace;
use skimgauge_site::setout::room::{Obstacle, Room};

use super::{Spec, key, spare_key};
use crate::table::Table;

/// The `[room]` section.
pub static SPEC: Spec = Spec {
    name: "room",
    many: false,
    set: false,
    about: "The wall, for set-out: seen from the room, from its left end and from the finished floor.",
    keys: &[
        key("wall_width", "\"4200 mm\"", "left end to right end"),
        key("ceiling", "\"2800 mm\"", "above the finished floor"),
        key("image_middle", "\"2100 mm\"", "the image's middle, from the wall's left end"),
        key("image_top", "\"2050 mm\"", "the image's top edge, above the finished floor"),
        spare_key(
            "level_line",
            "\"1000 mm\"",
            "height to strike the level line at; the image's top if left out",
        ),
        spare_key(
            "shelf_depth",
            "\"100 mm\"",
            "how far a shelf under the image sticks out; none if left out",
        ),
    ],
    inside: &[&OBSTACLE],
    samples: &[],
};

/// The `[[room.obstacle]]` sections.
pub static OBSTACLE: Spec = Spec {
    name: "room.obstacle",
    many: true,
    set: false,
    about: "What is on the wall: sockets, trays, rails, ducts, switches.",
    keys: &[
        key("name", "\"socket\"", "what it is").left_open(),
        key("left", "\"600 mm\"", "its left edge, from the wall's left end"),
        key("right", "\"680 mm\"", "its right edge, from the wall's left end"),
        key("bottom", "\"300 mm\"", "its lower edge, above the finished floor"),
        key("top", "\"380 mm\"", "its upper edge, above the finished floor"),
        spare_key("off_wall", "\"10 mm\"", "how far it stands out; flush if left out"),
    ],
    inside: &[],
    samples: &[],
};

/// The wall and the image's place on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RoomPlan {
    /// The wall.
    pub room: Room,
    /// Where the image goes.
    pub place: ImagePlace,
    /// Height of the level line, mm; the image's top edge if unsaid.
    pub level_line_mm: Option<f64>,
    /// How far a shelf under the image sticks out, mm.
    pub shelf_depth_mm: f64,
}

pub(crate) fn read(table: &Table<'_>) -> Option<RoomPlan> {
    let wall_width_mm = table.mm("wall_width", 500.0, 100_000.0);
    let ceiling_mm = table.mm("ceiling", 1500.0, 20_000.0);
    let middle_from_wall_left_mm = table.mm("image_middle", 0.0, 100_000.0);
    let top_above_floor_mm = table.mm("image_top", 300.0, 20_000.0);
    let level_line_mm = table.mm_if("level_line", 100.0, 20_000.0);
    let shelf_depth_mm = table.mm_if("shelf_depth", 0.0, 610.0).unwrap_or(0.0);
    if let (Some(top_mm), Some(ceiling_mm)) = (top_above_floor_mm, ceiling_mm)
        && top_mm > ceiling_mm
    {
        table.wrong(
            "image_top",
            "the image's top edge is above the ceiling",
            format!("at most {ceiling_mm} mm"),
        );
    }
    let obstacles: Vec<_> = table.tables(&OBSTACLE).iter().map(read_obstacle).collect();
    Some(RoomPlan {
        room: Room {
            wall_width_mm: wall_width_mm?,
            ceiling_mm: ceiling_mm?,
            obstacles: obstacles.into_iter().collect::<Option<_>>()?,
        },
        place: ImagePlace {
            middle_from_wall_left_mm: middle_from_wall_left_mm?,
            top_above_floor_mm: top_above_floor_mm?,
        },
        level_line_mm,
        shelf_depth_mm,
    })
}

fn read_obstacle(table: &Table<'_>) -> Option<Obstacle> {
    let name = table.name("name");
    let across = |key: &str| table.mm(key, -20_000.0, 100_000.0);
    let (left_mm, right_mm) = (across("left"), across("right"));
    let up = |key: &str| table.mm(key, 0.0, 20_000.0);
    let (bottom_mm, top_mm) = (up("bottom"), up("top"));
    let off_wall_mm = table.mm_if("off_wall", 0.0, 5000.0).unwrap_or(0.0);
    for (low, high, key, expected) in [
        (left_mm, right_mm, "right", "the left edge first: left below right"),
        (bottom_mm, top_mm, "top", "the lower edge first: bottom below top"),
    ] {
        if let (Some(low_mm), Some(high_mm)) = (low, high)
            && low_mm >= high_mm
        {
            table.wrong(key, "this edge is not beyond the opposite one", expected);
        }
    }
    Some(Obstacle {
        name: name?,
        left_mm: left_mm?,
        right_mm: right_mm?,
        bottom_mm: bottom_mm?,
        top_mm: top_mm?,
        off_wall_mm,
    })
}
