//! A simulated finger on a display with a chosen ailment: for practice, and for tests. Invented.

mod does;
mod play;
mod warp;

use crate::limits::{OfTool, Tool};
use crate::raw::{Report, Window};
use skimgauge_model::{Image, Point};

pub use does::{Answer, Finger};
pub use play::{begun, played, taps};
pub use warp::Warp;

/// What ails a display, for practice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ailment {
    /// Nothing.
    Well,
    /// Touch is seen beside what is touched, alike all over.
    Offset,
    /// The farther out, the farther off.
    Scale,
    /// One mark is off.
    Bend,
    /// Contacts held still do not rest.
    Jitter,
    /// Contacts that nobody makes.
    Ghosts,
    /// Touch is lost in one corner.
    Shadow,
    /// The touch plane stands too high: dashes run together.
    High,
    /// It moves during the proof.
    Moved,
}

impl Ailment {
    /// Every one, with its word.
    pub const ALL: [(&'static str, Self); 9] = [
        ("well", Self::Well),
        ("offset", Self::Offset),
        ("scale", Self::Scale),
        ("bend", Self::Bend),
        ("jitter", Self::Jitter),
        ("ghosts", Self::Ghosts),
        ("shadow", Self::Shadow),
        ("high", Self::High),
        ("moved", Self::Moved),
    ];

    /// The one of this word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|(known, _)| *known == word).map(|(_, ailment)| ailment)
    }
}

/// How a display sees touch.
#[derive(Debug, Clone, PartialEq)]
pub struct Display {
    /// Offset right and up, mm.
    pub off_mm: [f64; 2],
    /// What each metre right adds right and up, then what each metre up adds, mm.
    pub slopes_mm_per_m: [[f64; 2]; 2],
    /// A mark that is off by so much more.
    pub bend: Option<(u8, [f64; 2])>,
    /// Scatter of each report, standard deviation on one axis, mm.
    pub jitter_mm: f64,
    /// Share of touches that are not seen.
    pub misses: f64,
    /// In the corner at this mark touch is lost: half of the taps, lines broken.
    pub shadow: Option<u8>,
    /// Contacts nobody makes, a minute.
    pub ghosts_per_min: f64,
    /// Breaks in a line, a metre.
    pub breaks_per_m: f64,
    /// Dashes run together.
    pub joins: bool,
    /// How deep something must stand in the sheet to be seen, mm.
    pub depth_mm: f64,
    /// True gaps, by station.
    pub gaps_mm: Vec<(String, f64)>,
    /// Reports a second.
    pub reports_per_s: f64,
    /// It moves by so much after the first round, mm.
    pub moves_mm: [f64; 2],
    /// What its map has beside that.
    pub warp: Warp,
}

impl Default for Display {
    fn default() -> Self {
        Self {
            off_mm: [0.0; 2],
            slopes_mm_per_m: [[0.0; 2]; 2],
            bend: None,
            jitter_mm: 0.15,
            misses: 0.0,
            shadow: None,
            ghosts_per_min: 0.0,
            breaks_per_m: 0.0,
            joins: false,
            depth_mm: 0.4,
            gaps_mm: Vec::new(),
            reports_per_s: 100.0,
            moves_mm: [0.0; 2],
            warp: Warp::default(),
        }
    }
}

impl Display {
    /// With what ails it, for this tool.
    pub fn with(ailment: Ailment, allowed: OfTool) -> Self {
        let limit = allowed.limit.0;
        let well = Self::default();
        match ailment {
            Ailment::Well => well,
            Ailment::Offset => Self { off_mm: [1.6 * limit, 1.6 * limit], ..well },
            Ailment::Scale => Self { slopes_mm_per_m: [[2.2 * limit, 0.0], [0.0, 0.0]], ..well },
            Ailment::Bend => Self { bend: Some((4, [0.0, -2.8 * limit])), ..well },
            Ailment::Jitter => Self { jitter_mm: 2.5, ..well },
            Ailment::Ghosts => Self { ghosts_per_min: 12.0, ..well },
            Ailment::Shadow => Self { shadow: Some(2), ..well },
            // A finger that leans breaks a sheet that stands off below what it aims at.
            Ailment::High => Self { joins: true, off_mm: [0.0, -0.8 * limit], ..well },
            Ailment::Moved => Self { moves_mm: [-9.0, 6.0], ..well },
        }
    }

    /// What it tells of a true place, less that place, mm, without scatter.
    pub fn off(&self, image: Image, at: Point, round: u8, at_ms: f64) -> [f64; 2] {
        let warp = self.warp.off(image, at, at_ms);
        let (x, y) = (at.x.0 / 1000.0, (at.y + image.height / 2.0).0 / 1000.0);
        let moved = f64::from(u8::from(round > 0));
        std::array::from_fn(|axis| {
            self.off_mm[axis]
                + self.slopes_mm_per_m[0][axis] * x
                + self.slopes_mm_per_m[1][axis] * y
                + moved * self.moves_mm[axis]
                + warp[axis]
        })
    }
}

/// How a person touches. Standard deviations on one axis, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hand {
    /// A tap.
    pub tap_mm: f64,
    /// This person's bias of aim, right and up.
    pub bias_mm: [f64; 2],
    /// How far a drawn line wanders.
    pub wander_mm: f64,
}

impl Hand {
    /// A hand with this tool, without bias: taps of a careful finger scatter by 1 to 2 mm (from
    /// memory), 2.5 assumed at a wall; a rod by 0.6, assumed.
    pub fn with(tool: Tool) -> Self {
        let tap_mm = match tool {
            Tool::Finger => 2.5,
            Tool::Rod => 0.6,
        };
        Self { tap_mm, bias_mm: [0.0; 2], wander_mm: 1.5 }
    }
}

/// Where a finger touches, and through which window that is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// The image.
    pub image: Image,
    /// How far inside the edges the outer marks stand.
    pub inset: f64,
    /// The window.
    pub window: Window,
}

impl Setting {
    /// A place as the browser tells it; at most at the screen's edge.
    pub fn report(&self, at: Point, at_ms: f64) -> Report {
        let x = (at.x / self.image.width + 0.5) * self.window.width;
        let y = -(at.y / self.image.height) * self.window.height;
        Report { at_ms, x: x.clamp(0.0, self.window.width), y: y.clamp(0.0, self.window.height) }
    }

    pub(super) fn on_line(&self, from: Point, to: Point, along: f64, across: f64) -> Point {
        let (dx, dy) = ((to.x - from.x).0, (to.y - from.y).0);
        let length = dx.hypot(dy);
        Point::mm(
            from.x.0 + along * dx - across * dy / length,
            from.y.0 + along * dy + across * dx / length,
        )
    }
}
