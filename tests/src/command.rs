//! The command at work.

use crate::lines;
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Output, Stdio};
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Nothing in these tests takes longer, on a machine that is busy with others.
const PATIENCE: Duration = Duration::from_secs(20);

/// Two words are this far apart, or the second is let go.
const BETWEEN_WORDS: Duration = Duration::from_millis(900);

/// Held while a command starts, and while a pseudo-terminal is made that it must not inherit.
pub(crate) static STARTING: Mutex<()> = Mutex::new(());

/// A folder with a job and a record of its own, gone at the end.
pub struct Place {
    folder: tempfile::TempDir,
    exe: PathBuf,
}

impl Place {
    /// A folder with this job in `job.toml`. `exe` is the command:
    /// `env!("CARGO_BIN_EXE_skimgauge-under-test")`.
    pub fn new(exe: &str, job: &str) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("job.toml"), job).expect("the job's file");
        Self { folder, exe: exe.into() }
    }

    /// A path in the folder.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The record.
    pub fn record(&self) -> PathBuf {
        self.path("record.sqlite")
    }

    /// The command with nothing of this computer's user: home and data are in the folder.
    pub fn command(&self) -> Command {
        let mut command = Command::new(&self.exe);
        command.current_dir(self.folder.path());
        for home in ["HOME", "XDG_DATA_HOME", "APPDATA", "LOCALAPPDATA", "USERPROFILE"] {
            command.env(home, self.folder.path());
        }
        command
    }

    /// Runs it to its end, with nothing typed.
    pub fn run<S: AsRef<std::ffi::OsStr>>(&self, args: impl IntoIterator<Item = S>) -> Output {
        let mut child = self.command();
        child.args(args).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        started(&mut child).wait_with_output().expect("the command ends")
    }

    /// `watch` of the folder's job at a port, into the folder's record, with more arguments.
    pub fn watch(&self, port: &str, more: &[&str]) -> Watch {
        let mut command = self.command();
        command
            .args(["watch", "--job", "job.toml", "--record", "record.sqlite", "--head", port])
            .args(more);
        Watch::start(command)
    }

    /// The takes in the record: station, gap in mm, which event it replaces, its place.
    pub fn takes(&self) -> Vec<(String, f64, Option<u32>, u32)> {
        takes(&self.record())
    }
}

/// Starts a command that inherits no other test's port.
pub fn started(command: &mut Command) -> Child {
    let _alone = STARTING.lock();
    command.spawn().expect("the command starts")
}

/// The takes in a record of one job: station, gap in mm, the place of the one that it replaces, its
/// own. The record is held against its own chain first.
pub fn takes(record: &Path) -> Vec<(String, f64, Option<u32>, u32)> {
    let record = skimgauge_record::Record::open(record).expect("the record opens");
    let [job] = &record.jobs().expect("the record lists its jobs")[..] else {
        panic!("one job in the record")
    };
    let history = record.job(&job.name).expect("the job is there");
    assert!(history.broken.is_none(), "{:?}", history.broken);
    history
        .takes()
        .map(|kept| {
            let replaced = kept.take.supersedes.and_then(|hash| history.place(hash));
            (kept.take.station.clone(), kept.take.gap.0, replaced, kept.event.seq)
        })
        .collect()
}

/// A `watch` at work.
pub struct Watch {
    child: Child,
    typed: Option<ChildStdin>,
    out: Receiver<(Instant, String)>,
    err: Receiver<(Instant, String)>,
    json: bool,
    /// Every line so far.
    pub seen: Vec<String>,
}

/// A simulated head that another process keeps (`demo --head-at`), and the hand at it that obeys
/// words.
pub struct Hand {
    child: Child,
    words: Option<ChildStdin>,
    out: Receiver<(Instant, String)>,
}

impl Hand {
    /// A head at `head` in the place's folder, in a room of this seed, at the practice job's first
    /// station.
    pub fn new(place: &Place, seed: u64) -> Self {
        Self::on(place, seed, &[])
    }

