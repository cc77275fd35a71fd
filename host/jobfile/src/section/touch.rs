//! `[touch]`: what touch may miss by, and how surely a hand aims. Each has a default. For the proof.

use skimgauge_proof::limits::{Limits, OfTool};
use skimgauge_quantity::Mm;

use super::{Spec, spare_key};
use crate::table::{Table, Within};

/// The `[touch]` section.
pub static SPEC: Spec = Spec {
    name: "touch",
    many: false,
    set: false,
    about: "What touch may miss by, for the proof on the display. What is left out is as shown here; limits\n\
            are by agreement with the client. Aim: one person's bias, which no proof by hand can tell from an\n\
            offset of the display.",
    keys: &[
        spare_key("finger", "\"10 mm\"", "how far touch may stand off, proved by finger"),
        spare_key("finger_aim", "\"2 mm\"", "standard uncertainty of a finger's aim; assumed"),
        spare_key("rod", "\"3 mm\"", "how far touch may stand off, proved by a 10 mm rod"),
        spare_key("rod_aim", "\"0.4 mm\"", "standard uncertainty of a rod's aim; assumed"),
        spare_key("inset", "0.05", "outer marks inside the edges, share of width and height"),
        spare_key(
            "jitter",
            "\"1 mm\"",
            "scatter of a contact held still; digitizer tests of an operating system's maker",
        ),
        spare_key("ghosts", "3", "contacts nobody makes, a minute; none in 60 s says fewer than 3"),
        spare_key("misses", "0.1", "share of touches not seen; common practice, no source"),
        spare_key("breaks", "0.25", "breaks and jumps a metre of line; common practice, no source"),
    ],
    inside: &[],
    samples: &[],
};

const LIMIT: Within<Mm> = Within::mm(0.1, 200.0);
const AIM: Within<Mm> = Within::mm(0.01, 50.0);

pub(crate) fn read(table: &Table<'_>) -> Option<Limits> {
    let default = Limits::default();
    let tool = |limit: &str, aim: &str, default: OfTool| OfTool {
        limit: table.quantity_if(limit, LIMIT).unwrap_or(default.limit),
        aim: table.quantity_if(aim, AIM).unwrap_or(default.aim),
    };
    let finger = tool("finger", "finger_aim", default.finger);
    let rod = tool("rod", "rod_aim", default.rod);
    let jitter = table.quantity_if("jitter", Within::mm(0.05, 50.0));
    let inset = table.ratio_if("inset", Within(0.01, 0.2));
    let ghosts = table.ratio_if("ghosts", Within(0.1, 1000.0));
    let misses = table.ratio_if("misses", Within(0.005, 0.9));
    let breaks = table.ratio_if("breaks", Within(0.01, 100.0));
    Some(Limits {
        finger,
        rod,
        inset: inset.unwrap_or(default.inset),
        jitter: jitter.unwrap_or(default.jitter),
        ghosts_per_min: ghosts.unwrap_or(default.ghosts_per_min),
        misses: misses.unwrap_or(default.misses),
        breaks_per_m: breaks.unwrap_or(default.breaks_per_m),
    })
}
