//! The guide at a watch: takes and live gaps go in, advice goes to the screen, what happens goes to the record.

use super::guide::{Advice, Guide, Stage, Told};
use super::words;
use crate::keeping::Keeping;
use crate::lengths::Lengths;
use crate::screen;
use crate::watch::stations::Place;
use crate::watch::{Dial, Link, Said, Watch};
use crate::watching::{Hands, Mode};
use serde_json::json;
use skimgauge_metrology::measure::Fault;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Phase, TurnAdvised, TurnObserved};
use std::time::Duration;

/// The guide with what it needs to be at work.
pub struct AtWork {
    /// The guide.
    pub guide: Guide,
    /// How it speaks where there is no screen.
    mode: Mode,
    /// The last advice, as the record knows it.
    advice: Option<Hash>,
    /// Where the watch was led to last.
    led_to: Option<Place>,
    /// The last few things said, the newest last.
    says: Vec<(String, bool)>,
    /// The advice that was printed last.
    printed: Option<String>,
    waiting: Vec<Word>,
    units: Lengths,
}

/// What the user can say to the guide.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Word {
    /// The head is clipped on; the turn is made.
    Ready,
    /// Begin to turn.
    Begin,
    /// Turned as told, or by so many turns, clockwise.
    TurnedAsTold(Option<f64>),
}

impl AtWork {
    /// Begins.
    pub fn new(guide: Guide, mode: Mode) -> Self {
        Self {
            guide,
            mode,
            advice: None,
            led_to: None,
            says: Vec::new(),
            printed: None,
            waiting: Vec::new(),
            units: Lengths::default(),
        }
    }

    /// The user, or the demonstration's installer, says something.
    pub fn hear(&mut self, word: Word) {
        self.waiting.push(word);
    }

    /// The last thing said, and whether it is bad news.
    pub fn last_said(&self) -> Option<&(String, bool)> {
        self.says.last()
    }

    /// What to do now, in one line.
    pub fn advice_line(&self) -> String {
        let guide = &self.guide;
        let name = |at: usize| guide.station(at).map_or("", |station| station.name.as_str());
        match guide.advice() {
            Advice::Take { station } if guide.is_taken(*station) => {
                format!("take {} again: lift the head, clip it on there anew", name(*station))
            }
            Advice::Take { station } => {
                let offer = guide.offer().filter(|(offered, _)| offered.name == name(*station));
                let gain = offer.map(|(_, choice)| {
                    let k = |u: f64| crate::watch::stations::expanded(u, None);
                    format!(" (the worst point ± {:.2} mm, then ± {:.2} mm)", k(choice.u_now_mm), k(choice.u_after_mm))
                });
                format!("take {}{}", name(*station), gain.unwrap_or_default())
            }
            Advice::TakeEmitter => "hold the head on the emitter and take its tilt".to_owned(),
            Advice::Begin => "enough is known: begin to turn (g; typed: begin)".to_owned(),
            Advice::Clip { station } => {
                format!(
                    "clip the head on at {}, roll into the light, then press its button (typed: ready)",
                    name(*station)
                )
            }
            Advice::Turn { .. } => match guide.stage() {
                Stage::Turn(turning) => {
                    turning.says(&guide.adjusters()[turning.instruction.adjuster].name, name(turning.station))
                }
                _ => String::new(),
            },
            Advice::Survey => format!("the board is not what was assumed: {}", screen::words::SURVEY_IT),
            Advice::Over => "done: q ends".to_owned(),
        }
    }

    fn obey(&mut self, now: Duration) {
        for word in std::mem::take(&mut self.waiting) {
            match word {
                Word::Ready => self.guide.press(now),
                Word::Begin => self.guide.begin(now),
                Word::TurnedAsTold(counted) => self.guide.turned_as_told(now, counted),
            }
        }
    }

