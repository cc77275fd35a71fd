//! A simulated finger on a display with a chosen ailment: for practice, and for tests. Invented.

use crate::limits::{Limits, OfTool, Tool};
use crate::marks;
use crate::plan::{Ask, DASHES, HANDS_OFF_MS, HOLD_MS, LEAF_MS, core, line, more};
use crate::raw::{Asked, Came, Contact, FORM, Gap, HeadGap, Kind, Proof, Report, Window};
use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use skimgauge_model::{Image, Point};

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
    fn off(&self, image: Image, at: Point, round: u8) -> [f64; 2] {
        let (x, y) = (at.x.0 / 1000.0, (at.y + image.height / 2.0).0 / 1000.0);
        let moved = f64::from(u8::from(round > 0));
        std::array::from_fn(|axis| {
            self.off_mm[axis]
                + self.slopes_mm_per_m[0][axis] * x
                + self.slopes_mm_per_m[1][axis] * y
                + moved * self.moves_mm[axis]
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

/// What a finger did with something asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// What the display told.
    pub contacts: Vec<Contact>,
    /// How it ended.
    pub came: Came,
    /// When, ms.
    pub to_ms: f64,
}

/// The finger, the display, and their chance.
#[derive(Debug, Clone)]
pub struct Finger {
    /// How the display sees.
    pub display: Display,
    /// How the hand touches.
    pub hand: Hand,
    chance: Pcg64Mcg,
    next_id: i64,
}

impl Finger {
    /// From this start of chance.
    pub fn new(display: Display, hand: Hand, seed: u64) -> Self {
        Self { display, hand, chance: Pcg64Mcg::seed_from_u64(seed), next_id: 1 }
    }

    /// Even, from 0 to 1.
    pub fn even(&mut self) -> f64 {
        (self.chance.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Normal, mean 0, standard deviation 1 (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.even().max(1e-300), self.even());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }

    /// How often something happens that is expected so often (Knuth).
    fn count(&mut self, expected: f64) -> usize {
        let (limit, mut product, mut count) = ((-expected).exp(), self.even(), 0);
        while product > limit {
            product *= self.even();
            count += 1;
        }
        count
    }

    /// With a bias of aim out of those that a tool's standard uncertainty allows.
    #[must_use]
    pub fn biased(mut self, allowed: OfTool) -> Self {
        self.hand.bias_mm = [self.normal() * allowed.aim.0, self.normal() * allowed.aim.0];
        self
    }

    /// Does what is asked.
    pub fn answers(&mut self, ask: &Ask, setting: &Setting, from_ms: f64) -> Answer {
        match ask {
            Ask::Mark { mark, round } => self.taps(*mark, *round, setting, from_ms),
            Ask::Hold { mark } => self.holds(*mark, setting, from_ms),
            Ask::Stroke { stroke } => self.draws(*stroke, setting, from_ms),
            Ask::HandsOff => self.stands_clear(setting, from_ms),
            Ask::Dashes { mark } => self.dashes(*mark, setting, from_ms),
            Ask::Leaf { station, x, y, thickness } => {
                let gaps = &self.display.gaps_mm;
                let gap = gaps.iter().find(|(known, _)| known == station).map_or(2.0, |gap| gap.1);
                let scatter = 0.12 * self.normal();
                let seen = thickness.0 + scatter > gap - self.display.depth_mm;
                let at = Point { x: *x, y: *y };
                let held = if seen {
                    vec![self.still(at, setting, from_ms + 500.0, LEAF_MS)]
                } else {
                    vec![]
                };
                let contacts = held.into_iter().map(|c| Contact { lifted: false, ..c }).collect();
                Answer { contacts, came: Came::Done, to_ms: from_ms + 500.0 + LEAF_MS }
            }
        }
    }

    fn lost(&mut self, at: Point, setting: &Setting) -> bool {
        let shadow =
            self.display.shadow.and_then(|mark| marks::at(setting.image, setting.inset, mark));
        let shadowed = shadow.is_some_and(|middle| middle.apart(at).0 < 350.0);
        self.even() < if shadowed { 0.5 } else { self.display.misses }
    }

    fn seen(&mut self, at: Point, round: u8, setting: &Setting) -> Point {
        let off = self.display.off(setting.image, at, round);
        let jitter = self.display.jitter_mm;
        let [right, up] = off.map(|off| off + jitter * self.normal());
        Point::mm(at.x.0 + right, at.y.0 + up)
    }

    fn contact(&mut self, at: Point, setting: &Setting, at_ms: f64) -> Contact {
        self.next_id += 1;
        let report = setting.report(at, at_ms);
        Contact { lifted: true, ..Contact::new(self.next_id, Kind::Touch, report) }
    }

    fn taps(&mut self, mark: u8, round: u8, setting: &Setting, from_ms: f64) -> Answer {
        let at_ms = from_ms + 900.0 + 400.0 * self.even();
        let Some(at) = marks::at(setting.image, setting.inset, mark) else {
            return Answer { contacts: Vec::new(), came: Came::Done, to_ms: at_ms };
        };
        let Hand { tap_mm, bias_mm, .. } = self.hand;
        let [x, y] = bias_mm.map(|bias| bias + tap_mm * self.normal());
        let bend = self.display.bend.filter(|bend| bend.0 == mark).map_or([0.0; 2], |bend| bend.1);
        let touched = Point::mm(at.x.0 + x + bend[0], at.y.0 + y + bend[1]);
        if self.lost(at, setting) {
            return Answer { contacts: Vec::new(), came: Came::NoReaction, to_ms: at_ms + 900.0 };
        }
        let seen = self.seen(touched, round, setting);
        let mut contact = self.contact(seen, setting, at_ms);
        let seen = self.seen(touched, round, setting);
        contact.report(setting.report(seen, at_ms + 80.0));
        Answer { contacts: vec![contact], came: Came::Done, to_ms: at_ms + 120.0 }
    }

    fn still(&mut self, at: Point, setting: &Setting, from_ms: f64, for_ms: f64) -> Contact {
        let step = 1000.0 / self.display.reports_per_s;
        let first = self.seen(at, 1, setting);
        let mut contact = self.contact(first, setting, from_ms);
        for number in 1..(for_ms / step) as usize {
            let seen = self.seen(at, 1, setting);
            contact.report(setting.report(seen, from_ms + number as f64 * step));
        }
        contact
    }

    fn holds(&mut self, mark: u8, setting: &Setting, from_ms: f64) -> Answer {
        let at = marks::at(setting.image, setting.inset, mark).unwrap_or(Point::mm(0.0, -100.0));
        let contact = self.still(at, setting, from_ms + 600.0, HOLD_MS + 200.0);
        Answer { contacts: vec![contact], came: Came::Done, to_ms: from_ms + HOLD_MS + 900.0 }
    }

    fn draws(&mut self, stroke: u8, setting: &Setting, from_ms: f64) -> Answer {
        let Some((from, to)) = line(setting.image, setting.inset, stroke) else {
            return Answer { contacts: Vec::new(), came: Came::Done, to_ms: from_ms };
        };
        let length = from.apart(to).0;
        let step_ms = 1000.0 / self.display.reports_per_s;
        let way_ms = length / 0.7;
        let steps = (way_ms / step_ms) as usize;
        let per_step = self.display.breaks_per_m * length / 1000.0 / steps as f64;
        let begins = from_ms + 800.0;
        let mut contacts: Vec<Contact> = Vec::new();
        let mut gone = 0;
        let mut down = false;
        for way in 0..2 {
            let wander = [(); 3].map(|()| self.normal() * self.hand.wander_mm);
            for number in 0..steps {
                let share = number as f64 / steps as f64;
                let along = if way == 0 { share } else { 1.0 - share };
                let across: f64 = (1..4)
                    .map(|wave| {
                        wander[wave - 1] * (share * std::f64::consts::PI * wave as f64).sin()
                    })
                    .sum();
                let at = setting.on_line(from, to, along, across);
                let at_ms = begins + (way * steps + number) as f64 * step_ms;
                let far_from_ends = (0.1..0.9).contains(&along);
                let shaded =
                    number % 25 == 12 && self.display.shadow.is_some() && self.lost(at, setting);
                if far_from_ends && (shaded || self.even() < per_step) {
                    gone = 5;
                }
                if gone > 0 {
                    gone -= 1;
                    down = false;
                    continue;
                }
                let seen = self.seen(at, 1, setting);
                match contacts.last_mut().filter(|_| down) {
                    Some(contact) => contact.report(setting.report(seen, at_ms)),
                    None => {
                        let contact = self.contact(seen, setting, at_ms);
                        contacts.push(contact);
                        down = true;
                    }
                }
            }
        }
        Answer { contacts, came: Came::Done, to_ms: begins + (2 * steps) as f64 * step_ms + 300.0 }
    }

    fn stands_clear(&mut self, setting: &Setting, from_ms: f64) -> Answer {
        let count = self.count(self.display.ghosts_per_min * HANDS_OFF_MS / 60_000.0);
        let mut times: Vec<f64> = (0..count).map(|_| self.even() * HANDS_OFF_MS).collect();
        times.sort_by(f64::total_cmp);
        let contacts = times
            .into_iter()
            .map(|at_ms| {
                let at = Point {
                    x: setting.image.width * (self.even() - 0.5),
                    y: -(setting.image.height * self.even()),
                };
                self.contact(at, setting, from_ms + at_ms)
            })
            .collect();
        Answer { contacts, came: Came::Done, to_ms: from_ms + HANDS_OFF_MS + 100.0 }
    }

    fn dashes(&mut self, mark: u8, setting: &Setting, from_ms: f64) -> Answer {
        let at = marks::at(setting.image, setting.inset, mark).unwrap_or(Point::mm(0.0, -100.0));
        let mut contacts: Vec<Contact> = Vec::new();
        for number in 0..DASHES {
            let begins = from_ms + 500.0 + 300.0 * number as f64;
            let joined = self.display.joins && number > 0 && self.even() < 0.6;
            for step in 0..12u8 {
                let along = f64::from(step) * 5.0 - 30.0;
                let place = Point::mm(at.x.0 + along, at.y.0 + 6.0 * number as f64 - 30.0);
                let seen = self.seen(place, 1, setting);
                let report = setting.report(seen, begins + 10.0 * f64::from(step));
                match contacts.last_mut().filter(|_| step > 0 || joined) {
                    Some(contact) => contact.report(report),
                    None => {
                        let contact = self.contact(seen, setting, begins);
                        contacts.push(contact);
                    }
                }
            }
        }
        Answer {
            contacts,
            came: Came::Done,
            to_ms: from_ms + 500.0 + 300.0 * DASHES as f64 + 500.0,
        }
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

    fn on_line(&self, from: Point, to: Point, along: f64, across: f64) -> Point {
        let (dx, dy) = ((to.x - from.x).0, (to.y - from.y).0);
        let length = dx.hypot(dy);
        Point::mm(
            from.x.0 + along * dx - across * dy / length,
            from.y.0 + along * dy + across * dx / length,
        )
    }
}

/// An empty proof of a full screen.
pub fn begun(image: Image, tool: Tool, limits: Limits, gap: Gap) -> Proof {
    let window = Window::full(1920.0, 1920.0 / image.ratio());
    Proof {
        form: FORM,
        image,
        tool,
        limits,
        gap,
        left_out: Vec::new(),
        windows: vec![window],
        asked: Vec::new(),
        gaps: Vec::new(),
        paused: Vec::new(),
    }
}

/// Plays a whole proof: the core, and the rest where that is not within; leaves where they are
/// given. A tap that is not seen is made again.
pub fn played(finger: &mut Finger, mut proof: Proof, leaves: &[Ask], gaps: Vec<HeadGap>) -> Proof {
    proof.gaps = gaps;
    let setting =
        Setting { image: proof.image, inset: proof.limits.inset, window: proof.windows[0] };
    let mut now_ms = proof.asked.last().map_or(0.0, |asked| asked.to_ms);
    let mut play = |proof: &mut Proof, finger: &mut Finger, ask: &Ask| {
        for _ in 0..4 {
            let answer = finger.answers(ask, &setting, now_ms);
            let seen = answer.came == Came::Done;
            let asked = Asked {
                ask: ask.clone(),
                from_ms: now_ms,
                to_ms: answer.to_ms,
                came: answer.came,
                contacts: answer.contacts,
            };
            now_ms = asked.to_ms;
            proof.asked.push(asked);
            if seen {
                break;
            }
        }
    };
    for ask in core(&proof.left_out).iter().chain(leaves) {
        play(&mut proof, finger, ask);
    }
    let within = crate::judge::judge(&proof)
        .is_ok_and(|judged| judged.verdict == skimgauge_model::Verdict::Within);
    if !within {
        for ask in more(&proof.left_out) {
            play(&mut proof, finger, &ask);
        }
    }
    proof
}
