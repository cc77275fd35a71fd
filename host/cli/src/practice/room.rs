//! Rooms to practise in, each with what it teaches; and the hands that see to the room itself.
//! Invented, like everything in the demonstration.

use super::Person;
use super::stage::Pace;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::room::board::{Board, Bump};
use skimgauge_procedure::{View, Word};
use std::time::Duration;

/// A room to practise in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Room {
    /// A flat board: the plain job.
    Flat,
    /// A board that bows, and is a little twisted.
    Bowed,
    /// A board that is lifted along a stud behind it.
    Stud,
    /// An adjuster that turns the other way than its papers say.
    Reversed,
    /// Too bright to read in.
    Bright,
    /// A board that no setting brings into the band.
    CannotBeMet,
}

/// Volts that a pixel gathers in a millisecond by a window without a blind.
const WINDOW_V_PER_MS: f64 = 6.0;
/// The practice job's band, and one narrower than a board that bows lets any setting meet.
const DEMO_BAND: &str = r#"gap = ["1.0 mm", "4.0 mm"]"#;
const NARROW_BAND: &str = r#"gap = ["2.2 mm", "2.8 mm"]"#;
/// Behind a drawn blind.
const BLIND_V_PER_MS: f64 = 0.05;
/// Somebody draws the blind after nothing could be read for so long.
const BLIND_AFTER: Duration = Duration::from_secs(6);

impl Room {
    /// What it teaches.
    pub fn teaches(self) -> &'static str {
        match self {
            Self::Flat => {
                "the plain job: take the stations, turn as told, take them again; what they do not show of the middle, a survey does"
            }
            Self::Bowed => {
                "the touch plane is set between the board's high and low places; what the edge does not show of the middle, a survey does"
            }
            Self::Stud => {
                "a place that does not fit is asked for again; where it comes back the same, the board is lifted there: survey it, turn nothing after one reading"
            }
            Self::Reversed => {
                "watch the live reading from the first eighth of a turn: it goes the other way, that is said, and the adjuster's sense is learnt"
            }
            Self::Bright => {
                "in too much light the head gives no number rather than a doubtful one: draw the blind, then go on"
            }
            Self::CannotBeMet => {
                "three adjusters do not flatten a board: that is said before the afternoon is gone; mend the board, or agree on another band"
            }
        }
    }

    /// Of the simulated rooms one in which it shows what it teaches, where not every one does.
    pub fn seed(self) -> Option<u64> {
        (self == Self::Stud).then_some(3)
    }

    /// Whether the room has a band of its own, and so a job of its own.
    pub fn has_its_own_band(self) -> bool {
        self == Self::CannotBeMet
    }

    /// Whether the room has a board of its own.
    pub fn has_its_own_board(self) -> bool {
        !matches!(self, Self::Reversed | Self::Bright)
    }

    /// The practice job as it stands in this room.
    pub fn job(self, demo: &str) -> String {
        match self {
            Self::CannotBeMet => demo.replacen(DEMO_BAND, NARROW_BAND, 1),
            _ => demo.to_owned(),
        }
    }

    /// Makes the room so.
    pub fn furnish(self, bench: &Bench) {
        bench.scene(|scene| {
            let (board, emitter) = (&mut scene.room.board, &mut scene.room.emitter);
            let (wide, high) = (board.width_mm, board.height_mm);
            let flat = Board {
                material: board.material,
                lean_deg: board.lean_deg,
                level_deg: board.level_deg,
                ..Board::flat(wide, high)
            };
            match self {
                Self::Flat => *board = flat,
                // A bow that boards have: of a greater one the takes contradict one another, and a
                // survey is asked for before it is known that the band cannot be met.
                Self::Bowed | Self::CannotBeMet => {
                    *board = Board { bow_x_mm: 0.7, bow_y_mm: -0.4, twist_mm: 0.2, ..flat };
                }
                Self::Stud => {
                    // Down the right edge, dying away.
                    let bump = |down: f64, height_mm: f64| Bump {
                        x_mm: 0.5 * wide,
                        y_mm: -down * high,
                        height_mm,
                        radius_mm: 0.09 * high,
                    };
                    let bumps = vec![bump(0.0, 0.9), bump(0.12, 0.6), bump(0.24, 0.3)];
                    *board = Board { bumps, ..flat };
                }
                Self::Reversed => {
                    let adjuster = &mut emitter.adjusters[1];
                    adjuster.clockwise_out = !adjuster.nominal.clockwise_out;
                }
                Self::Bright => scene.light.volts_per_ms = WINDOW_V_PER_MS,
            }
        });
    }
}

/// Somebody who works in a room; the room itself is seen to beside.
pub struct InRoom<'a> {
    person: &'a mut dyn Person,
    bench: Bench,
    room: Option<Room>,
    pace: Option<Pace>,
    /// Nothing could be read since.
    blind_since: Option<Duration>,
    news: Vec<String>,
}

impl<'a> InRoom<'a> {
    /// `pace` lets a simulation go on that waits for whoever looks.
    pub fn new(
        person: &'a mut dyn Person,
        bench: Bench,
        room: Option<Room>,
        pace: Option<Pace>,
    ) -> Self {
        Self { person, bench, room, pace, blind_since: None, news: Vec::new() }
    }

    /// Draws the blind once nothing could be read for a while.
    fn see_to_the_light(&mut self, now: Duration, view: &View) {
        if self.room != Some(Room::Bright) {
            return;
        }
        if view.live.gap.good().is_some() {
            self.blind_since = None;
            return;
        }
        let since = *self.blind_since.get_or_insert(now);
        if now.saturating_sub(since) >= BLIND_AFTER {
            self.bench.scene(|scene| scene.light.volts_per_ms = BLIND_V_PER_MS);
            self.news.push("draws the blind".to_owned());
            self.room = None;
        }
    }
}

impl Person for InRoom<'_> {
    fn sees(&mut self, now: Duration, view: &View) -> anyhow::Result<Vec<Word>> {
        if let Some(pace) = &self.pace {
            pace.looked();
        }
        self.see_to_the_light(now, view);
        self.person.sees(now, view)
    }

    fn says(&self) -> Option<&str> {
        self.person.says()
    }

    fn news(&mut self) -> Vec<String> {
        let mut news = std::mem::take(&mut self.news);
        news.extend(self.person.news());
        news
    }

    fn is_away(&self) -> bool {
        self.person.is_away()
    }

    fn keys(&self) -> &[(&'static str, String)] {
        self.person.keys()
    }

    fn key(&mut self, key: char) {
        self.person.key(key);
    }
}

#[cfg(test)]
mod tests {
    use super::Room;
    use clap::ValueEnum;
    use skimgauge_jobfile::{Job, demo_job};

    #[test]
    fn every_room_has_a_job_that_can_be_read_and_one_has_another_band() {
        let demo = Job::parse("demo.toml", demo_job()).unwrap();
        for room in Room::value_variants() {
            let job = Job::parse("demo.toml", &room.job(demo_job())).unwrap();
            let narrow = job.bands.gap != demo.bands.gap;
            assert_eq!(narrow, room.has_its_own_band(), "{room:?}");
            assert!(!room.teaches().is_empty());
        }
    }
}