    /// The same with more arguments, such as the job whose board it stands on.
    pub fn on(place: &Place, seed: u64, more: &[&str]) -> Self {
        let mut command = place.command();
        command.args(["demo", "--head-at", "head", "--seed", &seed.to_string()]).args(more);
        let mut child =
            started(command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::inherit()));
        let out = lines_of(child.stdout.take().expect("its output"));
        let words = child.stdin.take();
        let mut hand = Self { child, words, out };
        assert!(hand.answer().starts_with("A simulated head is at "));
        if more.contains(&"--job") {
            assert!(hand.answer().starts_with("What it reads is invented"));
        }
        hand
    }

    /// Says a word, and waits until it is done.
    pub fn say(&mut self, word: &str) -> String {
        self.says(word);
        self.answer()
    }

    /// Says words without waiting.
    pub fn says(&mut self, words: &str) {
        writeln!(self.words.as_mut().expect("its input is open"), "{words}").expect("it listens");
    }

    /// Says nothing any more.
    pub fn hang_up(&mut self) {
        self.words = None;
    }

    /// The next answer.
    pub fn answer(&mut self) -> String {
        self.out.recv_timeout(PATIENCE).expect("the hand answers").1
    }
}

impl Drop for Hand {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// How a command ended.
#[derive(Debug)]
pub struct Ending {
    /// Exit status; `None` if it was killed.
    pub status: Option<i32>,
    /// Every line on standard output.
    pub out: Vec<String>,
    /// Standard error.
    pub err: String,
}

impl Watch {
    /// Starts it.
    pub fn start(mut command: Command) -> Self {
        let json = command.get_args().any(|arg| arg == "--json");
        let mut child =
            started(command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()));
        let out = lines_of(child.stdout.take().expect("its output"));
        let err = lines_of(child.stderr.take().expect("its errors"));
        let typed = child.stdin.take();
        Self { child, typed, out, err, json, seen: Vec::new() }
    }

    /// Types a line.
    pub fn say(&mut self, line: &str) {
        let typed = self.typed.as_mut().expect("its input is open");
        writeln!(typed, "{line}").expect("it listens");
    }

    /// The next line and when it came; `None` when there are no more.
    pub fn line(&mut self) -> Option<(Instant, String)> {
        match self.out.recv_timeout(PATIENCE) {
            Ok((at, line)) => {
                if self.json {
                    lines::check(&line);
                }
                self.seen.push(line.clone());
                Some((at, line))
            }
            Err(RecvTimeoutError::Disconnected) => None,
            Err(RecvTimeoutError::Timeout) => {
                panic!("no line for {PATIENCE:?}; the last ones: {:#?}", self.last())
            }
        }
    }

    /// Lines until one satisfies; when it came, and the line.
    pub fn until(&mut self, what: &str, wanted: impl Fn(&Value) -> bool) -> (Instant, Value) {
        let started = Instant::now();
        while started.elapsed() < PATIENCE {
            let Some((at, line)) = self.line() else {
                let err: Vec<_> = self.err.iter().map(|(_, line)| line).collect();
                panic!("it ended before {what}: {err:?}; the last lines: {:#?}", self.last());
            };
            let value = serde_json::from_str(&line).unwrap_or(Value::String(line));
            if wanted(&value) {
                return (at, value);
            }
        }
        panic!("{what}: not within {PATIENCE:?}; the last lines: {:#?}", self.last());
    }

    /// Live lines until one satisfies.
    pub fn live(&mut self, what: &str, wanted: impl Fn(&Value) -> bool) -> (Instant, Value) {
        self.until(what, |line| line["kind"] == "live" && wanted(line))
    }

    /// A message whose text holds this.
    pub fn message(&mut self, part: &str) -> Value {
        self.until(part, |line| {
            line["kind"] == "message"
                && line["text"].as_str().is_some_and(|text| text.contains(part))
        })
        .1
    }

