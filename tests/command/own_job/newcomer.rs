//! Somebody who knows nothing but what is printed: runs the command that `next` names, moves the
//! simulated head and its adjusters by words, and types what is asked for.

use super::turning::Turning;
use serde_json::Value;
use skimgauge_tests::command::{Ending, Hand, Place, Watch};
use std::collections::BTreeSet;
use std::process::{Command, Output};
use std::time::{Duration, Instant};

/// No step takes longer, however busy this computer is.
const PATIENCE: Duration = Duration::from_secs(400);
/// Nobody speaks twice within so long.
const BETWEEN_WORDS: Duration = Duration::from_millis(1_100);
/// What stands in capitals in a command, and what a newcomer puts there.
const BLANKS: [(&str, &str); 5] = [
    ("PORT", "head"),
    ("DEG", "1.5"),
    ("LOW,HIGH", "3.002,9.004"),
    ("POINTS.csv", "points.csv"),
    ("KEY", "id"),
];

pub(super) struct Newcomer<'a> {
    place: &'a Place,
    hand: Option<Hand>,
    /// Where the head is.
    at: String,
    spoke: Option<Instant>,
    /// The adjusters that were turned.
    turned: BTreeSet<String>,
}

impl<'a> Newcomer<'a> {
    /// Has a job file written and fills it in.
    pub(super) fn begins(place: &'a Place, fills_in: impl Fn(&str) -> String) -> Self {
        let who = ["--name", "aula", "--client", "Mill School", "--place", "south wall", "--by"];
        let made = place.run([&["jobs", "new", "own.toml"], &who[..], &["Ana Lind"]].concat());
        assert_eq!(made.status.code(), Some(0), "{made:?}");
        let said = String::from_utf8_lossy(&made.stdout).into_owned();
        assert!(said.contains("`skimgauge next --job own.toml`"), "{said}");
        let file = place.path("own.toml");
        let text = fills_in(&std::fs::read_to_string(&file).unwrap());
        std::fs::write(&file, text).unwrap();
        Self { place, hand: None, at: String::new(), spoke: None, turned: BTreeSet::new() }
    }

    pub(super) fn takes_in_hand(&mut self, hand: Hand) {
        self.hand = Some(hand);
    }

    fn run(&self, args: &[&str]) -> Output {
        self.place.run([args, &["--record", "practice.sqlite"]].concat())
    }

    pub(super) fn standings(&self) -> Value {
        let told = self.run(&["next", "--job", "own.toml", "--json"]);
        serde_json::from_slice(&told.stdout).unwrap_or_else(|_| panic!("{told:?}"))
    }

    /// The step that comes next.
    pub(super) fn next(&self) -> Option<Value> {
        let told = self.standings();
        let steps = told["steps"].as_array().unwrap();
        steps.iter().find(|step| step["step"] == told["next"]).cloned()
    }

    /// Does the step, by the command that is printed beside it.
    pub(super) fn does(&mut self, step: &Value) {
        let command = step["command"].as_str().unwrap();
        let words: Vec<&str> = command
            .split(' ')
            .skip(1)
            .map(|word| BLANKS.iter().find(|(blank, _)| *blank == word).map_or(word, |(_, is)| is))
            .collect();
        match step["step"].as_str().unwrap() {
            "bracket" => self.levels(&words),
            "zero" => self.checks_the_zero(&words),
            "trim" => self.trims(&words),
            "as-left" => self.reads_once_more(&words),
            "signature" => self.signs(&words),
            "handover" => {
                let closed = self.run(&words[..words.len() - 2]);
                let said = String::from_utf8_lossy(&closed.stdout).into_owned();
                assert!(said.contains("Closed \"aula\" by Ana Lind"), "{closed:?}");
            }
            // Nothing hangs on anchors that nobody worked out.
            "set-out" | "fixings" | "hanging" | "square" | "survey" | "proof" => {
                if step["step"] == "survey" {
                    self.looks_at_the_survey(&words);
                }
                let which = step["step"].as_str().unwrap();
                let why = ["--why", "practice on a simulated head"];
                let words = [&["next", "--job", "own.toml", "--leave-out", which], &why[..]];
                self.is_told(&words.concat());
            }
            _ => {
                self.is_told(&words[..words.len() - 2]);
            }
        }
    }

    /// Its first place: the zero was checked on this board, and that is known here, too.
    fn looks_at_the_survey(&mut self, words: &[&str]) {
        let mut survey = self.start(&[words, &["--plain"]].concat(), false);
        survey.until("a gap", |line| line.as_str().is_some_and(|line| line.contains("gap")));
        survey.breathe();
        survey.breathe();
        let lines = survey.kill();
        let doubts = lines.iter().find(|line| line.contains("not made on this board"));
        assert_eq!(doubts, None, "{lines:#?}");
    }

