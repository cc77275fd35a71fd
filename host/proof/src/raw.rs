//! The record of a proof: what was asked, and everything that the browser told, with its times. A
//! proof is judged from this alone, and can be judged again.

use crate::limits::{Limits, Tool};
use crate::plan::Ask;
use serde::{Deserialize, Serialize};
use skimgauge_model::{Image, Point, Verdict};
use skimgauge_quantity::{Mm, Sentence, say};

/// Form of this record.
pub const FORM: u32 = 1;
/// Pixels are kept in these parts.
const PX: f64 = 100.0;
/// Milliseconds are kept in these parts: the grain of a browser's clock.
const MS: f64 = 10.0;
/// More than a proof has.
const MOST_ASKED: usize = 2000;
const MOST_CONTACTS: usize = 20_000;
const MOST_STEPS: usize = 2_000_000;
/// Longest time that a proof takes, ms: a day.
const LONGEST_MS: f64 = 86_400_000.0;

/// A proof as it was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Proof {
    /// [`FORM`].
    pub form: u32,
    /// The image that was touched.
    pub image: Image,
    /// With what.
    pub tool: Tool,
    /// What was allowed.
    pub limits: Limits,
    /// How the gap stood when the proof began.
    pub gap: Gap,
    /// Marks out of reach.
    #[serde(default)]
    pub left_out: Vec<u8>,
    /// The browser's window, each from its time on.
    pub windows: Vec<Window>,
    /// What was asked, in its order, with what came meanwhile.
    pub asked: Vec<Asked>,
    /// The head's gaps at the stations where leaves were laid.
    #[serde(default)]
    pub gaps: Vec<HeadGap>,
    /// What came in pauses.
    #[serde(default)]
    pub paused: Vec<Contact>,
}

/// How the gap stood.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Gap {
    /// Judged within, and nothing was turned since.
    Within,
    /// Judged, and not within.
    NotWithin,
    /// Judged before the last turn.
    OlderThanTurn,
    /// Never judged, or nobody knows.
    NotJudged,
}

impl Gap {
    /// From the last verdict, and whether an adjuster was turned after it.
    pub fn of(verdict: Option<Verdict>, turned_since: bool) -> Self {
        match verdict {
            None => Self::NotJudged,
            Some(_) if turned_since => Self::OlderThanTurn,
            Some(Verdict::Within) => Self::Within,
            Some(_) => Self::NotWithin,
        }
    }
}

/// A gap by the head, where a leaf was laid.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HeadGap {
    /// The station.
    pub station: String,
    /// The gap there.
    #[serde(rename = "gap_mm")]
    pub gap: Mm,
    /// Its standard uncertainty, without what all gaps share.
    #[serde(rename = "u_mm")]
    pub u: Mm,
}

/// What the browser says of its window. Lengths in CSS pixels.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Window {
    /// From when on, ms since the proof began.
    pub from_ms: f64,
    /// Width of what is seen.
    pub width: f64,
    /// Its height.
    pub height: f64,
    /// Width of the screen.
    pub screen_width: f64,
    /// Its height.
    pub screen_height: f64,
    /// How far it is pinched larger; 1 if not.
    pub scale: f64,
    /// How far what is seen is shifted, across.
    pub left: f64,
    /// And down.
    pub top: f64,
    /// The page tells every report: its address is one that the browser trusts.
    pub secure: bool,
}

impl Window {
    /// What keeps pixels from being places on the board; `None` where nothing does.
    pub fn doubt(&self, image: Image) -> Option<Sentence> {
        if (self.scale - 1.0).abs() > 0.001 || self.left.abs() > 0.5 || self.top.abs() > 0.5 {
            return Some(say!("the page is pinched larger: set it back to its own size"));
        }
        let (across, down) = (self.screen_width - self.width, self.screen_height - self.height);
        if across.abs() > 1.0 || down.abs() > 1.0 {
            return Some(say!(
                "the page is not full screen: press F, or F11, and take page zoom back to 100 %"
            ));
        }
        let off = (self.screen_width / self.screen_height) / image.ratio() - 1.0;
        if off.abs() > 0.005 {
            return Some(say!(
                "the screen has another aspect than the job's image: the image is letterboxed, or the job has another size"
            ));
        }
        None
    }

    /// Where a pixel is on the board: by fractions, so that zoom and the system's scale cancel.
    pub fn place(&self, image: Image, x: f64, y: f64) -> Point {
        Point { x: image.width * (x / self.width - 0.5), y: -(image.height * (y / self.height)) }
    }

    fn can_be(&self) -> bool {
        let size = [self.width, self.height, self.screen_width, self.screen_height];
        let rest = [self.from_ms, self.scale, self.left, self.top];
        size.into_iter().all(|px| (50.0..=100_000.0).contains(&px))
            && rest.into_iter().all(f64::is_finite)
            && (0.01..=100.0).contains(&self.scale)
    }
}

