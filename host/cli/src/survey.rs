//! A survey worked out against its job: shape, flatness, whether the gap's band can be met, where
//! to look next. Pure.

use crate::jobs;
use crate::keeping::section::InBoth;
use anyhow::bail;
use serde::Serialize;
use skimgauge_jobfile::Job;
use skimgauge_metrology::flatness::looked_at::{Unlooked, speaks_beyond, unlooked};
use skimgauge_metrology::flatness::{self, form, zone};
use skimgauge_metrology::plane::ground::Ground;
use skimgauge_metrology::report::Feasibility;
use skimgauge_metrology::trim::feasible::any_setting;
use skimgauge_metrology::trim::promise::Promise;
use skimgauge_model::{Image, Point, Verdict};
use skimgauge_procedure::survey::known;
use skimgauge_procedure::takes::expanded;
use skimgauge_quantity::{Mm, Sentence, Style, Units, count, say};
use skimgauge_site::drawing::board::board_map;
use skimgauge_site::survey::{Proposed, Surveyed, next_points};

/// Most places in `worst`.
const WORST: usize = 6;

/// What a survey found. Heights mm, positive toward the viewer.
#[derive(Debug, Clone, Serialize)]
pub struct Survey {
    /// Places surveyed.
    pub points: usize,
    /// Whether any of them was read of a simulated head.
    pub simulated: bool,
    /// Minimum-zone flatness (ISO 12781-1), square to the zone.
    pub flatness_mm: f64,
    /// Whether four touching places prove that no zone near it is thinner.
    pub flatness_is_proved: bool,
    /// Highest less lowest from the least-squares plane.
    pub least_squares_flatness_mm: f64,
    /// The least-squares plane.
    pub plane: Plane,
    /// The larger of both bows.
    pub bow_mm: Option<f64>,
    /// Middle of the image out of the middles of its left and right edges.
    pub bow_across_mm: Option<f64>,
    /// Middle of the image out of the middles of its top and bottom edges.
    pub bow_down_mm: Option<f64>,
    /// Top right corner out of the plane, by twist.
    pub twist_mm: Option<f64>,
    /// Places farthest from the least-squares plane, `z_mm` from it.
    pub worst: Vec<Surveyed>,
    /// Places that bow and twist do not explain, `z_mm` out of the bowed and twisted board.
    pub bumps: Vec<Surveyed>,
    /// Against the gap's band.
    pub band: Band,
    /// The part of the image that nobody looked at; `None`: the points speak of all of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unlooked: Option<[f64; 2]>,
    /// Where to look next.
    pub next: Vec<Proposed>,
    /// What is left open, in sentences.
    pub remarks: Vec<Sentence>,
    /// All that it was worked out from.
    #[serde(skip)]
    pub heights: Vec<Surveyed>,
    /// The board as a map.
    #[serde(skip)]
    pub map: InBoth,
}

/// A plane over the image's frame.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Plane {
    /// Height at the middle of the image's top edge.
    pub c_mm: f64,
    /// Rise to the right.
    pub p_mm_per_m: f64,
    /// Rise upward.
    pub q_mm_per_m: f64,
}

/// Whether a flat touch plane can keep the band over this board.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Band {
    /// Low end of the band.
    pub low_mm: f64,
    /// High end of the band.
    pub high_mm: f64,
    /// Thinnest zone along z that holds the places surveyed: the least that any setting can leave
    /// between smallest and largest gap there.
    pub needed_mm: f64,
    /// Band left over on each side at the places surveyed with the best setting for them; below
    /// zero, no setting passes.
    pub margin_mm: f64,
    /// Half width of the 95 % interval of `margin_mm`, by the uncertainty of the heights.
    pub margin_expanded_mm: f64,
    /// How far inside the band the best setting leaves the worst place of the whole board, as far
    /// as the board is known between the places surveyed too; null where no form could be made
    /// through them.
    pub between: Option<Between>,
    /// Whether some setting can pass: null where `verdict` is `unsure`.
    pub can_be_met: Option<bool>,
    /// The same: `unsure` where a margin is too near to nothing, where the board may do too much
    /// between the places surveyed, or where nobody looked at a part of the image.
    pub verdict: Verdict,
}

