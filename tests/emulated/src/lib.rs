//! What these tests share: a host that talks to the emulated head in its own time, so that every
//! run is the same run, and a head at a port for the real command.
#![warn(
    unreachable_pub,
    clippy::self_named_module_files,
    clippy::too_many_lines,
    clippy::wildcard_imports
)]

use skimgauge_bench::{Bench, zeroed};
use skimgauge_emulator::EmulatedHead;
use skimgauge_emulator::terminal::Terminal;
use skimgauge_shared::calibration::{Calibration, Date};
use skimgauge_shared::exchange::{Next, Tokens, WriteConstants};
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::light::Sheet;
use skimgauge_shared::message::{
    Answer, CalibrationCheck, Hello, Pulse, Refusal, Report, Request, Token,
};
use skimgauge_shared::pixels::Pixels;
use skimgauge_shared::reading::Reading;
use std::path::PathBuf;
use std::process::Command;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// In microseconds of the head's time.
pub const SECOND: u64 = 1_000_000;

/// The head, its port open, and everything it said.
pub struct Session {
    /// The head, at the time that it has come to.
    pub head: EmulatedHead,
    decoder: Decoder,
    /// In order; cleared by [`Session::forget`].
    pub said: Vec<Report>,
    /// Bytes that were no message.
    pub skipped: u32,
    tokens: Tokens,
}

impl Session {
    /// Power comes, a host opens the port, half a second goes by.
    pub fn start(bench: Bench) -> Self {
        Self::with(EmulatedHead::start(bench).unwrap_or_else(|missing| panic!("{missing}")))
    }

    /// The same with a head prepared.
    pub fn with(head: EmulatedHead) -> Self {
        let (decoder, said, tokens) = (Decoder::new(), Vec::new(), Tokens::new());
        let mut session = Self { head, decoder, said, skipped: 0, tokens };
        session.head.open_port(true).unwrap();
        session.run(SECOND / 2);
        session
    }

    /// Lets so much time go by.
    pub fn run(&mut self, us: u64) {
        self.head.run_for(us).unwrap();
        for byte in self.head.take_received() {
            match self.decoder.feed(byte) {
                Fed::More => (),
                Fed::Message(report) => self.said.push(report),
                Fed::Skipped { bytes, .. } => self.skipped += bytes,
            }
        }
    }

    /// Forgets what was said and skipped so far.
    pub fn forget(&mut self) {
        self.said.clear();
        self.skipped = 0;
    }

    /// Sends a request and does not wait; the token that its answer will carry.
    pub fn send(&mut self, request: &Request) -> Token {
        let call = self.tokens.call(request.clone());
        let mut frame = [0; MAX_FRAME];
        let frame = encode(&call, &mut frame).unwrap();
        self.head.send(frame).unwrap();
        call.token
    }

    /// Lets time go by until the wanted report comes; at most two seconds.
    pub fn until<T>(&mut self, what: &str, wanted: impl Fn(&Report) -> Option<T>) -> T {
        let from = self.said.len();
        for _ in 0..1_000 {
            self.run(2_000);
            if let Some(found) = self.said[from..].iter().find_map(&wanted) {
                return found;
            }
        }
        panic!("no {what} in two seconds; heard {:?}", self.said[from..].last());
    }

    /// Asks, and lets time go by until the answer comes; at most two seconds.
    pub fn ask(&mut self, request: &Request) -> Answer {
        let token = self.send(request);
        self.until("answer", |report| match report {
            Report::Answer(to, answer) if *to == token => Some(answer.clone()),
            _ => None,
        })
    }

    /// Asks for what is simply done.
    pub fn done(&mut self, request: &Request) {
        assert_eq!(self.ask(request), Answer::Done);
    }

    /// Who the head is.
    pub fn greet(&mut self) -> Hello {
        let token = self.send(&Request::Greet);
        self.until("greeting", |report| match report {
            Report::Hello(hello) if hello.token == token => Some(*hello),
            _ => None,
        })
    }

    /// The constants in use, and what is known of them.
    pub fn calibration(&mut self) -> (CalibrationCheck, Calibration) {
        match self.ask(&Request::ReadCalibration) {
            Answer::Calibration(state) => (state.check, state.calibration),
            other => panic!("{other:?}"),
        }
    }

    /// Stages constants; the check that commits them.
    pub fn stage(&mut self, calibration: &Calibration) -> u32 {
        match self.ask(&Request::StageCalibration(calibration.clone())) {
            Answer::Staged { check } => check,
            other => panic!("{other:?}"),
        }
    }

