//! The shell around a [`Session`]: owns the stream of bytes and the thread that reads it, and comes
//! back after the plug was pulled.

use super::clock::Clock;
use super::stream::{Connector, SerialLine, Stream};
use crate::written::RECORDING;
use anyhow::Context;
use skimgauge_session::recording::{MAGIC, Recorder};
use skimgauge_session::{Event, GREET_FOR, HeadIs, Refused, Session, Told, Trouble};
use skimgauge_shared::message::{Request, SerialNumber};
use skimgauge_system::output::{self, Kind, Outputs};
use std::io::ErrorKind;
use std::path::Path;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

const RETRY_EVERY: Duration = Duration::from_millis(300);

/// Where a recording goes.
pub type Keep = Recorder<Box<dyn std::io::Write + Send>>;

/// A link to one head.
pub struct Link {
    told: Receiver<Told>,
    ask: Sender<Request>,
    clock: Clock,
}

impl Link {
    /// Opens the serial port and begins to greet.
    ///
    /// # Errors
    /// The port cannot be opened. What is wrong with whoever answers comes as [`Event::Refused`].
    pub fn open(
        port: &str,
        wanted: Option<SerialNumber>,
        keep: Option<Keep>,
    ) -> Result<Self, Trouble> {
        Self::over(Clock::real(), Box::new(SerialLine(port.to_owned())), wanted, keep)
    }

    /// The same over any stream of bytes and on any clock.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn over(
        clock: Clock,
        mut connector: Box<dyn Connector>,
        wanted: Option<SerialNumber>,
        keep: Option<Keep>,
    ) -> Result<Self, Trouble> {
        let stream = connector.connect()?;
        let (tell, told) = channel();
        let (ask, asked) = channel();
        let name = connector.name().to_owned();
        let its_clock = clock.clone();
        let session = Session::new(wanted, clock.now());
        std::thread::Builder::new()
            .name("link".into())
            .spawn(move || {
                Keeper { connector, clock: its_clock, tell, asked, keep }.keep(stream, session);
            })
            .map_err(|error| Trouble::Other { port: name, what: error.to_string() })?;
        Ok(Self { told, ask, clock })
    }

    /// The time on the link's clock, which [`skimgauge_session::Arrived::arrival`] is on.
    pub fn now(&self) -> Duration {
        self.clock.now()
    }

    /// Sends a request; lost if the link is down.
    pub fn ask(&self, request: Request) {
        // The thread ends only with this link.
        let _ = self.ask.send(request);
    }

    /// The next thing told, waiting no longer than this.
    pub fn next(&self, wait: Duration) -> Option<Told> {
        match self.told.recv_timeout(wait) {
            Ok(told) => Some(told),
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => {
                std::thread::sleep(wait);
                None
            }
        }
    }

    /// Waits until the head is known.
    ///
    /// # Errors
    /// Whatever it is, it is not the head asked for; or the link was lost at once.
    pub fn await_head(&self, port: &str) -> Result<Box<HeadIs>, Trouble> {
        let until = Instant::now() + GREET_FOR + Duration::from_secs(2);
        while Instant::now() < until {
            match self.next(Duration::from_millis(50)) {
                Some(Told::Head(Event::Up(head))) => return Ok(head),
                Some(Told::Head(Event::Refused(why))) => {
                    return Err(Trouble::Refused { port: port.to_owned(), why });
                }
                Some(Told::Lost(trouble)) => return Err(trouble),
                _ => (),
            }
        }
        Err(Trouble::Refused { port: port.to_owned(), why: Refused::Silent })
    }
}

