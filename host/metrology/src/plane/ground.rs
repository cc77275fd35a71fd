//! The ground that a verdict between the places stands on: the fine grid over the image, and what is
//! unknown of the board at each of its places, from prior, survey and where gaps are read.

use super::between::Between;
use super::board::{Board, ControlPoint, Shape};
use super::conditioned::{READING_U_MM, conditioned};
use super::prior::{Expected, Lifts, Local, Told};
use super::refusal::SAME_PLACE_MM;
use super::strays::Strays;
use super::unseen::{LookedOver, Unseen};
use nalgebra::DMatrix;
use skimgauge_quantity::{Band, Mm};

/// Columns and rows of the fine grid.
pub const GRID: (usize, usize) = (33, 21);

/// Of a bulge that a straightedge from edge to edge has not shown so much may be left, standard
/// deviation, mm: half a millimetre under it is seen by anybody. Common practice, no source.
const STRAIGHTEDGE_BULGE_MM: f64 = 0.15;

/// The fine grid, and what is unknown of the board at each of its places. It depends on the places alone, not on the gaps, and serves for as many
/// rounds as those stay.
#[derive(Debug, Clone, PartialEq)]
pub struct Ground {
    pub(super) points: Vec<ControlPoint>,
    /// Standard deviation of the local form left at each point, mm.
    pub(super) left_mm: Vec<f64>,
    /// How the local form at each point answers to what the readings leave of the plane, a column
    /// for each place read; without columns on a surveyed board.
    pub(super) answers: DMatrix<f64>,
    pub(super) read: Vec<(f64, f64)>,
    pub(super) strays: Strays,
    pub(super) lifts: Lifts,
    /// What the places read and surveyed tell of a lift at each point.
    pub(super) told: Vec<Told>,
    /// How much likelier the readings are with lifts than without, one or more: by so much less
    /// likely is each by itself.
    certain: f64,
    pub(super) surveyed: bool,
    looked_over: LookedOver,
    /// How far each point lies from the nearest place read or surveyed, mm.
    apart_mm: Vec<f64>,
}

impl Ground {
    /// The ground of an image of this width and height, mm, on which gaps are read at these places.
    pub fn new(
        board: &Board,
        size_mm: [f64; 2],
        prior: impl Into<Expected>,
        read: &[(f64, f64)],
    ) -> Self {
        let Expected { local, edge_mm, bulge_mm, lifts, looked_over, .. } = prior.into();
        let bulge_mm = match looked_over {
            LookedOver::Nothing => bulge_mm.min(STRAIGHTEDGE_BULGE_MM),
            _ => bulge_mm,
        };
        let strays = Strays { local, edge_mm, bulge_mm, size_mm };
        let points: Vec<ControlPoint> =
            grid(size_mm).map(|(x_mm, y_mm)| board.point(x_mm, y_mm)).collect();
        let surveyed = board.is_surveyed();
        let read = &thinned(read)[..];
        let (left_mm, answers) = if surveyed {
            let raised = |p: &ControlPoint| match &board.shape {
                Shape::Surface(surface) => surface.raised_at(p.x_mm, p.y_mm),
                Shape::Flat | Shape::Grid(_) => 1.0,
            };
            let left = points.iter().map(|p| raised(p) * p.u_shape_mm).collect();
            (left, DMatrix::zeros(points.len(), 0))
        } else {
            conditioned(&points, read, &strays, |_| READING_U_MM)
        };
        let mut ground = Self {
            told: told(&points, board, read),
            apart_mm: apart(&points, board, read),
            points,
            left_mm,
            answers,
            read: read.to_vec(),
            strays,
            lifts,
            certain: 1.0,
            surveyed,
            looked_over,
        };
        let odds: f64 = ground
            .told
            .iter()
            .enumerate()
            .map(|(at, told)| ground.lifts_at(at) * lifts.odds(told))
            .sum();
        ground.certain = (odds / lifts.expected.max(1e-9)).max(1.0);
        ground
    }

    /// The lifts reckoned with.
    pub(crate) fn lifts(&self) -> Lifts {
        self.lifts
    }

    /// What the places read and surveyed tell of a lift at each point.
    pub(crate) fn told(&self) -> &[Told] {
        &self.told
    }

    /// How many lifts are expected at each place of the grid.
    pub(crate) fn lifts_at(&self, place: usize) -> f64 {
        let (columns, rows) = GRID;
        let (column, row) = (place % columns, place / columns);
        let at_edge = column == 0 || row == 0 || column == columns - 1 || row == rows - 1;
        let edge = 2 * (columns + rows) - 4;
        let Lifts { expected, at_edge: share, .. } = self.lifts;
        let expected = expected / self.certain;
        match at_edge {
            true => expected * share / edge as f64,
            false => expected * (1.0 - share) / (columns * rows - edge) as f64,
        }
    }

