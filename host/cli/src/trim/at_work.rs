//! The guide at a watch: takes and live gaps go in, advice goes to the screen, what happens goes to
//! the record.

use super::guide::{Advice, Guide, Stage, Told};
use super::words;
use crate::console::screen;
use crate::lengths::Lengths;
use crate::storing::Entry;
use crate::watch::stations::Place;
use crate::watch::{Dial, Link, Said, Watch, Ways};
use crate::watching::{Hands, Mode};
use serde_json::json;
use skimgauge_metrology::measure::{At, Fault};
use skimgauge_record::event::Phase;
use skimgauge_system::terminal::shown_json;
use std::time::Duration;

/// The guide with what it needs to be at work.
pub struct AtWork {
    /// The guide.
    pub guide: Guide,
    /// How it speaks where there is no screen.
    mode: Mode,
    /// Where the watch was led to last, and how much was kept by then.
    led_to: Option<(Place, u32)>,
    /// The last few things said, the newest last.
    says: Vec<(String, bool)>,
    /// The advice that was printed last.
    printed: Option<String>,
    /// What was said, and whether the user said it.
    waiting: Vec<(Word, bool)>,
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
    pub fn new(mut guide: Guide, mode: Mode) -> Self {
        guide.speak_of(if mode == Mode::Screen { Ways::Keys } else { Ways::Words });
        Self {
            guide,
            mode,
            led_to: None,
            says: Vec::new(),
            printed: None,
            waiting: Vec::new(),
            units: Lengths::default(),
        }
    }

    /// The demonstration's installer says something.
    pub fn hear(&mut self, word: Word) {
        self.waiting.push((word, false));
    }

    /// The last thing said, and whether it is bad news.
    pub fn last_said(&self) -> Option<&(String, bool)> {
        self.says.last()
    }