    fn keep(&mut self, watch: &mut Watch, keeping: &mut Option<&mut Keeping>, told: Told) -> anyhow::Result<()> {
        let name = |at: usize| self.guide.station(at).map_or(String::new(), |station| station.name.clone());
        let adjuster = |at: usize| self.guide.adjusters()[at].name.clone();
        match told {
            Told::Advised { adjuster: which, turns, station, target_gap_mm, round: _ } => {
                if let Some(keeping) = keeping {
                    let (adjuster, station, round) = (adjuster(which), name(station), keeping.round());
                    self.advice =
                        Some(keeping.append(TurnAdvised { adjuster, turns, station, target_gap_mm, round })?);
                }
            }
            Told::Observed { adjuster: which, turns, station, before_mm, after_mm, predicted_mm, flags } => {
                if let Some(keeping) = keeping {
                    keeping.append(TurnObserved {
                        adjuster: adjuster(which),
                        advice: self.advice.take(),
                        turns,
                        station: name(station),
                        gap_before_mm: before_mm,
                        gap_after_mm: after_mm,
                        gap_predicted_mm: Some(predicted_mm),
                        flags,
                    })?;
                }
            }
            Told::Judged => {
                if let Some(answer) = self.guide.answer() {
                    let says = words::verdict(&answer.verdict, self.guide.band(), self.guide.image());
                    let plane = words::plane(&answer.fit.plane, self.guide.image());
                    let bad = answer.verdict.verdict != skimgauge_metrology::verdict::Verdict::Within;
                    self.say(plane, false);
                    self.say(format!("round {}: {says}", self.guide.round()), bad);
                }
                if let Some(keeping) = keeping {
                    keeping.judged(watch.whole())?;
                }
            }
            Told::NewRound => {
                watch.start_round();
                self.led_to = None;
                if let Some(keeping) = keeping {
                    keeping.start_round(Phase::Between)?;
                }
                self.say("the screws are turned: take the stations again".to_owned(), false);
            }
            Told::Over => {
                if let Some(keeping) = keeping {
                    as_left(watch, keeping)?;
                }
                let whole = watch.whole();
                let because = whole.because(self.guide.band());
                let because = if because.is_empty() { because } else { format!(": {because}") };
                let text = format!("{} {}{because}", screen::words::shape(whole.verdict), whole.headline());
                self.say(text, whole.verdict != skimgauge_metrology::verdict::Verdict::Within);
            }
            Told::Say { text, bad } => self.say(text, bad),
        }
        Ok(())
    }

    fn say(&mut self, text: String, bad: bool) {
        const KEPT: usize = 20;
        match self.mode {
            Mode::Plain => println!("  {} {}", if bad { "!" } else { "*" }, self.units.sentence(&text)),
            Mode::Json => println!(
                "{}",
                json!({ "schema": crate::watch::line::SCHEMA, "kind": "guide", "text": text, "bad": bad })
            ),
            Mode::Screen => (),
        }
        self.says.push((text, bad));
        if self.says.len() > KEPT {
            self.says.remove(0);
        }
    }

    fn print_advice(&mut self) {
        let line = match self.guide.advice() {
            // Its turns count down; it is said once.
            Advice::Turn { adjuster, dial_to_mm, .. } => format!("{adjuster} {dial_to_mm:.2}"),
            _ => self.advice_line(),
        };
        if self.printed.as_ref() == Some(&line) {
            return;
        }
        self.printed = Some(line);
        let text = self.advice_line();
        match self.mode {
            Mode::Plain => println!("  > {}", self.units.sentence(&text)),
            Mode::Json => {
                let advice = match self.guide.advice() {
                    Advice::Take { station } => {
                        json!({ "do": "take", "station": self.guide.station(*station).map(|s| &s.name) })
                    }
                    Advice::TakeEmitter => json!({ "do": "take-emitter" }),
                    Advice::Begin => json!({ "do": "begin" }),
                    Advice::Clip { station } => {
                        json!({ "do": "clip", "station": self.guide.station(*station).map(|s| &s.name) })
                    }
                    Advice::Turn { adjuster, turns, dial_to_mm } => json!({
                        "do": "turn", "adjuster": self.guide.adjusters()[*adjuster].name, "turns": turns, "dial_to_mm": dial_to_mm,
                    }),
                    Advice::Survey => json!({ "do": "survey" }),
                    Advice::Over => json!({ "do": "nothing" }),
                };
                println!(
                    "{}",
                    json!({ "schema": crate::watch::line::SCHEMA, "kind": "advice", "advice": advice, "text": text })
                );
            }
            Mode::Screen => (),
        }
    }
}

