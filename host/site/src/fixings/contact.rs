//! A stiff plate held to a wall by its anchors: the wall pushes and never pulls, the anchors pull
//! and never push.
//!
//! The plate stays plane and stands off the wall by `g = a + b x + c y`; where `g` is above zero an
//! anchor pulls in proportion to it. What the wall does where `g` would be below zero depends on
//! its bedding:
//!
//! - **hard**: nothing yields, so the plate presses only where it touches: along the edge or on the
//!   corner about which it turns ([`on_hard_bedding`]);
//! - **soft**: the bedding yields in proportion, so pressure rises linearly from the line about
//!   which the plate turns ([`on_soft_bedding`]). Anchors and bedding share one plane; how soft the
//!   bedding is beside the anchors decides how far the pressure reaches and so how short the lever
//!   of the anchors is.
//!
//! Both are the state of least energy, which is one and no other for any pattern of anchors and any
//! load, turning about both axes included. The softness of a real bedding (plaster, tile, mortar,
//! anchors that slip) is not known on a wall, so [`on_any_bedding`] goes through all of it. Not in
//! here: a plate that bends, and the prying that comes with it.

use nalgebra::{Matrix3, Matrix3x2, Vector3};
use serde::Serialize;

use super::group::{Anchor, Load, PlateEdges, centroid_mm};

/// Softest and hardest bedding gone through, as stiffness of all anchors over stiffness of the
/// whole bedding. Beyond these ends the anchors' tensions change by about 2 % more: there
/// [`on_hard_bedding`] holds, or the plate turns about its anchors.
pub const SOFTNESS: (f64, f64) = (1e-3, 1e2);

/// Steps of softness to a factor of ten: so many that no peak between them is missed by more than 2
/// %.
const STEPS_A_DECADE: i32 = 8;

/// A share of the load out of balance above which nothing holds the plate.
const OUT_OF_BALANCE: f64 = 1e-6;

/// A slope of the energy, as a share of the load, at which it counts as level.
const BALANCED: f64 = 1e-10;

/// Steps after which a plate counts as not held; a held one takes about ten.
const NEWTON_STEPS: usize = 200;

/// Stiffness that keeps a plate from floating where its anchors alone would let it, as a share of
/// theirs. What it carries is out of balance, and so is seen.
const FLOATING: f64 = 1e-12;

/// Where the plate presses on a hard wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Pressed {
    /// Nowhere: nothing turns the plate, or it is pulled straight off.
    Nowhere,
    /// On one corner.
    Corner(Side, Side),
    /// Along one edge.
    Edge(Side),
    /// All over.
    Face,
}

/// A side of the plate, seen from the room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Lower.
    Bottom,
    /// Upper.
    Top,
    /// Left.
    Left,
    /// Right.
    Right,
}

impl Side {
    fn word(self) -> &'static str {
        match self {
            Side::Bottom => "bottom",
            Side::Top => "top",
            Side::Left => "left",
            Side::Right => "right",
        }
    }
}

impl std::fmt::Display for Pressed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Pressed::Nowhere => f.write_str("no edge: nothing pulls the plate over"),
            Pressed::Corner(upright, across) => {
                write!(f, "{} {} corner", upright.word(), across.word())
            }
            Pressed::Edge(side) => write!(f, "{} edge", side.word()),
            Pressed::Face => f.write_str("whole face"),
        }
    }
}

/// What the anchors of a plate pull, and where it presses.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// Tension on each anchor, N; none below zero.
    pub tension_n: Vec<f64>,
    /// Where the plate presses if nothing yields.
    pub pressed: Pressed,
}

/// Corners in order round the plate, each with its sides: every two that follow one another have an
/// edge in common.
const CORNERS: [(Side, Side); 4] = [
    (Side::Bottom, Side::Left),
    (Side::Bottom, Side::Right),
    (Side::Top, Side::Right),
    (Side::Top, Side::Left),
];
/// The edge between a corner of [`CORNERS`] and the next.
const EDGES: [Side; 4] = [Side::Bottom, Side::Right, Side::Top, Side::Left];

/// A plate with its load, lengths in half its longer side, stiffness of all anchors together 1,
/// about its own middle.
#[derive(Debug, Clone)]
struct Plate {
    /// Half width and half height.
    half: (f64, f64),
    /// Each anchor's `(1, x, y)` and stiffness.
    anchors: Vec<(Vector3<f64>, f64)>,
    /// Force off the wall, and its moments over x and y.
    load: Vector3<f64>,
}

impl Plate {
    fn new(anchors: &[Anchor], plate: PlateEdges, load: Load) -> Self {
        let unit_mm = plate.width_mm.max(plate.height_mm) / 2.0;
        let total: f64 = anchors.iter().map(|anchor| anchor.area).sum();
        let (cx_mm, cy_mm) = centroid_mm(anchors);
        let over_x_n_mm = cx_mm * load.fz_n - load.my_n_mm;
        let over_y_n_mm = cy_mm * load.fz_n + load.mx_n_mm;
        Self {
            half: (plate.width_mm / 2.0 / unit_mm, plate.height_mm / 2.0 / unit_mm),
            anchors: anchors
                .iter()
                .map(|a| (Vector3::new(1.0, a.x_mm / unit_mm, a.y_mm / unit_mm), a.area / total))
                .collect(),
            load: Vector3::new(load.fz_n, over_x_n_mm / unit_mm, over_y_n_mm / unit_mm),
        }
    }

