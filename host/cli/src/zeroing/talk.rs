//! Head and keyboard at once: what the user types or presses on the head, what the head says
//! meanwhile.

use crate::head::link::Link;
use crate::lengths::Lengths;
use anyhow::{Context, anyhow, bail};
use skimgauge_metrology::measure::{Limits, Live, Observer};
use skimgauge_metrology::zero::Gathering;
use skimgauge_quantity::Sentence;
use skimgauge_session::Told;
use skimgauge_session::{Event, HeadIs};
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
use skimgauge_shared::exchange::{NotWritten, WriteConstants};
use skimgauge_shared::message::{Press, Refusal, Report, Request};
use skimgauge_system::input;
use skimgauge_system::signals::Heed;
use skimgauge_system::terminal::rewrite_line;
use std::io::{IsTerminal, Write};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::time::Duration;

const WAIT: Duration = Duration::from_millis(20);
/// An answer takes no longer than this, writing to the memory included.
const ANSWER_FOR: Duration = Duration::from_secs(3);

/// After a signal: constants that are being written to the head are written whole, and recorded.
const ENDS_WITHIN: Duration = Duration::from_secs(15);

/// What the user says to a prompt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Word {
    /// Go on: Enter, or the head's button.
    Go,
    /// Anything else, as typed.
    Other(String),
    /// Enough.
    Quit,
    /// Nothing more will be typed.
    End,
}

/// A conversation with a head and its user.
pub struct Talk {
    link: Link,
    port: String,
    lines: Receiver<String>,
    observer: Observer,
    gathering: Option<Gathering>,
    answer: Option<Report>,
    pressed: bool,
    lively: bool,
    heed: Heed,
    /// What lengths are shown in.
    pub units: Lengths,
    /// The head.
    pub head: Box<HeadIs>,
}

impl Talk {
    /// Opens the port, greets, and listens to the keyboard.
    ///
    /// # Errors
    /// No head answers there.
    pub fn open(port: &str, limits: Limits, today: Date) -> anyhow::Result<Self> {
        let link = Link::open(port, None, None)?;
        let head = link.await_head(port)?;
        let mut observer = Observer::new(limits, today);
        observer.greeted(head.hello.serial);
        observer.calibrated(head.calibration.clone());
        Ok(Self {
            link,
            port: port.to_owned(),
            lines: typed(),
            observer,
            gathering: None,
            answer: None,
            pressed: false,
            lively: std::io::stdout().is_terminal(),
            heed: Heed::new(ENDS_WITHIN),
            units: Lengths::default(),
            head,
        })
    }

    /// Hears what has come; waits a moment for it.
    fn hear(&mut self) -> anyhow::Result<()> {
        let mut told = self.link.next(WAIT);
        while let Some(one) = told {
            self.told(one)?;
            told = self.link.next(Duration::ZERO);
        }
        Ok(())
    }

    fn told(&mut self, told: Told) -> anyhow::Result<()> {
        let event = match told {
            Told::Head(event) => event,
            Told::Lost(trouble) => {
                return Err(trouble)
                    .context("The head is gone; what was read so far is kept. Plug it in and begin again to go on.");
            }
            Told::Counts(_) | Told::NotRecorded(_) | Told::End => return Ok(()),
        };
        let now_s = self.link.now().as_secs_f64();
        match event {
            Event::Reading(arrived) => {
                self.observer.reading(
                    &arrived.reading,
                    arrived.placed,
                    arrived.arrival.as_secs_f64(),
                );
            }
            Event::Pulse(pulse) => {
                self.observer.pulse(&pulse, now_s);
                if let (Some(gathering), Some(t)) = (&mut self.gathering, pulse.temperature.value())
                {
                    gathering.temperature(t.celsius());
                }
            }
            Event::Codes(codes) => {
                if let Some(gathering) = &mut self.gathering {
                    gathering.codes(&codes);
                }
            }
            Event::Button(Press::Short, _) => self.pressed = true,
            Event::Answer(report) => {
                if let Report::Calibration(state) = &report {
                    self.observer.calibrated(state.clone());
                }
                self.answer = Some(report);
            }
            Event::Up(head) => {
                self.observer.greeted(head.hello.serial);
                self.observer.calibrated(head.calibration.clone());
                self.head = head;
            }
            Event::Refused(why) => {
                return Err(
                    skimgauge_session::Trouble::Refused { port: self.port.clone(), why }.into()
                );
            }
            Event::ClockJumped => self.observer.link_broken(),
            Event::RoundTrip { took, at } => {
                self.observer.answered(at.seconds(), took.as_secs_f64(), now_s);
            }
            Event::Button(Press::Long, _)
            | Event::Same
            | Event::Log(_)
            | Event::LastWords(_)
            | Event::Skipped { .. } => (),
        }
        Ok(())
    }

    /// How the head is now.
    pub fn live(&self) -> Live {
        self.observer.live(self.link.now().as_secs_f64())
    }

    /// The observer.
    pub fn observer(&mut self) -> &mut Observer {
        &mut self.observer
    }

    /// Time on the link's clock, s.
    pub fn now_s(&self) -> f64 {
        self.link.now().as_secs_f64()
    }