/// The takes that stand are those of the installation as it is left.
fn as_left(watch: &Watch, keeping: &mut Keeping) -> anyhow::Result<()> {
    let (takes, tilt) = keeping.standing();
    keeping.as_left(takes, tilt)?;
    keeping.judged(watch.whole())?;
    Ok(())
}

impl Hands for AtWork {
    fn act(
        &mut self,
        now: Duration,
        watch: &mut Watch,
        mut keeping: Option<&mut Keeping>,
    ) -> anyhow::Result<Vec<Said>> {
        self.units = watch.units;
        if !matches!(watch.link, Link::Up(_)) {
            self.guide.live(now, None, false);
            return Ok(Vec::new());
        }
        let taken: Vec<bool> = watch.stations.rows().map(|(_, kept)| kept.is_some()).collect();
        let (asked, tilt) = watch.stations.emitter();
        let came_back = watch.stations.came_back();
        self.guide.takes(watch.stations.observations(), &taken, came_back, asked && tilt.is_none());
        if watch.presses.take().is_some_and(|presses| presses > 0) {
            self.guide.press(now);
        }
        self.obey(now);
        let live = watch.live(now);
        let knocked = live.faults.contains(&Fault::Knocked);
        self.guide.live(now, live.gap_mm.good().map(|(gap_mm, _)| gap_mm), knocked);
        for told in self.guide.drain() {
            self.keep(watch, &mut keeping, told)?;
        }
        watch.presses = matches!(self.guide.stage(), Stage::Clip { .. } | Stage::Turn(_)).then_some(0);
        watch.dial = match self.guide.stage() {
            Stage::Turn(turning) => Some(Dial {
                to_mm: turning.dial_to_mm,
                within_mm: turning.within_mm,
                far_mm: turning.predicted_mm().abs().max(1.0),
            }),
            _ => None,
        };
        let place = match self.guide.advice() {
            Advice::Take { station } | Advice::Clip { station } => Some(Place::Station(*station)),
            Advice::TakeEmitter => Some(Place::Emitter),
            Advice::Begin | Advice::Turn { .. } | Advice::Survey | Advice::Over => None,
        };
        // Led there once: who then goes elsewhere wants to.
        if let Some(place) = place.filter(|place| self.led_to != Some(*place)) {
            self.led_to = Some(place);
            watch.stations.go(match place {
                Place::Station(at) => at,
                Place::Emitter => usize::MAX,
            });
        }
        self.print_advice();
        Ok(Vec::new())
    }

    fn key(&mut self, key: char) {
        match key {
            'g' => self.hear(Word::Begin),
            'x' => self.hear(Word::TurnedAsTold(None)),
            _ => (),
        }
    }

    fn word(&mut self, line: &str) -> bool {
        let word = match line {
            "begin" | "go" => Word::Begin,
            "ready" | "done" => Word::Ready,
            "told" => Word::TurnedAsTold(None),
            _ => match line.strip_prefix("turned ").and_then(|turns| turns.trim().parse::<f64>().ok()) {
                Some(turns) if turns.is_finite() && turns.abs() <= 200.0 => Word::TurnedAsTold(Some(turns)),
                _ => return false,
            },
        };
        self.hear(word);
        true
    }

    fn draw(&self, frame: &mut ratatui::Frame<'_>, watch: &Watch, now: Duration) -> bool {
        screen::trim::draw(frame, watch, self, now, None);
        true
    }
}