    fn corners(&self) -> [Vector3<f64>; 4] {
        let (x, y) = self.half;
        [
            Vector3::new(1.0, -x, -y),
            Vector3::new(1.0, x, -y),
            Vector3::new(1.0, x, y),
            Vector3::new(1.0, -x, y),
        ]
    }

    /// `∫ (1, x, y)(1, x, y)ᵀ` over the part of the plate that this lift presses, over the plate's
    /// area.
    fn pressing(&self, lift: &Vector3<f64>) -> Matrix3<f64> {
        let corners = self.corners();
        let mut region: Vec<Vector3<f64>> = Vec::with_capacity(6);
        for (index, from) in corners.iter().enumerate() {
            let to = &corners[(index + 1) % 4];
            let (here, there) = (from.dot(lift), to.dot(lift));
            if here < 0.0 {
                region.push(*from);
            }
            if (here < 0.0) != (there < 0.0) {
                region.push(from + (to - from) * (here / (here - there)));
            }
        }
        let area = 4.0 * self.half.0 * self.half.1;
        let Some((first, rest)) = region.split_first() else { return Matrix3::zeros() };
        rest.windows(2)
            .fold(Matrix3::zeros(), |sum, pair| sum + second_moments(first, &pair[0], &pair[1]))
            / area
    }
}

/// `∫ p pᵀ` over a triangle, for `p` linear from corner to corner.
fn second_moments(a: &Vector3<f64>, b: &Vector3<f64>, c: &Vector3<f64>) -> Matrix3<f64> {
    let area = ((b.y - a.y) * (c.z - a.z) - (b.z - a.z) * (c.y - a.y)).abs() / 2.0;
    let sum = a + b + c;
    let squares = a * a.transpose() + b * b.transpose() + c * c.transpose();
    (squares + sum * sum.transpose()) * (area / 12.0)
}

/// One way to touch a hard wall.
#[derive(Debug, Clone)]
struct Touch {
    pressed: Pressed,
    /// Lift of the plate that needs the least energy while it touches so.
    lift: Vector3<f64>,
    /// By how much it dips into the wall or is pulled by it, as a share of lift and load: zero
    /// where this is how it touches.
    wrong: f64,
    /// Whether the wall pushes at all.
    bears: bool,
}

impl Plate {
    /// Stiffness of all anchors: a plate that dips in nowhere stretches every one.
    fn all_stretched(&self) -> Matrix3<f64> {
        let stiffness =
            self.anchors.iter().map(|(place, stiffness)| place * place.transpose() * *stiffness);
        stiffness.fold(Matrix3::identity() * FLOATING, |sum, one| sum + one)
    }

    /// The ten ways in which a rectangle can touch a plane.
    fn touches(&self) -> Vec<Touch> {
        let corners = self.corners();
        let stiffness = self.all_stretched();
        let mut touches = Vec::with_capacity(10);
        let free = stiffness
            .cholesky()
            .map_or_else(Vector3::zeros, |stiffness| stiffness.solve(&self.load));
        touches.push(self.touch(Pressed::Nowhere, free, (0.0, 0.0)));
        for (index, corner) in corners.iter().enumerate() {
            let (upright, across) = CORNERS[index];
            // Lifts that leave this corner on the wall: turning about it both ways.
            let turning = Matrix3x2::new(-corner.y, -corner.z, 1.0, 0.0, 0.0, 1.0);
            let turned = (turning.transpose() * stiffness * turning).cholesky();
            let lift = turned.map_or_else(Vector3::zeros, |t| {
                turning * t.solve(&(turning.transpose() * self.load))
            });
            let push = (stiffness * lift - self.load).dot(corner) / corner.norm_squared();
            touches.push(self.touch(Pressed::Corner(upright, across), lift, (push, push)));

            let next = &corners[(index + 1) % 4];
            let about = corner.cross(next);
            let lift = about * (about.dot(&self.load) / about.dot(&(stiffness * about)));
            let pushed = stiffness * lift - self.load;
            let (a, b, c) = (corner.norm_squared(), corner.dot(next), next.norm_squared());
            let (here, there) = (pushed.dot(corner), pushed.dot(next));
            let determinant = a * c - b * b;
            let (here, there) =
                ((here * c - there * b) / determinant, (there * a - here * b) / determinant);
            touches.push(self.touch(
                Pressed::Edge(EDGES[index]),
                lift,
                (here.min(there), here.max(there)),
            ));
        }
        // Flat on the wall: what pushes has to lie within the plate.
        let push = -self.load.x;
        let beyond =
            (self.load.y.abs() - self.half.0 * push).max(self.load.z.abs() - self.half.1 * push);
        touches.push(self.touch(Pressed::Face, Vector3::zeros(), (-beyond, push)));
        touches
    }