    /// Where the watch is, if that is not where something is to be done.
    pub fn strays(&self, watch: &Watch) -> Option<String> {
        let wanted = match self.guide.advice() {
            Advice::Take { station } | Advice::Clip { station } => Place::Station(*station),
            Advice::TakeEmitter => Place::Emitter,
            Advice::Begin | Advice::Turn { .. } | Advice::Survey | Advice::Over => return None,
        };
        (watch.stations.place() != wanted).then(|| watch.stations.name().to_owned())
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
                    format!(
                        " (the worst point ± {:.2} mm, then ± {:.2} mm)",
                        k(choice.u_now_mm),
                        k(choice.u_after_mm)
                    )
                });
                format!("take {}{}", name(*station), gain.unwrap_or_default())
            }
            Advice::TakeEmitter => "hold the head on the emitter and take its tilt".to_owned(),
            Advice::Begin => format!("enough is known: to begin to turn, {}", guide.ways().begin()),
            Advice::Clip { station } => {
                format!(
                    "clip the head on at {}, roll into the light, then {}",
                    name(*station),
                    guide.ways().ready()
                )
            }
            Advice::Turn { .. } => match guide.stage() {
                Stage::Turn(turning) => turning.says(
                    &guide.adjusters()[turning.instruction.adjuster].name,
                    name(turning.station),
                ),
                _ => String::new(),
            },
            Advice::Survey => {
                format!("the board is not what was assumed: {}", screen::words::SURVEY_IT)
            }
            Advice::Over => format!("done: to end, {}", guide.ways().quit()),
        }
    }

    fn obey(&mut self, now: Duration, watch: &mut Watch) {
        for (word, by_user) in std::mem::take(&mut self.waiting) {
            if by_user && (!watch.counts_as_press(now) || watch.lets_go_while_storing(now)) {
                continue;
            }
            if word != Word::Ready {
                watch.answered_no(now);
            }
            match word {
                Word::Ready => self.press(now, watch),
                Word::Begin => self.guide.begin(now),
                Word::TurnedAsTold(counted) => self.guide.turned_as_told(now, counted),
            }
        }
    }

    /// The head is clipped on, where it must have come to; or the turn is made.
    fn press(&mut self, now: Duration, watch: &mut Watch) {
        match self.guide.stage() {
            Stage::Clip { station, .. } => {
                let Some(station) = self.guide.station(*station) else { return };
                if watch.stands_at(now, At::Station(station.name.clone())) {
                    self.guide.press(now);
                }
            }
            Stage::Turn(_) => self.guide.press(now),
            Stage::Take | Stage::Over => {
                let text = "Nothing waits for that now: a station is taken with its own word.";
                watch.say(now, true, text.to_owned());
            }
        }
    }

    fn keep(&mut self, watch: &mut Watch, entries: &mut Vec<Entry>, told: Told) {
        let name = |at: usize| {
            self.guide.station(at).map_or(String::new(), |station| station.name.clone())
        };
        let adjuster = |at: usize| self.guide.adjusters()[at].name.clone();
        match told {
            Told::Advised { adjuster: which, turns, station, target_gap_mm, round: _ } => {
                entries.push(Entry::Advised {
                    adjuster: adjuster(which),
                    turns,
                    station: name(station),
                    target_gap_mm,
                });
            }
            Told::Observed {
                adjuster: which,
                turns,
                station,
                before_mm,
                after_mm,
                predicted_mm,
                flags,
            } => {
                entries.push(Entry::Observed {
                    adjuster: adjuster(which),
                    turns,
                    station: name(station),
                    before_mm,
                    after_mm,
                    predicted_mm,
                    flags,
                });
            }
            Told::Judged => {
                if let Some(answer) = self.guide.answer() {
                    let says =
                        words::verdict(&answer.verdict, self.guide.band(), self.guide.image());
                    let plane = words::plane(&answer.fit.plane, self.guide.image());
                    let bad = answer.verdict.verdict != skimgauge_model::Verdict::Within;
                    self.say(plane, false);
                    self.say(format!("round {}: {says}", self.guide.round()), bad);
                }
                entries.push(Entry::Judged(Box::new(watch.whole().clone())));
            }
            Told::NewRound => {
                watch.start_round();
                self.led_to = None;
                entries.push(Entry::Round(Phase::Between));
                self.say("the screws are turned: take the stations again".to_owned(), false);
            }
            Told::Over => {
                // The takes that stand are those of the installation as it is left.
                entries.push(Entry::AsLeft);
                entries.push(Entry::Judged(Box::new(watch.whole().clone())));
                let whole = watch.whole();
                let because = whole.because(self.guide.band());
                let because = if because.is_empty() { because } else { format!(": {because}") };
                let text = format!(
                    "{} {}{because}",
                    screen::words::shape(whole.verdict),
                    whole.headline()
                );
                self.say(text, whole.verdict != skimgauge_model::Verdict::Within);
            }
            Told::Say { text, bad } => self.say(text, bad),
        }
    }

    fn say(&mut self, text: String, bad: bool) {
        const KEPT: usize = 20;
        match self.mode {
            Mode::Plain => println!("  {} {}", if bad { "!" } else { "*" }, self.units.sentence(&text)),
            Mode::Json => println!(
                "{}",
                shown_json(
                    &json!({ "schema": crate::watch::line::SCHEMA, "kind": "guide", "text": text, "bad": bad })
                        .to_string()
                )
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
                    shown_json(
                        &json!({ "schema": crate::watch::line::SCHEMA, "kind": "advice", "advice": advice, "text": text })
                            .to_string()
                    )
                );
            }
            Mode::Screen => (),
        }
    }
}