    /// Writes constants and their table, nobody being at the head; at most two seconds.
    pub fn write(&mut self, calibration: &Calibration, table: Option<Pixels>) {
        let (mut write, request) = WriteConstants::begin(calibration.clone(), table);
        let mut from = self.said.len();
        self.send(&request);
        for _ in 0..1_000 {
            self.run(2_000);
            let answers: Vec<(Token, Answer)> = self.said[from..]
                .iter()
                .filter_map(|report| match report {
                    Report::Answer(token, answer) => Some((*token, answer.clone())),
                    _ => None,
                })
                .collect();
            from = self.said.len();
            for (token, answer) in answers {
                let Some(ask) = self.tokens.answered(token, &answer) else { continue };
                match write.hear(ask, &answer) {
                    Next::Wait => (),
                    Next::Ask(request) => drop(self.send(&request)),
                    Next::Press(_) => drop(self.send(&Request::Unattended)),
                    Next::Written(_) => return,
                    Next::NotWritten(why) => panic!("{why:?}"),
                }
            }
        }
        panic!("no end of the write in two seconds");
    }

    /// Asks for what the head will not do; why not.
    pub fn refusal(&mut self, request: &Request) -> Refusal {
        match self.ask(request) {
            Answer::Refused(why) => why,
            other => panic!("not refused: {other:?}"),
        }
    }

    /// Every sheet said.
    pub fn sheets(&self) -> Vec<Sheet> {
        let sheet = |report: &Report| match report {
            Report::Sheet(sheet) => Some(*sheet),
            _ => None,
        };
        self.said.iter().filter_map(sheet).collect()
    }

    /// Every reading said.
    pub fn readings(&self) -> Vec<Reading> {
        self.said
            .iter()
            .filter_map(
                |report| if let Report::Reading(reading) = report { Some(*reading) } else { None },
            )
            .collect()
    }

    /// Every pulse said.
    pub fn pulses(&self) -> Vec<Pulse> {
        self.said
            .iter()
            .filter_map(
                |report| if let Report::Pulse(pulse) = report { Some(*pulse) } else { None },
            )
            .collect()
    }
}

/// The head's own number as the bench has it.
pub fn serial(bench: &Bench) -> [u8; 16] {
    bench.scene(|scene| scene.head.serial)
}

/// The command beside the tests; `SKIMGAUGE` for another.
pub fn skimgauge() -> Command {
    let path = std::env::var_os("SKIMGAUGE").map_or_else(
        || std::env::current_exe().unwrap().parent().unwrap().with_file_name("skimgauge"),
        PathBuf::from,
    );
    assert!(path.is_file(), "there is no command at {}: run `cargo build` first", path.display());
    Command::new(path)
}

/// A folder of its own, gone at the end.
pub struct Folder(PathBuf);

impl Folder {
    /// Named after this test and process.
    pub fn new(name: &str) -> Self {
        let path =
            std::env::temp_dir().join(format!("skimgauge-emulated-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    /// A path in it.
    pub fn path(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What is left behind is in the folder for temporary files.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// One at a time: these run against the real clock.
static ALONE: Mutex<()> = Mutex::new(());

/// Nobody beside whoever holds it.
pub fn alone() -> MutexGuard<'static, ()> {
    ALONE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A head at a port, and nobody beside it.
pub struct Plugged {
    terminal: Terminal,
    _alone: MutexGuard<'static, ()>,
}

impl std::ops::Deref for Plugged {
    type Target = Terminal;

    fn deref(&self) -> &Terminal {
        &self.terminal
    }
}

/// A head zeroed on 4 May 2026, warm, its eye turned to the emitter, at a port.
pub fn plugged(seed: u64) -> Plugged {
    let alone = alone();
    let bench = Bench::new(seed);
    let mut session = Session::start(bench.clone());
    let zeroed = zeroed::of(&bench, Date { year: 2026, month: 5, day: 4 }, "bench");
    session.write(&zeroed.calibration, Some(zeroed.pixels));
    bench.scene(|scene| {
        scene.head.warm_up_s = 1.0;
        scene.turn_eye_to_emitter(2.0);
    });
    session.head.open_port(false).unwrap();
    session.run(SECOND);
    Plugged { terminal: Terminal::new(session.head).unwrap(), _alone: alone }
}