/// How something asked ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Came {
    /// As asked.
    Done,
    /// It was done, and the display did not react.
    NoReaction,
    /// It was taken back; it counts for nothing.
    Undone,
}

/// Something asked, with what came meanwhile.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// What.
    pub ask: Ask,
    /// From when, ms since the proof began.
    pub from_ms: f64,
    /// Until when.
    pub to_ms: f64,
    /// How it ended.
    pub came: Came,
    /// Every contact that began meanwhile.
    pub contacts: Vec<Contact>,
}

/// What touches, as the browser says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Touch.
    Touch,
    /// A mouse, or a display that passes for one: one contact.
    Mouse,
    /// A pen.
    Pen,
}

/// One contact from down to up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Contact {
    /// Told apart by this while it lasts.
    pub id: i64,
    /// What touches.
    pub kind: Kind,
    /// Largest width that the display reports, px; 0 or 1 where it reports none.
    #[serde(default)]
    pub width: f64,
    /// Largest pressure, 0 to 1.
    #[serde(default)]
    pub pressure: f64,
    /// It was lifted; else the browser took it away, or nobody saw its end.
    pub lifted: bool,
    /// Time in 0.1 ms, x and y in 0.01 px, one report after the other: the first as it is, each
    /// further one as what it adds.
    pub path: Vec<i64>,
}

/// One report of a contact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Report {
    /// When, ms since the proof began.
    pub at_ms: f64,
    /// CSS pixels from the left.
    pub x: f64,
    /// And from the top.
    pub y: f64,
}

impl Contact {
    /// A contact that begins with this report.
    pub fn new(id: i64, kind: Kind, first: Report) -> Self {
        let mut contact =
            Self { id, kind, width: 0.0, pressure: 0.0, lifted: false, path: Vec::new() };
        contact.report(first);
        contact
    }

    /// With this report after those so far.
    pub fn report(&mut self, report: Report) {
        let last = self.last_parts();
        let parts = [report.at_ms * MS, report.x * PX, report.y * PX];
        for (part, before) in parts.into_iter().zip(last) {
            let now =
                if part.is_finite() { part.round().clamp(-1e15, 1e15) as i64 } else { before };
            self.path.push(now - before);
        }
    }

    fn last_parts(&self) -> [i64; 3] {
        self.path
            .chunks_exact(3)
            .fold([0; 3], |sum, step| std::array::from_fn(|at| sum[at].saturating_add(step[at])))
    }

    /// Its reports.
    pub fn reports(&self) -> Vec<Report> {
        let mut sum = [0i64; 3];
        self.path
            .chunks_exact(3)
            .map(|step| {
                sum = std::array::from_fn(|at| sum[at].saturating_add(step[at]));
                Report { at_ms: sum[0] as f64 / MS, x: sum[1] as f64 / PX, y: sum[2] as f64 / PX }
            })
            .collect()
    }

    /// When it came down, ms.
    pub fn down_ms(&self) -> f64 {
        self.path.first().map_or(0.0, |first| *first as f64 / MS)
    }

    /// When it was last heard of, ms.
    pub fn up_ms(&self) -> f64 {
        self.last_parts()[0] as f64 / MS
    }
}

impl Proof {
    /// What it says that cannot be; `None` where it can be judged.
    pub fn wrong(&self) -> Option<Sentence> {
        if self.form != FORM {
            return Some(say!("it has form {}, and this program reads form {}", self.form, FORM));
        }
        if self.image.checked().is_err() {
            return Some(say!("its image cannot be"));
        }
        if !self.limits.can_be() {
            return Some(say!("its limits cannot be"));
        }
        if self.windows.is_empty() || !self.windows.iter().all(Window::can_be) {
            return Some(say!("its window cannot be"));
        }
        if self.windows.windows(2).any(|pair| pair[1].from_ms < pair[0].from_ms) {
            return Some(say!("its windows stand in no order"));
        }
        if self.left_out.iter().any(|mark| usize::from(*mark) >= crate::marks::MARKS) {
            return Some(say!("a mark is left out that there is not"));
        }
        if self
            .gaps
            .iter()
            .any(|gap| !((0.0..=1000.0).contains(&gap.gap.0) && (0.0..=100.0).contains(&gap.u.0)))
        {
            return Some(say!("a gap in it cannot be"));
        }
        let mut sizes =
            (self.paused.len(), self.paused.iter().map(|c| c.path.len()).sum::<usize>());
        for asked in &self.asked {
            sizes.0 += asked.contacts.len();
            sizes.1 += asked.contacts.iter().map(|contact| contact.path.len()).sum::<usize>();
        }
        if let Some(why) = self.paused.iter().find_map(|contact| self.wrong_contact(contact, 0.0)) {
            return Some(say!("in a pause: {why}"));
        }
        if self.asked.len() > MOST_ASKED || sizes.0 > MOST_CONTACTS || sizes.1 > MOST_STEPS {
            return Some(say!("it is longer than any proof"));
        }
        let mut before = f64::NEG_INFINITY;
        for (asked, number) in self.asked.iter().zip(1u32..) {
            if let Some(why) = self.wrong_with(asked, before) {
                return Some(say!("what was asked as number {number}: {why}"));
            }
            before = asked.from_ms;
        }
        None
    }

