//! An installer that does the job by itself: the hands that follow the guide's advice.

use super::carry::Carry;
use crate::console::screen;
use crate::storing::Entry;
use crate::trim::at_work::{AtWork, Word};
use crate::trim::guide::{Advice, Guide, Stage};
use crate::watch::{Link, Said, Watch};
use crate::watching::{Hands, Mode};
use skimgauge_bench::bench::Bench;
use skimgauge_metrology::measure::Shown;
use std::time::Duration;

/// After this long without getting any further something is wrong, and it is said.
const PATIENCE: Duration = Duration::from_secs(25);
/// The slide is rolled so far at once, mm.
const ROLL_MM: f64 = 0.6;
/// The screw is turned so far at once.
const TWIST_TURNS: f64 = 0.1;
/// Between a twist and the look at what it did.
const LOOK: Duration = Duration::from_millis(400);
/// A head newly clipped on is let go of for so long before anyone says that it is there.
const LET_GO: Duration = Duration::from_millis(500);
/// The end is shown for so long.
const SHOWN: Duration = Duration::from_secs(3);

/// The installer.
pub struct Installer {
    bench: Bench,
    work: AtWork,
    carry: Carry,
    /// The advice followed, and since when.
    following: Option<(String, Duration)>,
    look_at: Duration,
    turned: f64,
    says: String,
    lines: bool,
    over_at: Option<Duration>,
}

impl Installer {
    /// Begins in this room, led by this guide.
    pub fn new(bench: Bench, guide: Guide, mode: Mode) -> Self {
        Self {
            bench,
            work: AtWork::new(guide, mode),
            carry: Carry::default(),
            following: None,
            look_at: Duration::ZERO,
            turned: 0.0,
            says: "the installer clips the head to the first station".to_owned(),
            lines: mode == Mode::Plain,
            over_at: None,
        }
    }

    fn say(&mut self, what: String) {
        if self.lines {
            println!("  - {what}");
        }
        self.says = format!("installer: {what}");
    }

    /// Puts the head where the watch is; for how long it has stood there, once it was let go of.
    fn put(&mut self, now: Duration, watch: &Watch) -> Option<Duration> {
        let stands = self.carry.on(now, &self.bench, watch);
        if self.carry.is_just_down(now) {
            self.say(match watch.stations.station() {
                Some(station) => format!("clips the head at {}", station.name),
                None => "holds the head on the emitter, for its level".to_owned(),
            });
        }
        stands.filter(|stands| *stands > LET_GO)
    }

    fn take(&mut self, now: Duration, watch: &Watch, new: bool) -> Option<Said> {
        if new && watch.stations.here().is_some() {
            // Taken again, it is from a new seat.
            self.carry.lift();
        }
        let stands = self.put(now, watch)?;
        let live = watch.live(now);
        let good = match watch.stations.station() {
            Some(_) => !roll(&self.bench) && live.can_take.is_ok(),
            None => stands > LET_GO * 3 && live.level_deg.good().is_some(),
        };
        (good && watch.busy().is_none() && self.carry.presses(now)).then_some(Said::Take)
    }

    /// Turns a little further toward the gap that was advised.
    fn twist(&mut self, now: Duration, watch: &Watch) {
        let Stage::Turn(turning) = self.work.guide.stage() else { return };
        if roll(&self.bench) || now < self.look_at {
            return;
        }
        let Shown::Good { value: gap_mm, .. } = watch.live(now).gap_mm else { return };
        let to_go_mm = turning.dial_to_mm - gap_mm;
        // Well inside what counts as there, so that it stays there.
        if to_go_mm.abs() < 0.6 * turning.within_mm {
            return;
        }
        let per_turn_mm = turning.predicted_mm() / turning.instruction.turns;
        let left = to_go_mm / per_turn_mm;
        let twist = (0.8 * left).clamp(-TWIST_TURNS, TWIST_TURNS);
        // A large way to go is turned without looking after every twist.
        let bold = left.abs() > 4.0 * TWIST_TURNS;
        self.look_at = if bold { now + LOOK / 5 } else { now + LOOK };
        self.turned += twist;
        let (adjuster, advised, wrong_way) =
            (turning.instruction.adjuster, turning.instruction.turns, turning.wrong_way);
        // Far more turned than told, or the wrong way: the guide wants to know.
        if wrong_way || self.turned.abs() > 1.5 * advised.abs() + 0.5 {
            self.work.hear(Word::TurnedAsTold(Some(self.turned)));
            return;
        }
        self.bench.scene(|scene| scene.room.turn(adjuster, twist));
    }

    /// Fails where nothing gets any further.
    fn patient(&mut self, now: Duration, watch: &Watch) -> anyhow::Result<bool> {
        // A turn's count goes down while it is followed; it stays the same advice.
        let advice = match self.work.guide.advice() {
            Advice::Turn { adjuster, dial_to_mm, .. } => {
                format!("turn {adjuster} to {dial_to_mm:.3}")
            }
            advice => format!("{advice:?}, round {}", self.work.guide.round()),
        };
        match &self.following {
            Some((followed, since)) if *followed == advice => {
                let stuck = now.saturating_sub(*since) > PATIENCE
                    && !matches!(self.work.guide.stage(), Stage::Over);
                anyhow::ensure!(
                    !stuck,
                    "The demonstration gets no further with {advice}: {:?}",
                    watch.live(now)
                );
                Ok(false)
            }
            _ => {
                self.following = Some((advice, now));
                self.turned = 0.0;
                Ok(true)
            }
        }
    }
}

impl Hands for Installer {
    fn act(
        &mut self,
        now: Duration,
        watch: &mut Watch,
        entries: &mut Vec<Entry>,
    ) -> anyhow::Result<Vec<Said>> {
        let mut said = self.work.act(now, watch, entries)?;
        if !matches!(watch.link, Link::Up(_)) {
            return Ok(said);
        }
        let new = self.patient(now, watch)?;
        match self.work.guide.advice().clone() {
            Advice::Take { .. } | Advice::TakeEmitter => said.extend(self.take(now, watch, new)),
            Advice::Begin => self.work.hear(Word::Begin),
            Advice::Clip { .. } => {
                if self.put(now, watch).is_some()
                    && !roll(&self.bench)
                    && watch.live(now).gap_mm.good().is_some()
                {
                    let Stage::Clip { ready, .. } = self.work.guide.stage() else {
                        return Ok(said);
                    };
                    if !ready {
                        self.work.hear(Word::Ready);
                    }
                }
            }
            Advice::Turn { .. } => {
                if new {
                    self.says = format!("installer: {}", self.work.advice_line());
                }
                self.twist(now, watch);
            }
            Advice::Survey | Advice::Over => {
                if now > *self.over_at.get_or_insert(now + SHOWN) {
                    said.push(Said::Quit);
                }
            }
        }
        Ok(said)
    }

    fn says(&self) -> Option<String> {
        Some(self.says.clone())
    }

    fn draw(&self, frame: &mut ratatui::Frame<'_>, watch: &Watch, now: Duration) -> bool {
        screen::trim::draw(frame, watch, &self.work, now, Some(&self.says));
        true
    }
}

/// The slide a little further toward the light, as a thumb would; `false` when the light is in the
/// middle.
fn roll(bench: &Bench) -> bool {
    let Some(off_mm) = bench.truth().offset_mm else { return false };
    if off_mm.abs() < 0.08 {
        return false;
    }
    bench.scene(|scene| scene.set_slide_mm(scene.slide_mm() + off_mm.clamp(-ROLL_MM, ROLL_MM)));
    true
}