/// What the best setting leaves over the whole board.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Between {
    /// How far inside the band the worst place stands, as far as each is known.
    #[serde(flatten)]
    pub room: Promise,
    /// Bound on the chance that some place is out, bumps and dents that nobody has met among it; to be
    /// met it may be 0.025.
    pub chance: f64,
}

impl Survey {
    /// Works a survey out for a job; proposes `next` further points. `simulated`: some points were
    /// read of a simulated head.
    ///
    /// # Errors
    /// The points make no plane, or a figure is out of range.
    pub fn of(
        (points, simulated): (&[Surveyed], bool),
        job: &Job,
        u_mm: f64,
        inset_mm: f64,
        next: usize,
    ) -> anyhow::Result<Self> {
        if !(0.001..=10.0).contains(&u_mm) {
            bail!("The uncertainty of one height is {u_mm} mm; expected 0.001 to 10 mm.");
        }
        let image = job.image;
        check_on_image(points, image)?;
        let places: Vec<flatness::HeightAt> = jobs::heights(points);
        let plane = flatness::least_squares(&places)?;
        let minimum = zone::minimum(&places)?;
        let vertical = zone::vertical(&places)?;
        let form = form::form(&places, image.width.0, image.height.0, u_mm);
        let mut remarks = Vec::new();
        if form.is_err() {
            remarks.push(no_form(points.len()));
        }
        let unlooked = unlooked(&places, image);
        if let Some(place) = &unlooked {
            remarks.push(nobody_looked(place, image));
        }
        // Of what lies beyond the points they say nothing.
        let form = form.ok().filter(|_| unlooked.is_none());
        let from_plane = |p: &Surveyed| p.z_mm - plane.a - plane.b * p.x_mm - plane.c * p.y_mm;
        let mut worst: Vec<Surveyed> =
            points.iter().map(|p| Surveyed { z_mm: from_plane(p), ..*p }).collect();
        let flatness = Mm(minimum.width).fine();
        let practice = if simulated { "SIMULATED, nothing was measured. " } else { "" };
        let points_read = count(points.len(), "point");
        let caption = say!("{practice}Flatness {flatness} (minimum zone), {points_read}");
        let map = |units| board_map(&worst, image, &caption, Style::typed(units));
        let map = InBoth { mm: map(Units::Mm), inch: map(Units::Inch) };
        worst.sort_by(|a, b| b.z_mm.abs().total_cmp(&a.z_mm.abs()));
        worst.truncate(WORST);
        let bumps = form.iter().flat_map(|form| &form.bumps).take(WORST);
        let bumps =
            bumps.map(|bump| Surveyed { z_mm: bump.height_mm, ..points[bump.place] }).collect();
        let next = match &form {
            Some(form) => next_points(image, inset_mm, &known(&places, form), next)?,
            None => Vec::new(),
        };
        let unlooked_at = unlooked.map(|place| [place.x_mm, place.y_mm]);
        let band = Band::of(&places, job, vertical.width, u_mm, unlooked_at.is_none())?;
        Ok(Self {
            points: points.len(),
            simulated,
            flatness_mm: minimum.width,
            flatness_is_proved: minimum.is_proved(&places, 1e-6),
            least_squares_flatness_mm: plane.peak_to_valley,
            plane: Plane {
                c_mm: plane.a,
                p_mm_per_m: 1000.0 * plane.b,
                q_mm_per_m: 1000.0 * plane.c,
            },
            bow_mm: form.as_ref().map(|f| {
                if f.bow_across_mm.abs() > f.bow_down_mm.abs() {
                    f.bow_across_mm
                } else {
                    f.bow_down_mm
                }
            }),
            bow_across_mm: form.as_ref().map(|form| form.bow_across_mm),
            bow_down_mm: form.as_ref().map(|form| form.bow_down_mm),
            twist_mm: form.as_ref().map(|form| form.twist_mm),
            worst,
            bumps,
            band,
            unlooked: unlooked_at,
            next,
            remarks,
            heights: points.to_vec(),
            map,
        })
    }
}

