//! A room: a board, an emitter on three adjusters that are not quite what their papers say, a head
//! that does not seat twice alike, and a hand.

use crate::board::{HEIGHT_MM, Kind, Shape, WIDTH_MM};
use skimgauge_bench::noise::Noise;
use skimgauge_metrology::assess::MEASURABLE;
use skimgauge_metrology::plane::Plane;
use skimgauge_metrology::trim::influence::Influence;
use skimgauge_metrology::trim::solve::{Setting, Spot, solve, travel};
use skimgauge_model::{Adjuster, Point, Sense, Station};
use skimgauge_quantity::{Band, Mm, Turns};

/// Scatter from seat to seat as stated, standard deviation, mm.
pub(crate) const SEAT_U_MM: f64 = 0.05;
/// Scatter of a settled reading besides, mm.
pub(crate) const READING_U_MM: f64 = 0.005;
/// The head's zero, standard uncertainty, mm.
pub(crate) const ZERO_U_MM: f64 = 0.02;
/// A hand that counts is off by this, standard deviation, turns.
const COUNT_TURNS: f64 = 5.0 / 360.0;
/// A hand that looks stops within this, turns.
const STOP_TURNS: f64 = 1.0 / 360.0;

/// What is wrong besides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fault {
    /// Nothing: pitches 2 % and places 1.5 mm off, and some backlash.
    None,
    /// Every pitch wrong by 10 to 20 %.
    Pitch,
    /// One adjuster works the other way round.
    Reversed,
    /// Of one adjuster 30 to 80 % of a turn reach its thread.
    Slipping,
    /// Seats scatter twice as much as stated.
    Seat,
    /// One station is misread by 1 to 3 mm, once.
    Misread,
    /// At one station seats scatter three times as much as stated.
    OneSeat,
    /// One adjuster has a quarter of a turn of play.
    Loose,
    /// Every pitch wrong by 35 %.
    PitchFar,
}

/// What is wrong besides the board.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Hands {
    /// In half of the rooms something: a pitch, a sense, a slipping thread, the seat, a misread
    /// station, each as often.
    Usual,
    /// At one station seats scatter three times as much as stated.
    OneSeat,
    /// One adjuster has a quarter of a turn of play.
    Loose,
    /// Every pitch is wrong by 35 %.
    Pitch,
}

/// Those that nobody had in mind.
pub(crate) const OTHER_HANDS: [Hands; 3] = [Hands::OneSeat, Hands::Loose, Hands::Pitch];

/// Those that half of the usual rooms have.
const FAULTS: [Fault; 5] =
    [Fault::Pitch, Fault::Reversed, Fault::Slipping, Fault::Seat, Fault::Misread];

/// The room.
#[derive(Debug, Clone)]
pub(crate) struct Room {
    pub noise: Noise,
    /// Where truth is looked at, and how far the board stands out there, mm.
    truth: Vec<[f64; 3]>,
    shape: Shape,
    /// Scatter from seat to seat as it is, mm.
    seat_mm: f64,
    /// A station where it is more, and how much, mm.
    odd_seat: Option<(usize, f64)>,
    plane: Plane,
    zero_mm: f64,
    /// As they are; their travel as the papers have it.
    adjusters: [Adjuster; 3],
    grip: [f64; 3],
    /// Half the play, turns, and where in it the nut stands.
    play: [(f64, f64); 3],
    /// Turned so far, clockwise.
    screw: [f64; 3],
    /// The misreading: at which take, counted from the first, and by how much, mm.
    misread: Option<(usize, f64)>,
    takes: usize,
}

/// The adjusters as in the papers.
pub(crate) fn nominal() -> [Adjuster; 3] {
    [("left", -100.0, 90.0), ("right", 100.0, 90.0), ("upper", 0.0, 150.0)].map(
        |(name, x_mm, y_mm)| Adjuster {
            name: name.to_owned(),
            at: Point::mm(x_mm, y_mm),
            pitch: Mm(0.5),
            clockwise: Sense::Out,
            travel_clockwise: Turns(8.0),
            travel_anticlockwise: Turns(8.0),
        },
    )
}

/// The eight stations on the edge, and the one in the middle, as the board is not surveyed.
pub(crate) fn stations() -> Vec<Station> {
    let (w, h) = (WIDTH_MM / 2.0, -HEIGHT_MM);
    [
        ("top left", -w, 0.0),
        ("top", 0.0, 0.0),
        ("top right", w, 0.0),
        ("right", w, h / 2.0),
        ("bottom right", w, h),
        ("bottom", 0.0, h),
        ("bottom left", -w, h),
        ("left", -w, h / 2.0),
        ("middle", 0.0, h / 2.0),
    ]
    .map(|(name, x_mm, y_mm)| Station { name: name.to_owned(), at: Point::mm(x_mm, y_mm) })
    .to_vec()
}