    /// Where gaps are read.
    pub fn read(&self) -> &[(f64, f64)] {
        &self.read
    }

    /// The board at the places of the fine grid.
    pub fn points(&self) -> &[ControlPoint] {
        &self.points
    }

    /// The local form reckoned with.
    pub fn local(&self) -> Local {
        self.strays.local
    }

    /// How the board strays where nobody reads it.
    pub(crate) fn strays(&self) -> Strays {
        self.strays
    }

    /// Whether the board was surveyed.
    pub fn is_surveyed(&self) -> bool {
        self.surveyed
    }

    /// The dent or bump that no reading would have shown, with the gaps of `between`; `None` where
    /// somebody looked the board over and what was found is surveyed, and where none would matter.
    pub fn unseen(&self, between: &Between, band: Band<Mm>) -> Option<Unseen> {
        let open = matches!(self.looked_over, LookedOver::NotYet | LookedOver::Found);
        open.then(|| {
            Unseen::of(between, &self.apart_mm, band, self.lifts.most_mm, self.strays.size_mm[1])
        })
        .flatten()
    }

    /// Whether there are dents or bumps that nobody has surveyed.
    pub fn has_dents(&self) -> bool {
        self.looked_over == LookedOver::Found
    }

    /// How much of a sum over the board one place of the grid stands for: its area over that of the
    /// local form.
    pub(crate) fn share(&self) -> f64 {
        let cells = ((GRID.0 - 1) * (GRID.1 - 1)) as f64;
        let [wide, high] = self.strays.size_mm;
        wide * high / cells / self.strays.local.reach_mm.powi(2)
    }
}

/// Of more places than a person reads, one for each patch that is small beside what the board strays
/// over: the sums grow with the third power of their number.
fn thinned(read: &[(f64, f64)]) -> Vec<(f64, f64)> {
    const ALL_OF: usize = 250;
    const PATCH_MM: f64 = 80.0;
    if read.len() <= ALL_OF {
        return read.to_vec();
    }
    let patch = |mm: f64| (mm / PATCH_MM).floor() as i64;
    let mut taken = std::collections::HashSet::new();
    read.iter().copied().filter(|&(x, y)| taken.insert((patch(x), patch(y)))).collect()
}

/// The places of the fine grid, row by row from the top left.
fn grid([width_mm, height_mm]: [f64; 2]) -> impl Iterator<Item = (f64, f64)> {
    let (columns, rows) = GRID;
    (0..columns * rows).map(move |k| {
        let (column, row) = ((k % columns) as f64, (k / columns) as f64);
        let across = column / (columns - 1) as f64 - 0.5;
        (across * width_mm, -row / (rows - 1) as f64 * height_mm)
    })
}

/// How far each point lies from the nearest place read or surveyed, mm.
fn apart(points: &[ControlPoint], board: &Board, read: &[(f64, f64)]) -> Vec<f64> {
    let mut at = board.surveyed_at();
    at.extend(read);
    let square = |p: &ControlPoint, &(x, y): &(f64, f64)| {
        let (across, up) = (p.x_mm - x, p.y_mm - y);
        across * across + up * up
    };
    let nearest = |p| at.iter().map(|at| square(p, at)).fold(f64::INFINITY, f64::min).sqrt();
    points.iter().map(nearest).collect()
}

/// What the places read and surveyed tell of a lift at each point.
fn told(points: &[ControlPoint], board: &Board, read: &[(f64, f64)]) -> Vec<Told> {
    let surveyed = board.surveyed_places();
    let is_surveyed =
        |&(x, y): &(f64, f64)| surveyed.iter().any(|p| (p[0] - x).hypot(p[1] - y) <= SAME_PLACE_MM);
    let besides: Vec<(f64, f64)> = read.iter().copied().filter(|at| !is_surveyed(at)).collect();
    let by_survey = |point: &ControlPoint| match &board.shape {
        Shape::Surface(surface) => surface.told(point.x_mm, point.y_mm).unwrap_or_else(|| {
            read_at(point, surveyed.iter().map(|p| (p[0], p[1])), Told::default())
        }),
        Shape::Flat | Shape::Grid(_) => Told::default(),
    };
    points.iter().map(|point| read_at(point, besides.iter().copied(), by_survey(point))).collect()
}

/// What readings that show nothing add at a point.
fn read_at(point: &ControlPoint, at: impl Iterator<Item = (f64, f64)>, mut told: Told) -> Told {
    for (x_mm, y_mm) in at {
        told.read((point.x_mm - x_mm).hypot(point.y_mm - y_mm), READING_U_MM);
    }
    told
}