    fn touch(
        &self,
        pressed: Pressed,
        lift: Vector3<f64>,
        (least_push, most_push): (f64, f64),
    ) -> Touch {
        let size = self.load.norm();
        let dips = self.corners().iter().map(|corner| -corner.dot(&lift)).fold(0.0, f64::max);
        let wrong = (dips / lift.norm().max(f64::MIN_POSITIVE)).max(-least_push / size);
        Touch { pressed, lift, wrong, bears: most_push > OUT_OF_BALANCE * size }
    }

    /// What the anchors pull, unless a part of the load is left that nothing carries.
    fn held(&self, lift: &Vector3<f64>) -> Option<Vec<f64>> {
        let holds = FLOATING * lift.norm() <= OUT_OF_BALANCE * self.load.norm();
        holds.then(|| {
            self.anchors
                .iter()
                .map(|(place, stiffness)| stiffness * place.dot(lift).max(0.0))
                .collect()
        })
    }
}

/// On a wall that does not yield: the plate presses on an edge or a corner. `None` if nothing holds
/// it: every anchor lies on the line about which the load turns the plate.
pub fn on_hard_bedding(anchors: &[Anchor], plate: PlateEdges, load: Load) -> Option<Held> {
    let plate = Plate::new(anchors, plate, load);
    if plate.load.norm() == 0.0 {
        return Some(Held { tension_n: vec![0.0; anchors.len()], pressed: Pressed::Nowhere });
    }
    // Where two ways come as near they are one state: an edge of which only a corner bears.
    let touch = plate.touches().into_iter().min_by(|a, b| a.wrong.total_cmp(&b.wrong))?;
    let pressed = if touch.bears { touch.pressed } else { Pressed::Nowhere };
    Some(Held { tension_n: plate.held(&touch.lift)?, pressed })
}

/// On a bedding that yields: `softness` is the stiffness of all anchors together over that of the
/// whole plate's bedding, within [`SOFTNESS`]. `None` if nothing holds the plate.
pub fn on_soft_bedding(
    anchors: &[Anchor],
    plate: PlateEdges,
    load: Load,
    softness: f64,
) -> Option<Vec<f64>> {
    let plate = Plate::new(anchors, plate, load);
    plate.sinks(softness, &plate.load).and_then(|lift| plate.held(&lift))
}

/// Largest tension on each anchor, N, over beddings from the hardest to the softest of
/// [`SOFTNESS`].
pub fn on_any_bedding(anchors: &[Anchor], plate: PlateEdges, load: Load) -> Option<Vec<f64>> {
    let plate = Plate::new(anchors, plate, load);
    let steps = (f64::from(STEPS_A_DECADE) * (SOFTNESS.1 / SOFTNESS.0).log10()).round() as i32;
    let mut lift = plate.load;
    let mut most_n = vec![0.0_f64; anchors.len()];
    for step in 0..=steps {
        let softness = SOFTNESS.0 * 10_f64.powf(f64::from(step) / f64::from(STEPS_A_DECADE));
        lift = plate.sinks(softness, &lift)?;
        for (most_n, tension_n) in most_n.iter_mut().zip(plate.held(&lift)?) {
            *most_n = most_n.max(tension_n);
        }
    }
    Some(most_n)
}

impl Plate {
    /// Stiffness of what this lift stretches and presses.
    fn at_work(&self, lift: &Vector3<f64>, softness: f64) -> Matrix3<f64> {
        let stretched = self.anchors.iter().filter(|(place, _)| place.dot(lift) > 0.0);
        stretched
            .map(|(place, stiffness)| place * place.transpose() * *stiffness)
            .fold(self.pressing(lift) / softness + Matrix3::identity() * FLOATING, |sum, one| {
                sum + one
            })
    }

    /// The lift of least energy, by Newton's method from `start`: energy is convex, its slope
    /// `stiffness lift - load`.
    fn sinks(&self, softness: f64, start: &Vector3<f64>) -> Option<Vector3<f64>> {
        let size = self.load.norm();
        let energy = |lift: &Vector3<f64>, stiffness: &Matrix3<f64>| {
            lift.dot(&(stiffness * lift)) / 2.0 - lift.dot(&self.load)
        };
        let mut lift = *start;
        let mut stiffness = self.at_work(&lift, softness);
        for _ in 0..NEWTON_STEPS {
            let slope = stiffness * lift - self.load;
            if slope.norm() <= BALANCED * size {
                return Some(lift);
            }
            let step = stiffness.cholesky()?.solve(&self.load) - lift;
            let (before, downhill) = (energy(&lift, &stiffness), slope.dot(&step));
            let mut share = 1.0;
            loop {
                let next = lift + step * share;
                let next_stiffness = self.at_work(&next, softness);
                // Close to the bottom rounding hides the way down, and the slope tells it better.
                let lower = energy(&next, &next_stiffness) <= before + 1e-4 * share * downhill;
                let flatter = || (next_stiffness * next - self.load).norm() <= slope.norm() / 2.0;
                if lower || flatter() || share < 1e-9 {
                    (lift, stiffness) = (next, next_stiffness);
                    break;
                }
                share /= 2.0;
            }
        }
        None
    }
}