impl Room {
    /// The room of a seed.
    pub(crate) fn new(kind: Kind, hands: Hands, seed: u64) -> Self {
        let mut noise = Noise::new(seed, 77 + kind as u64);
        let fault = match (hands, seed % 10) {
            (Hands::Usual, k @ 0..5) => FAULTS[k as usize],
            (Hands::Usual, _) => Fault::None,
            (Hands::OneSeat, _) => Fault::OneSeat,
            (Hands::Loose, _) => Fault::Loose,
            (Hands::Pitch, _) => Fault::PitchFar,
        };
        let shape = Shape::new(kind, &mut noise);
        let mut adjusters = nominal();
        let mut grip = [1.0; 3];
        let one = (noise.unit() * 3.0) as usize % 3;
        for adjuster in &mut adjusters {
            adjuster.at.x.0 += noise.normal(1.5);
            adjuster.at.y.0 += noise.normal(1.5);
            let off = match fault {
                Fault::Pitch if noise.chance(0.5) => noise.uniform(0.1, 0.2),
                Fault::Pitch => -noise.uniform(0.1, 0.2),
                Fault::PitchFar if noise.chance(0.5) => 0.35,
                Fault::PitchFar => -0.35,
                _ => noise.normal(0.02),
            };
            adjuster.pitch.0 *= 1.0 + off;
        }
        match fault {
            Fault::Reversed => adjusters[one].clockwise = Sense::In,
            Fault::Slipping => grip[one] = noise.uniform(0.3, 0.8),
            _ => {}
        }
        let play = [0, 1, 2].map(|i| {
            let usual = noise.uniform(0.03, 0.12);
            let half = if fault == Fault::Loose && i == one { 0.25 } else { usual } / 2.0;
            (half, noise.uniform(-half, half))
        });
        let misread = (fault == Fault::Misread).then(|| {
            let size = noise.uniform(1.0, 3.0);
            ((noise.unit() * 10.0) as usize, if noise.chance(0.5) { size } else { -size })
        });
        let odd_seat =
            (fault == Fault::OneSeat).then(|| ((noise.unit() * 8.0) as usize % 8, 3.0 * SEAT_U_MM));
        let at = shape.looked_at();
        let mut room = Self {
            truth: at.into_iter().map(|(x, y)| [x, y, shape.at(x, y)]).collect(),
            shape,
            odd_seat,
            seat_mm: if fault == Fault::Seat { 2.0 * SEAT_U_MM } else { SEAT_U_MM },
            plane: Plane { c_mm: 0.0, p_mm_per_m: 0.0, q_mm_per_m: 0.0 },
            zero_mm: noise.normal(ZERO_U_MM),
            adjusters,
            grip,
            play,
            screw: [0.0; 3],
            misread,
            takes: 0,
            noise,
        };
        // A rough setting by sight, made again until the light is everywhere before the head.
        for _ in 0..10_000 {
            room.plane = Plane {
                c_mm: 3.0 + room.noise.normal(0.8),
                p_mm_per_m: room.noise.normal(1.5),
                q_mm_per_m: room.noise.normal(2.5),
            };
            let gaps = stations().into_iter().map(|s| room.gap_mm(s.at.x.0, s.at.y.0));
            if gaps.into_iter().all(|gap| (0.8..11.0).contains(&gap)) {
                break;
            }
        }
        room
    }