    fn is_told(&self, words: &[&str]) {
        let told = self.run(words);
        assert!(matches!(told.status.code(), Some(0 | 3)), "{words:?}: {told:?}");
    }

    fn start(&self, words: &[&str], json: bool) -> Watch {
        let mut command: Command = self.place.command();
        command.args(words);
        if json {
            command.arg("--json");
        }
        Watch::start(command)
    }

    fn hand(&mut self, word: &str) -> String {
        self.hand.as_mut().unwrap().say(word)
    }

    /// Says something, if it is time to.
    fn says(&mut self, to: &mut Watch, word: &str) {
        let now = Instant::now();
        if self.spoke.is_none_or(|spoke| now.saturating_duration_since(spoke) > BETWEEN_WORDS) {
            self.spoke = Some(now);
            to.say(word);
        }
    }

    /// Marks, turns the head end for end, and marks again.
    fn levels(&mut self, words: &[&str]) {
        let mut level = self.start(words, true);
        let is_found = |line: &Value| line["schema"] == "skimgauge.level-reversed";
        for turned in [false, true] {
            if turned {
                self.hand("end-for-end on");
            }
            let began = Instant::now();
            loop {
                level.breathe();
                level.until("at rest", |line| line["at_rest"] == true);
                level.say("ready");
                let (_, told) =
                    level.until("an answer", |line| is_found(line) || line["kind"] == "message");
                let text = told["text"].as_str().unwrap_or_default();
                if text.contains("Marked.") || is_found(&told) {
                    break;
                }
                // Of a line that is true the readings do not tell that the head was turned.
                if turned && text.contains("NOT counted") {
                    level.say("yes");
                    level.until("a finding", is_found);
                    break;
                }
                assert!(began.elapsed() < PATIENCE, "{told}");
            }
        }
        self.hand("end-for-end off");
        level.breathe();
        let ending = level.quit();
        assert!(matches!(ending.status, Some(0 | 1 | 3)), "{ending:?}");
    }

    /// The gauge before the eye, and Enter.
    fn checks_the_zero(&mut self, words: &[&str]) {
        self.hand("gauge 3.002 9.004");
        self.hand("slits both");
        self.hand("lamp on");
        self.hand("light off");
        let mut zero = self.start(words, false);
        zero.until("the check", |line| {
            line.as_str().is_some_and(|line| line.starts_with("Check:"))
        });
        zero.say("");
        let Ending { status, out, err } = zero.ending();
        assert_eq!(status, Some(0), "{out:#?} {err}");
        self.hand("gauge off");
        self.hand("light on");
    }

    /// Does what a trim advises, until there is nothing more.
    fn trims(&mut self, words: &[&str]) {
        let mut trim = self.start(words, true);
        let began = Instant::now();
        let mut advice = Value::Null;
        let mut turning: Option<Turning> = None;
        loop {
            assert!(began.elapsed() < PATIENCE, "{advice}: {:#?}", trim.seen.last());
            let Some((_, line)) = trim.line() else { panic!("it ended: {:?}", trim.seen.last()) };
            let line: Value = serde_json::from_str(&line).unwrap();
            if line["kind"] == "advice" {
                advice = line["advice"].clone();
            }
            if line["kind"] != "live" || line["storing"] != Value::Null {
                continue;
            }
            if line["asks"] != Value::Null {
                self.says(&mut trim, "yes");
                continue;
            }
            if self.looks_at_the_emitter(&mut trim, &line) {
                continue;
            }
            match advice["do"].as_str() {
                Some("take") => self.takes(&mut trim, &line, advice["station"].as_str().unwrap()),
                Some("take-emitter") => self.takes_its_tilt(&mut trim),
                Some("begin") => self.says(&mut trim, "begin"),
                Some("clip") => {
                    self.to(advice["station"].as_str().unwrap());
                    self.says(&mut trim, "ready");
                }
                Some("turn") => self.turns(&mut trim, &line, &advice, &mut turning),
                Some("nothing" | "survey") => break,
                _ => (),
            }
            if advice["do"] != "turn" {
                turning = None;
            }
        }
        trim.breathe();
        let ending = trim.quit();
        assert!(matches!(ending.status, Some(0 | 3)), "{ending:?}");
    }

    /// Switched off for as long as it is asked for.
    fn looks_at_the_emitter(&mut self, to: &mut Watch, line: &Value) -> bool {
        match line["emitter_off"]["is"].as_str() {
            None => return false,
            Some("offered") => {
                if line["can_take"] == true {
                    self.hand("light off");
                } else if line["gap_mm"]["is"] == "absent" {
                    self.says(to, "begin");
                }
            }
            Some("on") => drop(self.hand("light on")),
            Some(_) => (),
        }
        true
    }