/// Opens a link, recorded if asked for, as one of these outputs.
///
/// # Errors
/// Port or recording cannot be opened; then there is no recording.
pub fn open_kept(port: &str, keep: Option<&Path>, mut outputs: Outputs) -> anyhow::Result<Link> {
    let Some(path) = keep else { return Ok(Link::open(port, None, None)?) };
    let out: Box<dyn std::io::Write + Send> = Box::new(outputs.stream(path, RECORDING)?);
    let opened = Recorder::new(out)
        .with_context(|| format!("{} cannot be written.", path.display()))
        .and_then(|keep| Ok(Link::open(port, None, Some(keep))?));
    if opened.is_err() {
        // A recording of nothing; what would be left of it otherwise stands in the way of the next
        // try.
        let begun = Kind { is: |bytes| MAGIC.starts_with(bytes), ..RECORDING };
        let _ = output::remove(path, begun);
    }
    opened
}

struct Keeper {
    connector: Box<dyn Connector>,
    clock: Clock,
    tell: Sender<Told>,
    asked: Receiver<Request>,
    keep: Option<Keep>,
}

impl Keeper {
    fn keep(mut self, mut stream: Box<dyn Stream>, mut session: Session) {
        loop {
            let trouble = match self.converse(&mut *stream, &mut session) {
                Ended::NobodyListens => return,
                Ended::Trouble(trouble) => trouble,
            };
            drop(stream);
            self.record(&[]);
            let told = self
                .tell
                .send(Told::Lost(trouble))
                .and_then(|()| self.tell.send(Told::Counts(session.counts())));
            if told.is_err() {
                return;
            }
            stream = loop {
                std::thread::sleep(RETRY_EVERY);
                // Requests made meanwhile are lost, not late.
                while self.asked.try_recv().is_ok() {}
                if self.tell.send(Told::Counts(session.counts())).is_err() {
                    return;
                }
                if let Ok(stream) = self.connector.reconnect(session.wanted()) {
                    break stream;
                }
            };
            session.begin_again(self.clock.now());
        }
    }

    /// Until the link or the listener is gone.
    fn converse(&mut self, stream: &mut dyn Stream, session: &mut Session) -> Ended {
        let mut buffer = [0; 1024];
        loop {
            let received = match stream.read(&mut buffer) {
                Ok(0) => return self.unplugged(),
                Ok(length) => &buffer[..length],
                Err(error)
                    if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted) =>
                {
                    &[]
                }
                Err(_) => return self.unplugged(),
            };
            if !received.is_empty() {
                self.record(received);
            }
            while let Ok(request) = self.asked.try_recv() {
                session.ask(&request);
            }
            let mut told = Ok(());
            let mut counted = false;
            let mut refused = None;
            session.poll(self.clock.now(), received, &mut |event| {
                counted |= matches!(event, Event::Pulse(_));
                if let Event::Refused(why) = &event {
                    refused = Some(why.clone());
                }
                if told.is_ok() {
                    told = self.tell.send(Told::Head(event));
                }
            });
            if counted && told.is_ok() {
                told = self.tell.send(Told::Counts(session.counts()));
            }
            if told.is_err() {
                return Ended::NobodyListens;
            }
            if let Some(why) = refused {
                return Ended::Trouble(Trouble::Refused { port: self.name(), why });
            }
            let out = session.take_out();
            match stream.write_all(&out) {
                Ok(()) => (),
                // A head that is busy for a moment takes no bytes: the requests are lost, the link
                // is not.
                Err(error) if error.kind() == ErrorKind::TimedOut => session.cut_short(),
                Err(_) => return self.unplugged(),
            }
        }
    }

    /// A recording that cannot be written any more ends and says so; the work goes on.
    fn record(&mut self, bytes: &[u8]) {
        let at = self.clock.now();
        if let Some(keep) = &mut self.keep
            && let Err(why) = keep.piece(at, bytes)
        {
            self.keep = None;
            // Whoever does not listen any more is found out by the next thing told.
            let _ = self.tell.send(Told::NotRecorded(why.to_string()));
        }
    }

    fn name(&self) -> String {
        self.connector.name().to_owned()
    }

    fn unplugged(&self) -> Ended {
        Ended::Trouble(Trouble::Unplugged { port: self.name() })
    }
}

enum Ended {
    NobodyListens,
    Trouble(Trouble),
}