    /// The true gap, mm.
    pub(crate) fn gap_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        self.plane.height_mm(x_mm, y_mm) - self.shape.at(x_mm, y_mm)
    }

    /// Whether all of the board is truly in the band.
    pub(crate) fn is_within(&self, band: Band<Mm>) -> bool {
        self.margin_mm(band) >= 0.0
    }

    /// Whether all of it is, but for a dent or bump narrower than this, mm.
    pub(crate) fn is_within_but(&self, band: Band<Mm>, narrower_mm: f64) -> bool {
        let inside = |&[x, y, height]: &[f64; 3]| {
            let smooth_mm = height - self.shape.dented_mm(x, y, narrower_mm);
            band.contains(Mm(self.plane.height_mm(x, y) - smooth_mm))
        };
        self.truth.iter().all(inside)
    }

    /// The dent or bump that it has, `[x, y, height]`, mm.
    pub(crate) fn dent(&self) -> Option<[f64; 3]> {
        self.shape.dent()
    }

    /// The board and what is wrong besides.
    pub(crate) fn shown(&self) -> String {
        let Self { shape, adjusters, grip, play, misread, seat_mm, .. } = self;
        let pitches = adjusters.each_ref().map(|a| (a.pitch.0, a.clockwise));
        format!(
            "{shape}, {pitches:?}, grip {grip:?}, play {play:.2?}, misread {misread:?}, seat {seat_mm}"
        )
    }

    /// The place that is furthest out, mm, with its gap.
    pub(crate) fn worst(&self, band: Band<Mm>) -> (f64, f64, f64) {
        let gaps =
            self.truth.iter().map(|&[x, y, height]| (x, y, self.plane.height_mm(x, y) - height));
        let inside = |gap: f64| band.inside(Mm(gap)).0;
        gaps.min_by(|a, b| inside(a.2).total_cmp(&inside(b.2))).unwrap_or((0.0, 0.0, 0.0))
    }

    /// How far all of it is inside, mm; negative outside.
    pub(crate) fn margin_mm(&self, band: Band<Mm>) -> f64 {
        let inside =
            |&[x, y, height]: &[f64; 3]| band.inside(Mm(self.plane.height_mm(x, y) - height)).0;
        self.truth.iter().map(inside).fold(f64::INFINITY, f64::min)
    }

    /// Whether the head sees the light at a station.
    pub(crate) fn is_seen(&self, station: &Station) -> bool {
        MEASURABLE.contains(Mm(self.gap_mm(station.at.x.0, station.at.y.0)))
    }

    /// What each adjuster truly does.
    pub(crate) fn influence(&self) -> Option<Influence> {
        Influence::of(&self.adjusters).ok()
    }

    /// The true gaps where truth is looked at.
    pub(crate) fn spots(&self) -> Vec<Spot> {
        let spot = |&[x_mm, y_mm, height]: &[f64; 3]| {
            let gap_mm = self.plane.height_mm(x_mm, y_mm) - height;
            Spot { x_mm, y_mm, gap_mm }
        };
        self.truth.iter().map(spot).collect()
    }

    /// The best setting there is.
    pub(crate) fn best(&self, band: Band<Mm>) -> Option<Setting> {
        solve(&self.spots(), &self.influence()?, &travel(&nominal()), band, None).ok()
    }

    /// A new seat's error on the gauge, mm.
    pub(crate) fn seat(&mut self) -> f64 {
        self.noise.normal(self.seat_mm)
    }

    /// A new seat's error at a place, mm.
    pub(crate) fn seat_at(&mut self, place: &Station) -> f64 {
        let odd = self.odd_seat.filter(|(at, _)| stations()[*at].name == place.name);
        self.noise.normal(odd.map_or(self.seat_mm, |(_, mm)| mm))
    }

    /// The live reading at a seat, mm.
    pub(crate) fn live_mm(&mut self, station: &Station, seat_mm: f64) -> f64 {
        let noise_mm = self.noise.normal(READING_U_MM);
        self.gap_mm(station.at.x.0, station.at.y.0) + self.zero_mm + seat_mm + noise_mm
    }

    /// A take at a place from a new seat, mm.
    pub(crate) fn take_mm(&mut self, station: &Station) -> f64 {
        let seat_mm = self.seat_at(station);
        let off_mm = self.misread.filter(|(at, _)| *at == self.takes).map_or(0.0, |(_, mm)| mm);
        self.takes += 1;
        self.live_mm(station, seat_mm) + off_mm
    }

    /// Turns an adjuster; the first of it goes into the play, and it stops at the end of its
    /// travel.
    pub(crate) fn turn(&mut self, adjuster: usize, turns: f64) {
        let travel = self.adjusters[adjuster].travel_clockwise.0;
        let from = self.screw[adjuster];
        let to = (from + turns * self.grip[adjuster]).clamp(-travel, travel);
        self.screw[adjuster] = to;
        let (half, stands) = self.play[adjuster];
        let wanted = stands + to - from;
        let left = wanted.clamp(-half, half);
        self.play[adjuster].1 = left;
        let mut made = [0.0; 3];
        made[adjuster] = wanted - left;
        if let Some(influence) = self.influence() {
            self.plane = influence.turned(self.plane, &made);
        }
    }

    /// The same by a hand that counts.
    pub(crate) fn turn_by_count(&mut self, adjuster: usize, turns: f64) {
        let off = self.noise.normal(COUNT_TURNS * turns.abs().max(1.0));
        self.turn(adjuster, turns + off);
    }

    /// The same by a hand that watches.
    pub(crate) fn turn_watching(&mut self, adjuster: usize, turns: f64) {
        let off = self.noise.uniform(-STOP_TURNS, STOP_TURNS);
        self.turn(adjuster, turns + off);
    }
}
