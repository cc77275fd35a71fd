//! What a job says of the rows: its image, its stations, what its head can read.

use skimgauge_model::{Image, Point, Station};
use skimgauge_quantity::{Band, Mm};

use crate::decimals::Cell;
use crate::error::{Problem, TableError, shortened};

/// What rows are held against. Of what is not given nothing is asked; [`Against::default`] asks
/// nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct Against<'a> {
    /// The image: a reading lies on it, or beside it by no more than 5 mm; a surveyed point by no
    /// more than 100 mm.
    pub image: Option<Image>,
    /// The job's stations: a name may be one of theirs or another, but not nearly one of theirs.
    pub stations: &'a [Station],
    /// Gaps that the head can read.
    pub gaps: Option<Band<Mm>>,
    /// What the gap may be: near it lies what was meant.
    pub band: Option<Band<Mm>>,
}

/// A head is not clipped more exactly, nor a tape held.
pub(crate) const READING_SLACK: Mm = Mm(5.0);

/// The board is larger than its image. Common practice, no source.
pub(crate) const SURVEY_SLACK: Mm = Mm(100.0);

impl Against<'_> {
    /// Refuses a place off the image, and guesses what was meant.
    pub(crate) fn check_place(&self, at: Point, line: usize, slack: Mm) -> Result<(), TableError> {
        let Some(image) = self.image else { return Ok(()) };
        if image.contains(at, slack) {
            return Ok(());
        }
        let problem = Problem::OffImage { x_mm: at.x.0, y_mm: at.y.0, off_mm: image.off_by(at).0 };
        Err(problem.at(line).suggest(meant(at, image)))
    }

    /// Refuses a gap that the head cannot read.
    pub(crate) fn check_gap(&self, gap: Mm, cell: Cell<'_>) -> Result<(), TableError> {
        let Some(band) = self.gaps else { return Ok(()) };
        if band.contains(gap) {
            return Ok(());
        }
        let (low, high) = (band.low.0, band.high.0);
        let problem = Problem::GapRange { found: shortened(cell.text), low, high };
        let error = problem.at(cell.line).column(cell.number);
        let suggestion = if band.contains(-gap) {
            "a gap has no sign: was the head's zero lost, or a minus typed?".to_owned()
        } else if gap > Mm::ZERO && self.may_be(Mm::from_inch(gap.0), band) {
            format!("if it is in inches, enter {:.2}", Mm::from_inch(gap.0).0)
        } else if gap < band.low {
            "so near the board no head sees light: take it again, or leave the line out".to_owned()
        } else {
            "take it again".to_owned()
        };
        Err(error.suggest(suggestion))
    }

    /// Whether this may be the gap that was meant: one that the head reads, and, where it is known
    /// what the gap may be, not farther from that than it is wide.
    fn may_be(&self, gap: Mm, read: Band<Mm>) -> bool {
        let near = |band: Band<Mm>| band.beyond(gap) <= band.high - band.low;
        read.contains(gap) && self.band.is_none_or(near)
    }

    /// The station's name as the job has it, or as it is where the job has none like it.
    pub(crate) fn name(&self, cell: Cell<'_>) -> Result<String, TableError> {
        let found = cell.text;
        if self.stations.is_empty() || self.stations.iter().any(|station| station.name == found) {
            return Ok(found.to_owned());
        }
        let wanted = key(found);
        if let Some(same) = self.stations.iter().find(|station| key(&station.name) == wanted) {
            return Ok(same.name.clone());
        }
        let near = self
            .stations
            .iter()
            .filter(|station| are_near(&wanted, &key(&station.name)))
            .min_by_key(|station| strsim::osa_distance(&wanted, &key(&station.name)));
        match near {
            None => Ok(found.to_owned()),
            Some(near) => {
                let (found, known) = (shortened(found), shortened(&near.name));
                let suggestion = format!(
                    "did you mean \"{known}\"? If it is another place, give it a name of its own"
                );
                Err(Problem::NearName { found, known }
                    .at(cell.line)
                    .column(cell.number)
                    .suggest(suggestion))
            }
        }
    }
}

/// A name without what a spreadsheet changes by itself: letter case, blanks and what stands for
/// them.
fn key(name: &str) -> String {
    let lower = name.to_lowercase();
    let words: Vec<&str> = lower
        .split(|c: char| c.is_whitespace() || "_-".contains(c))
        .filter(|word| !word.is_empty())
        .collect();
    words.join(" ")
}

/// Whether one is most likely a slip for the other. Names that differ by their number are meant to.
fn are_near(one: &str, other: &str) -> bool {
    let longest = one.chars().count().max(other.chars().count());
    if !(3..=crate::LONGEST_NAME).contains(&longest) {
        return false;
    }
    let letters = |name: &str| name.chars().filter(|c| c.is_alphabetic()).collect::<String>();
    let digits = |name: &str| name.chars().filter(|c| c.is_numeric()).collect::<String>();
    if letters(one) == letters(other) && digits(one) != digits(other) {
        return false;
    }
    strsim::osa_distance(one, other) <= if longest < 8 { 1 } else { 2 }
}

/// What may have been meant by a place off the image.
fn meant(at: Point, image: Image) -> String {
    let on_it = |x: Mm, y: Mm| image.contains(Point { x, y }, READING_SLACK);
    let half = image.width / 2.0;
    let from_left = at.x - half;
    let upward = "y counts up from the image's top edge and is negative below it";
    let across = "x counts from the image's middle and is negative to the left of it";
    if on_it(at.x, -at.y) {
        format!("{upward}: is y {} meant?", short(-at.y))
    } else if on_it(from_left, at.y) {
        format!("{across}: is x {} meant?", short(from_left))
    } else if on_it(from_left, -at.y) {
        format!("{across}, {upward}: is x {}, y {} meant?", short(from_left), short(-at.y))
    } else if on_it(at.y, at.x) {
        "are x and y in each other's place?".to_owned()
    } else {
        format!(
            "{across}; {upward}; the job's image is {} x {} mm",
            short(image.width),
            short(image.height)
        )
    }
}

/// A length for a message, to a tenth.
fn short(length: Mm) -> String {
    length.tape().number(skimgauge_quantity::Style::default())
}