    /// The next take.
    pub fn take(&mut self) -> Value {
        self.until("a take", |line| line["kind"] == "take").1
    }

    /// A take with the watch at a station, asked for as often as it is refused because this machine
    /// was too busy to bring the readings in time: `ask` types the word or presses the button.
    pub fn taken(&mut self, station: &str, mut ask: impl FnMut(&mut Self)) -> Value {
        for _ in 0..10 {
            self.settled(station);
            ask(self);
            let (_, line) = self.until("a take or a refusal", |line| {
                let text = line["text"].as_str().unwrap_or_default();
                line["kind"] == "take" || text.starts_with("NOT taken: ")
            });
            if line["kind"] == "take" {
                return line;
            }
            self.breathe();
        }
        panic!("nothing is taken at {station}; the last lines: {:#?}", self.last());
    }

    /// What a refused take says, asked for until it is said: a machine that was too busy to bring
    /// the readings in time is told so first.
    pub fn refused(&mut self, part: &str, mut ask: impl FnMut(&mut Self)) -> Value {
        for _ in 0..10 {
            self.breathe();
            ask(self);
            let said = self.message("");
            if said["text"].as_str().is_some_and(|text| text.contains(part)) {
                return said;
            }
        }
        panic!("{part} is not said; the last lines: {:#?}", self.last());
    }

    /// Settled at a new seat: lines that were on their way before are let go.
    pub fn settled(&mut self, station: &str) -> Value {
        self.breathe();
        self.live("a settled gap", |line| line["station"] == station && line["can_take"] == true).1
    }

    /// Lets enough time go by after an answer that the next word is one of its own.
    pub fn breathe(&mut self) {
        let until = Instant::now() + BETWEEN_WORDS;
        while Instant::now() < until {
            match self.out.recv_timeout(until.saturating_duration_since(Instant::now())) {
                Ok((_, line)) => self.heard(line),
                Err(RecvTimeoutError::Disconnected) => return,
                Err(RecvTimeoutError::Timeout) => (),
            }
        }
    }

    fn heard(&mut self, line: String) {
        if self.json {
            lines::check(&line);
        }
        self.seen.push(line);
    }

    /// Everything that has come by now is let go.
    pub fn forget(&mut self) {
        while let Ok((_, line)) = self.out.try_recv() {
            self.heard(line);
        }
    }

    /// The process.
    pub fn child(&mut self) -> &mut Child {
        &mut self.child
    }

    /// Types `quit` and waits for the end.
    pub fn quit(mut self) -> Ending {
        self.say("quit");
        self.ending()
    }

    /// Waits for the end.
    pub fn ending(mut self) -> Ending {
        while self.line().is_some() {}
        let status = self.child.wait().expect("it ends").code();
        let err: Vec<String> = self.err.iter().map(|(_, line)| line).collect();
        Ending { status, out: std::mem::take(&mut self.seen), err: err.join("\n") }
    }

    /// Kills it as a crash or a pulled battery would, and gives every line that had come out.
    pub fn kill(mut self) -> Vec<String> {
        self.child.kill().expect("it can be killed");
        self.ending().out
    }

    fn last(&self) -> &[String] {
        &self.seen[self.seen.len().saturating_sub(4)..]
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Ending {
    /// The line of this kind, parsed.
    pub fn json(&self, kind: &str) -> Vec<Value> {
        let values = self.out.iter().filter_map(|line| serde_json::from_str::<Value>(line).ok());
        values.filter(|line| line["kind"] == kind).collect()
    }
}

fn lines_of(from: impl std::io::Read + Send + 'static) -> Receiver<(Instant, String)> {
    let (tell, lines) = channel();
    std::thread::spawn(move || {
        for line in BufReader::new(from).lines().map_while(Result::ok) {
            if tell.send((Instant::now(), line)).is_err() {
                return;
            }
        }
    });
    lines
}