    fn wrong_with(&self, asked: &Asked, before: f64) -> Option<Sentence> {
        if !asked.ask.can_be(self.image) {
            return Some(say!("it cannot be asked"));
        }
        let in_order = asked.from_ms >= before && asked.to_ms >= asked.from_ms;
        if !in_order || asked.to_ms > LONGEST_MS || asked.from_ms < 0.0 {
            return Some(say!("its times cannot be"));
        }
        asked.contacts.iter().find_map(|contact| self.wrong_contact(contact, asked.from_ms))
    }

    fn wrong_contact(&self, contact: &Contact, from_ms: f64) -> Option<Sentence> {
        if contact.path.is_empty() || !contact.path.len().is_multiple_of(3) {
            return Some(say!("a contact has no place"));
        }
        let numbers = [contact.width, contact.pressure];
        if !numbers.into_iter().all(|number| (0.0..=100_000.0).contains(&number)) {
            return Some(say!("a contact's size cannot be"));
        }
        let mut last_ms = f64::NEG_INFINITY;
        for report in contact.reports() {
            let window = self.window_at(report.at_ms);
            let there = (-1.0..=window.width + 1.0).contains(&report.x)
                && (-1.0..=window.height + 1.0).contains(&report.y);
            if !there {
                return Some(say!("a contact is beside the screen"));
            }
            if report.at_ms < last_ms || report.at_ms < from_ms - 60_000.0 {
                return Some(say!("a contact's times go backwards"));
            }
            if report.at_ms > LONGEST_MS {
                return Some(say!("a contact's times cannot be"));
            }
            last_ms = report.at_ms;
        }
        None
    }

    /// The window at a time.
    pub fn window_at(&self, at_ms: f64) -> Window {
        let before = self.windows.iter().rev().find(|window| window.from_ms <= at_ms);
        *before.or(self.windows.first()).unwrap_or(&Window::full(1920.0, 1200.0))
    }

    /// Where a report is on the board.
    pub fn place(&self, report: Report) -> Point {
        self.window_at(report.at_ms).place(self.image, report.x, report.y)
    }

    /// What was asked and not taken back.
    pub fn standing(&self) -> impl Iterator<Item = &Asked> {
        self.asked.iter().filter(|asked| asked.came != Came::Undone)
    }
}

impl Window {
    /// A full screen of this size in a browser that tells every report.
    pub fn full(width: f64, height: f64) -> Self {
        Self {
            from_ms: 0.0,
            width,
            height,
            screen_width: width,
            screen_height: height,
            scale: 1.0,
            left: 0.0,
            top: 0.0,
            secure: true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn reports_come_back_to_their_grain() {
        let mut contact = Contact::new(1, Kind::Touch, Report { at_ms: 1234.5, x: 101.1, y: 0.25 });
        contact.report(Report { at_ms: 1244.6, x: 3839.99, y: 12.0 });
        let reports = contact.reports();
        assert_eq!(reports[0], Report { at_ms: 1234.5, x: 101.1, y: 0.25 });
        assert_eq!(reports[1], Report { at_ms: 1244.6, x: 3839.99, y: 12.0 });
        assert_eq!((contact.down_ms(), contact.up_ms()), (1234.5, 1244.6));
    }

    #[test]
    fn zoom_and_scale_cancel_in_a_place() {
        let image = Image::mm(2025.0, 1265.6);
        let one = Window::full(1920.0, 1200.0);
        let scaled = Window::full(1536.0, 960.0);
        assert_eq!(one.place(image, 960.0, 600.0), scaled.place(image, 768.0, 480.0));
        assert_eq!(one.doubt(image), None);
        assert_eq!(scaled.doubt(image), None);
        let windowed =
            Window { screen_width: 1920.0, screen_height: 1200.0, ..Window::full(1000.0, 613.0) };
        assert!(windowed.doubt(image).is_some());
        assert!(Window { scale: 2.0, ..one }.doubt(image).is_some());
        assert!(Window::full(1920.0, 1080.0).doubt(image).is_some());
    }

    proptest! {
        #[test]
        fn no_path_panics(path in prop::collection::vec(any::<i64>(), 0..20)) {
            let contact = Contact { path, ..Contact::new(0, Kind::Pen, Report { at_ms: 0.0, x: 0.0, y: 0.0 }) };
            for report in contact.reports() {
                prop_assert!(report.x.is_finite() && report.y.is_finite() && report.at_ms.is_finite());
            }
            let _ = contact.up_ms();
        }
    }
}