    fn to(&mut self, station: &str) -> bool {
        if self.at == station {
            return false;
        }
        assert_eq!(self.hand(&format!("to {station}")), format!("at {station}"));
        station.clone_into(&mut self.at);
        true
    }

    fn takes(&mut self, to: &mut Watch, line: &Value, station: &str) {
        if line["station"] != station {
            return self.says(to, &format!("station {station}"));
        }
        if !self.to(station) && line["can_take"] == true {
            self.says(to, "take");
        }
    }

    /// The head held on the emitter.
    fn takes_its_tilt(&mut self, to: &mut Watch) {
        if self.at == "emitter" {
            return self.says(to, "take");
        }
        assert_eq!(self.hand("to emitter"), "on the emitter");
        "emitter".clone_into(&mut self.at);
        self.spoke = Some(Instant::now());
    }

    /// Turned in small pieces, each looked at, as a person does; where nothing is read, by count.
    fn turns(
        &mut self,
        to: &mut Watch,
        line: &Value,
        advice: &Value,
        turning: &mut Option<Turning>,
    ) {
        let adjuster = advice["adjuster"].as_str().unwrap().to_owned();
        let of = turning.get_or_insert_with(|| Turning::of(&adjuster, advice));
        if of.adjuster != adjuster || of.to_mm != advice["dial_to_mm"].as_f64() {
            *of = Turning::of(&adjuster, advice);
        }
        if of.looked.is_some_and(|at| at.elapsed() < Duration::from_millis(500)) {
            return;
        }
        let gap_mm = line["gap_mm"]["value"].as_f64();
        let Some(turns) = of.next(gap_mm) else { return self.says(to, "ready") };
        of.made += turns;
        of.looked = Some(Instant::now());
        let said = self.hand(&format!("turn {adjuster} {turns:.3}"));
        assert!(said.contains(" turned by "), "{said}");
        self.turned.insert(adjuster);
    }

    /// Every station once more, nothing being turned.
    fn reads_once_more(&mut self, words: &[&str]) {
        let mut watch = self.start(words, true);
        self.at.clear();
        let began = Instant::now();
        let mut taken = Vec::new();
        while taken.len() < 8 {
            assert!(began.elapsed() < PATIENCE, "{taken:?}: {:?}", watch.seen.last());
            let Some((_, line)) = watch.line() else { panic!("it ended: {:?}", watch.seen.last()) };
            let line: Value = serde_json::from_str(&line).unwrap();
            if line["kind"] == "take" {
                let station = line["station"].as_str().unwrap().to_owned();
                if !taken.contains(&station) {
                    taken.push(station);
                }
            }
            if line["kind"] != "live" || line["storing"] != Value::Null {
                continue;
            }
            if line["asks"] != Value::Null {
                self.says(&mut watch, "no");
            } else if !self.looks_at_the_emitter(&mut watch, &line) {
                let station = line["station"].as_str().unwrap_or_default().to_owned();
                if taken.contains(&station) {
                    self.says(&mut watch, "next");
                } else {
                    self.takes(&mut watch, &line, &station);
                }
            }
        }
        watch.breathe();
        let ending = watch.quit();
        assert!(matches!(ending.status, Some(0 | 3)), "{ending:?}");
    }

    fn signs(&self, words: &[&str]) {
        use ssh_key::private::{Ed25519Keypair, KeypairData, PrivateKey};
        let pair = KeypairData::Ed25519(Ed25519Keypair::from_seed(&[42; 32]));
        let key = PrivateKey::new(pair, "").unwrap();
        let file = self.place.path("id");
        std::fs::write(&file, key.to_openssh(ssh_key::LineEnding::LF).unwrap().as_bytes()).unwrap();
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            std::fs::set_permissions(&file, PermissionsExt::from_mode(0o600)).unwrap();
        }
        let signed = self.run(&words[..words.len() - 2]);
        assert_eq!(signed.status.code(), Some(0), "{signed:?}");
    }

    /// The client's page tells of the same.
    pub(super) fn page_is_as_it_was_left(&self) {
        let page = self.run(&["handover", "--job", "aula", "--out", "-"]);
        let page = String::from_utf8_lossy(&page.stdout).into_owned();
        for words in [
            "Mill School",
            "Ana Lind",
            "practice on a simulated head",
            "Practice, no handover",
            "was read of a simulated head",
        ] {
            assert!(page.to_lowercase().contains(&words.to_lowercase()), "{words}: {page}");
        }
        assert!(!self.turned.is_empty());
        for adjuster in &self.turned {
            assert!(page.contains(adjuster), "{adjuster}: {page}");
        }
        let verified = self.run(&["jobs", "verify"]);
        assert_eq!(verified.status.code(), Some(0), "{verified:?}");
    }
}