impl Hands for AtWork {
    fn act(
        &mut self,
        now: Duration,
        watch: &mut Watch,
        entries: &mut Vec<Entry>,
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
            self.press(now, watch);
        }
        self.obey(now, watch);
        let live = watch.live(now);
        let knocked = live.faults.contains(&Fault::Knocked);
        self.guide.live(now, live.gap_mm.good().map(|(gap_mm, _)| gap_mm), knocked);
        for told in self.guide.drain() {
            self.keep(watch, entries, told);
        }
        watch.presses =
            matches!(self.guide.stage(), Stage::Clip { .. } | Stage::Turn(_)).then_some(0);
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
        // Led there once after each take: who then goes elsewhere wants to.
        let keeps = watch.keeps;
        if let Some(place) = place.filter(|place| self.led_to != Some((*place, keeps))) {
            self.led_to = Some((place, keeps));
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
            'g' => self.waiting.push((Word::Begin, true)),
            'x' => self.waiting.push((Word::TurnedAsTold(None), true)),
            _ => (),
        }
    }

    fn word(&mut self, line: &str) -> bool {
        let word = match line {
            "begin" | "go" => Word::Begin,
            "ready" | "done" => Word::Ready,
            "told" => Word::TurnedAsTold(None),
            _ => match line
                .strip_prefix("turned ")
                .and_then(|turns| turns.trim().parse::<f64>().ok())
            {
                Some(turns) if turns.is_finite() && turns.abs() <= 200.0 => {
                    Word::TurnedAsTold(Some(turns))
                }
                _ => return false,
            },
        };
        self.waiting.push((word, true));
        true
    }

    fn draw(&self, frame: &mut ratatui::Frame<'_>, watch: &Watch, now: Duration) -> bool {
        screen::trim::draw(frame, watch, self, now, None);
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::trial::{SEATED, Trial};

    #[test]
    fn after_each_take_it_leads_to_where_the_next_is_wanted_and_says_where_takes_go_meanwhile() {
        let mut trial = Trial::new();
        let guide = Guide::new(&trial.watch.job, &trial.watch.board).unwrap();
        let mut work = AtWork::new(guide, Mode::Screen);
        let act = |work: &mut AtWork, trial: &mut Trial| {
            let now = trial.now();
            work.act(now, &mut trial.watch, &mut Vec::new()).unwrap();
        };
        trial.read(SEATED, 3_000);
        act(&mut work, &mut trial);
        let Advice::Take { station } = *work.guide.advice() else {
            panic!("{:?}", work.guide.advice())
        };
        assert_eq!(
            (trial.watch.stations.place(), work.strays(&trial.watch)),
            (Place::Station(station), None)
        );
        // The user goes elsewhere, and is let go there; it is said.
        let other = (station + 3) % trial.watch.stations.rows().len();
        trial.say(Said::Go(other));
        act(&mut work, &mut trial);
        assert_eq!(trial.watch.stations.place(), Place::Station(other));
        assert_eq!(work.strays(&trial.watch).as_deref(), Some(trial.watch.stations.name()));
        // Taken there, the watch goes on to what it misses; the guide leads to what is wanted.
        assert_eq!(trial.say(Said::Take).len(), 1, "{}", trial.heard());
        act(&mut work, &mut trial);
        let Advice::Take { station } = *work.guide.advice() else {
            panic!("{:?}", work.guide.advice())
        };
        assert_eq!(
            (trial.watch.stations.place(), work.strays(&trial.watch)),
            (Place::Station(station), None)
        );
    }

    #[test]
    fn the_screen_names_keys_and_lines_name_words() {
        for (mode, named, not) in
            [(Mode::Screen, "press g", "type"), (Mode::Plain, "type begin", "press g")]
        {
            let trial = Trial::new();
            let guide = Guide::new(&trial.watch.job, &trial.watch.board).unwrap();
            let work = AtWork::new(guide, mode);
            let begin = work.guide.ways().begin();
            assert!(begin.contains(named) && !begin.contains(not));
            let all = [
                work.guide.ways().ready(),
                work.guide.ways().told(),
                work.guide.ways().quit(),
                work.guide.ways().yes(),
            ];
            assert!(all.iter().all(|says| !says.contains(not)), "{all:?}");
        }
    }
}
