//! Sockets, timers, the event stream: everything of the page that does I/O, on a thread of its own.

mod address;
mod answer;
mod listen;
mod patience;
mod seats;
mod stream;
#[cfg(test)]
mod tests;

pub use address::lan_address;

use crate::admit::Watching;
use crate::allowance::{Allowance, Pace};
use crate::asked::Act;
use crate::key::{Keys, Role};
use crate::photo::Kind;
use crate::steps::StepsShown;
use address::listeners;
use bytes::Bytes;
use seats::Seats;
use std::fmt;
use std::fs::File;
use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::{oneshot, watch};
use tokio::time::Instant;

/// One state of the work, ready to be sent.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// Its number: what can be said, and what a word does, is the same as long as it is.
    pub number: u64,
    /// As JSON (one line) in millimetres.
    pub mm: Bytes,
    /// As JSON (one line) in inches.
    pub inch: Bytes,
}

/// Who sent something, or looks on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct From {
    /// On which page.
    pub page: Watching,
    /// From where.
    pub address: IpAddr,
    /// What the key lets them do.
    pub role: Role,
}

impl fmt::Display for From {
    /// As the terminal and the record say it: `phone at 192.168.1.20`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let page = match self.page {
            Watching::Phone => "phone",
            Watching::Board => "board page",
        };
        if self.address.is_loopback() {
            write!(f, "{page} on this computer")
        } else {
            write!(f, "{page} at {}", self.address)
        }
    }
}

/// Something that came from a page.
#[derive(Debug)]
pub enum Heard {
    /// Somebody looks on.
    Came(From),
    /// Somebody does no longer.
    Left(From),
    /// Somebody wants something done.
    Act {
        /// Who.
        by: From,
        /// The number of the state that they saw; `None` where it does not matter.
        seen: Option<u64>,
        /// What.
        act: Act,
    },
}

/// A picture that came whole: a file without a name, which is gone when this is dropped.
#[derive(Debug)]
pub struct Arrived {
    /// Its bytes, from the first.
    pub file: File,
    /// How many.
    pub bytes: u64,
    /// Its kind.
    pub kind: Kind,
}

/// What is served, and to whom.
#[derive(Debug, Clone, Default)]
pub struct Settings {
    /// The port; 0: any that is free.
    pub port: u16,
    /// Beside this computer, on this address of the local network, too.
    pub lan: Option<IpAddr>,
    /// What one may ask.
    pub limits: Limits,
}

/// What anybody may use up.
#[derive(Debug, Clone)]
pub struct Limits {
    /// Connections at once.
    pub connections: usize,
    /// Of these, from one address.
    pub from_one: usize,
    /// Of these, kept for this computer: the board page comes through whatever others do.
    pub kept_home: usize,
    /// Connections that wait for another to end; of these too places are kept for this computer.
    pub waiting: usize,
    /// Of these, from one address.
    pub waiting_from_one: usize,
    /// They wait so long at most.
    pub wait: Duration,
    /// Pages that look on at once.
    pub listeners: usize,
    /// Of these, kept for pages that may act: a bystander takes none away from a phone that works.
    pub kept_acting: usize,
    /// Pictures on their way at once.
    pub photos: usize,
    /// The head of a request has to be there after this.
    pub head: Duration,
    /// The body of a word or note has to be there after this.
    pub body: Duration,
    /// After so long without a byte, whichever way, a connection is given up.
    pub patience: Duration,
    /// A picture has to be there after this.
    pub photo: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            connections: 32,
            from_one: 20,
            kept_home: 8,
            waiting: 96,
            waiting_from_one: 48,
            wait: Duration::from_secs(10),
            listeners: 8,
            kept_acting: 2,
            photos: 2,
            head: Duration::from_secs(5),
            body: Duration::from_secs(10),
            patience: Duration::from_secs(10),
            photo: Duration::from_secs(300),
        }
    }
}

/// Largest body but for a picture's and for what touched, bytes.
const BODY: usize = 4096;
/// Largest body of what touched, bytes.
const STROKES: usize = 64 * 1024;
/// So much waits to be heard; what comes then is refused.
const WAITING: usize = 64;
/// A page is some twelve requests; eight of them may be opened at once from one address.
const REQUESTS: Pace = Pace { at_once: 200.0, per_second: 30.0 };
const WORDS: Pace = Pace { at_once: 10.0, per_second: 5.0 };
/// Ten in a minute.
const WRONG_KEYS: Pace = Pace { at_once: 10.0, per_second: 10.0 / 60.0 };

/// Addresses with their keys. Not to be kept: they end with the run.
#[derive(Clone, PartialEq, Eq)]
pub struct Links {
    /// The board page, for the computer that drives the board: its keyboard acts.
    pub board: String,
    /// The proof's page, for the computer that the display's touch is plugged into, in the network
    /// where it is served there: what touches it acts.
    pub proof: String,
    /// The phone's page that acts: for the terminal alone.
    pub phone: String,
    /// The phone's page that looks: may be shown to anybody.
    pub looks: String,
}

impl fmt::Debug for Links {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Links(not shown)")
    }
}

/// Why there is no page.
#[derive(Debug)]
pub enum PageError {
    /// No random numbers.
    Chance(getrandom::Error),
    /// The address cannot be had.
    Address(SocketAddr, io::Error),
    /// There is no network to serve.
    NoNetwork,
    /// The system gives no thread or socket.
    System(io::Error),
}