    /// Asks, and waits for the answer.
    ///
    /// # Errors
    /// None comes, or the head is gone.
    pub fn ask(&mut self, request: Request) -> anyhow::Result<Report> {
        self.answer = None;
        self.link.ask(request);
        self.answered()
    }

    /// Waits for the next answer.
    fn answered(&mut self) -> anyhow::Result<Report> {
        let until = self.link.now() + ANSWER_FOR;
        while self.link.now() < until {
            self.hear()?;
            if let Some(answer) = self.answer.take() {
                return Ok(answer);
            }
        }
        bail!(
            "The head on {} does not answer. Plug it in anew and begin again; what was read is kept.",
            self.port
        )
    }

    /// Shows a prompt, and waits for a word. On a terminal `status` is shown beneath, ten times a
    /// second.
    ///
    /// # Errors
    /// The head is gone.
    pub fn prompt(
        &mut self,
        text: &str,
        status: &dyn Fn(&Live) -> Sentence,
    ) -> anyhow::Result<Word> {
        println!("{text}");
        std::io::stdout().flush()?;
        self.pressed = false;
        let mut shown_s = 0.0;
        loop {
            if let Some(word) = self.word()? {
                self.end_status();
                // Nobody is there to answer.
                return Ok(if word == Word::End { Word::Quit } else { word });
            }
            let now_s = self.now_s();
            if self.lively && now_s - shown_s > 0.1 {
                shown_s = now_s;
                rewrite_line(&status(&self.live()).text(self.units.style()))?;
            }
        }
    }

    /// Hears the head, and what the user says, if anything.
    ///
    /// # Errors
    /// The head is gone.
    pub fn word(&mut self) -> anyhow::Result<Option<Word>> {
        if self.heed.ended().is_some() {
            return Ok(Some(Word::Quit));
        }
        self.hear()?;
        if std::mem::take(&mut self.pressed) {
            return Ok(Some(Word::Go));
        }
        Ok(match self.lines.try_recv() {
            Ok(line) => Some(match line.trim().to_lowercase().as_str() {
                "" => Word::Go,
                "quit" | "q" => Word::Quit,
                _ => Word::Other(line.trim().to_owned()),
            }),
            Err(TryRecvError::Disconnected) => Some(Word::End),
            Err(TryRecvError::Empty) => None,
        })
    }

    fn end_status(&self) {
        if self.lively {
            println!();
        }
    }

    /// Lets time pass until `done` says so, at most so many seconds.
    ///
    /// # Errors
    /// The head is gone.
    pub fn until(
        &mut self,
        seconds: f64,
        mut done: impl FnMut(&mut Self) -> bool,
    ) -> anyhow::Result<bool> {
        let until_s = self.now_s() + seconds;
        while self.now_s() < until_s && self.heed.ended().is_none() {
            self.hear()?;
            if done(self) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Raw codes over so many seconds, or until `done`.
    ///
    /// # Errors
    /// The head is gone, or does not send codes.
    pub fn gather(
        &mut self,
        seconds: f64,
        mut done: impl FnMut(&Live) -> bool,
    ) -> anyhow::Result<Gathering> {
        if let Report::Refused { why, .. } = self.ask(Request::StreamCodes { on: true })? {
            bail!("The head does not send raw codes: {}.", refusal(why));
        }
        self.gathering = Some(Gathering::default());
        let waited = self.until(seconds, |talk| done(&talk.live()));
        let gathered = self.gathering.take().unwrap_or_default();
        waited?;
        self.ask(Request::StreamCodes { on: false })?;
        Ok(gathered)
    }

    /// Writes constants in the protocol's two steps and holds what the head read back against them.
    ///
    /// # Errors
    /// Refused, or read back differently: then the former constants are in force.
    pub fn write(&mut self, constants: &Calibration) -> anyhow::Result<CalibrationState> {
        const FORMER: &str = "the head keeps its former constants";
        let written = WriteConstants::carry_out(constants.clone(), |request| match request {
            Some(request) => self.ask(request),
            None => self.answered(),
        })?;
        written.map_err(|not| match not {
            NotWritten::Refused(why) => anyhow!("Not written: {}; {FORMER}.", refusal(why)),
            NotWritten::Garbled => anyhow!("Not written: the head holds something else than was sent; {FORMER}."),
            NotWritten::Differs(_) => {
                anyhow!("What the head read back is not what was written. Zero it again before it is used.")
            }
        })
    }
}

fn typed() -> Receiver<String> {
    let (tell, lines) = channel();
    std::thread::spawn(move || {
        for line in input::lines(std::io::stdin().lock()) {
            if tell.send(line).is_err() {
                return;
            }
        }
    });
    lines
}

fn refusal(why: Refusal) -> &'static str {
    match why {
        Refusal::Protocol => "it speaks another protocol",
        Refusal::NotStaged => "it holds nothing to write",
        Refusal::OtherHead => "the constants are another head's",
        Refusal::OutOfRange => "a constant is out of its range",
        Refusal::NoMemory => "its memory does not answer",
        Refusal::NotVerified => "what it wrote did not read back the same",
        Refusal::NotFitted => "this head cannot",
        Refusal::Busy => "it is still busy",
    }
}