impl Band {
    /// Of a job over a board surveyed at these places, each known to `u_mm`, mm, that take
    /// `needed_mm` of it; `looked_at`: they speak of the whole image.
    fn of(
        places: &[flatness::HeightAt],
        job: &Job,
        needed_mm: f64,
        u_mm: f64,
        looked_at: bool,
    ) -> anyhow::Result<Self> {
        let band = job.bands.gap;
        let margin_mm = (band.width().0 - needed_mm) / 2.0;
        // A height at either side of the zone, half of their difference each.
        let margin_expanded_mm = expanded(u_mm / f64::sqrt(2.0), None);
        let best = match jobs::through(places.to_vec(), job) {
            Ok(board) => {
                let size_mm = [job.image.width.0, job.image.height.0];
                let ground = Ground::new(&board, size_mm, job.board.expected(), &[]);
                Some(any_setting(&ground, band)?)
            }
            Err(_) => None,
        };
        let between = best.as_ref().map(|best| best.feasible);
        let verdict = match between {
            _ if margin_mm < -margin_expanded_mm => Verdict::Outside,
            Some(Feasibility::No) if looked_at => Verdict::Outside,
            Some(Feasibility::Yes) if looked_at && margin_mm > margin_expanded_mm => {
                Verdict::Within
            }
            _ => Verdict::Unsure,
        };
        Ok(Self {
            low_mm: band.low.0,
            high_mm: band.high.0,
            needed_mm,
            margin_mm,
            margin_expanded_mm,
            between: best.map(|best| Between { room: best.room, chance: best.chance }),
            can_be_met: (verdict != Verdict::Unsure).then_some(verdict == Verdict::Within),
            verdict,
        })
    }
}

/// Where to look next, up to `count` places.
///
/// # Errors
/// The points do not show bow and twist yet, or a figure is out of range.
pub fn further(
    points: &[Surveyed],
    image: Image,
    u_mm: f64,
    inset_mm: f64,
    count: usize,
) -> anyhow::Result<Vec<Proposed>> {
    let places: Vec<flatness::HeightAt> = jobs::heights(points);
    let Ok(form) = form::form(&places, image.width.0, image.height.0, u_mm) else {
        bail!(no_form(points.len()).text(Style::default()))
    };
    Ok(next_points(image, inset_mm, &known(&places, &form), count)?)
}

fn nobody_looked(place: &Unlooked, image: Image) -> Sentence {
    let at = image.at(Point { x: Mm(place.x_mm), y: Mm(place.y_mm) });
    let beyond = speaks_beyond(image).wall();
    say!(
        "the places surveyed do not cover the whole image: {at} nothing was read, nor anywhere more than {beyond} beyond them. Survey there too (skimgauge survey --job FILE proposes points)"
    )
}

fn no_form(points: usize) -> Sentence {
    say!(
        "these {points} points do not show bow and twist: take the first six points of the proposed grid (corners, middle of the top edge, centre)"
    )
}

fn check_on_image(points: &[Surveyed], image: Image) -> anyhow::Result<()> {
    // A survey may go some way beyond the image, as the board does.
    let (beyond_x, beyond_y) = (0.75 * image.width.0, 0.25 * image.height.0);
    let off = points.iter().find(|p| {
        p.x_mm.abs() > beyond_x || p.y_mm > beyond_y || p.y_mm < -image.height.0 - beyond_y
    });
    if let Some(off) = off {
        bail!(
            "The point {}, {} is far off the image: x counts from the image's middle, y from its top edge and is negative below it.",
            off.x_mm,
            off.y_mm
        );
    }
    Ok(())
}