impl fmt::Display for PageError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Chance(error) => write!(f, "the page has no keys: the system gives no random numbers ({error})"),
            Self::Address(address, error) if error.kind() == io::ErrorKind::AddrInUse => write!(
                f,
                "the page cannot be served at {address}: another program is there; choose another --port, or end that program"
            ),
            Self::Address(address, error) => write!(
                f,
                "the page cannot be served at {address} ({error}): is it an address of this computer?"
            ),
            Self::NoNetwork => f.write_str(
                "the page cannot be served to phones: this computer is in no network; join one, or make a hotspot, then start again",
            ),
            Self::System(error) => write!(f, "the page cannot be served: {error}"),
        }
    }
}

impl std::error::Error for PageError {}

/// What the connections share.
#[derive(Debug)]
pub(crate) struct Shared {
    keys: Keys,
    hosts: Vec<String>,
    looks: String,
    on_lan: bool,
    began: Instant,
    limits: Limits,
    states: watch::Receiver<State>,
    steps: watch::Receiver<Bytes>,
    heard: SyncSender<Heard>,
    requests: Mutex<Allowance>,
    words: Mutex<Allowance>,
    wrong_keys: Mutex<Allowance>,
    listeners: Arc<Seats>,
    photos: Arc<Seats>,
}

/// A lock that a panic elsewhere does not take from us.
fn locked<T>(of: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Shared {
    fn new(
        served: &[SocketAddr],
        limits: Limits,
        (states, steps): (watch::Receiver<State>, watch::Receiver<Bytes>),
        heard: SyncSender<Heard>,
    ) -> Result<(Arc<Self>, Links), PageError> {
        let keys = Keys::new().map_err(PageError::Chance)?;
        let mut hosts: Vec<String> = served.iter().map(ToString::to_string).collect();
        if let Some(home) = served.iter().find(|address| address.ip().is_loopback()) {
            hosts.push(format!("localhost:{}", home.port()));
        }
        let home = served.first().copied().unwrap_or((Ipv4Addr::LOCALHOST, 0).into());
        let far = served.last().copied().unwrap_or(home);
        let link = |at: SocketAddr, page: &str, key: crate::key::Key| {
            format!("http://{at}/{page}#k={}", key.text())
        };
        let links = Links {
            board: link(home, "board", keys.acts),
            proof: link(far, "proof", keys.acts),
            phone: link(far, "phone", keys.acts),
            looks: link(far, "phone", keys.looks),
        };
        let shared = Self {
            keys,
            hosts,
            looks: links.looks.clone(),
            on_lan: !far.ip().is_loopback(),
            began: Instant::now(),
            states,
            steps,
            heard,
            requests: Mutex::new(Allowance::new(REQUESTS)),
            words: Mutex::new(Allowance::new(WORDS)),
            wrong_keys: Mutex::new(Allowance::new(WRONG_KEYS)),
            listeners: Seats::new(limits.listeners, limits.listeners),
            photos: Seats::new(limits.photos, limits.photos),
            limits,
        };
        Ok((Arc::new(shared), links))
    }

    /// Since the page was opened.
    fn now(&self) -> Duration {
        self.began.elapsed()
    }
}

/// The page, as long as it is held. Nothing here waits for a browser.
#[derive(Debug)]
pub struct Page {
    states: watch::Sender<State>,
    steps: StepsShown,
    heard: Receiver<Heard>,
    links: Links,
    served: Vec<SocketAddr>,
    end: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Page {
    /// Opens it: on this computer alone, unless the settings name an address of its network.
    ///
    /// # Errors
    /// [`PageError`], with what to do.
    pub fn open(settings: Settings) -> Result<Self, PageError> {
        let listeners = listeners(&settings)?;
        let served: Vec<SocketAddr> = listeners
            .iter()
            .map(TcpListener::local_addr)
            .collect::<io::Result<_>>()
            .map_err(PageError::System)?;
        let (states, newest) = watch::channel(State::default());
        let (steps, newest_steps) = StepsShown::new();
        let (says, heard) = sync_channel(WAITING);
        let (end, ended) = oneshot::channel();
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(PageError::System)?;
        let (shared, links) = {
            let _inside = runtime.enter();
            Shared::new(&served, settings.limits, (newest, newest_steps), says)?
        };
        let thread = std::thread::Builder::new()
            .name("page".to_owned())
            .spawn(move || runtime.block_on(listen::listen(listeners, shared, ended)))
            .map_err(PageError::System)?;
        Ok(Self { states, steps, heard, links, served, end: Some(end), thread: Some(thread) })
    }

    /// Shows this state to everybody, in place of the one before.
    pub fn show(&self, state: State) {
        self.states.send_replace(state);
    }

    /// Where the job's steps are shown: none, until there are some.
    pub fn steps(&self) -> StepsShown {
        self.steps.clone()
    }

    /// Whether anybody looks on: what nobody sees need not be made.
    pub fn is_watched(&self) -> bool {
        self.states.receiver_count() > 1
    }

    /// What came next, if anything did.
    pub fn heard(&self) -> Option<Heard> {
        self.heard.try_recv().ok()
    }

    /// The addresses to open.
    pub fn links(&self) -> &Links {
        &self.links
    }

    /// The addresses that are served, this computer's own first.
    pub fn served(&self) -> &[SocketAddr] {
        &self.served
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        drop(self.end.take());
        if let Some(thread) = self.thread.take() {
            // What it had to say no longer matters.
            let _ = thread.join();
        }
    }
}
