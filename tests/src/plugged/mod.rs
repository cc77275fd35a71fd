//! A simulated head at a port of this program's making, behind a name that goes away and comes back
//! as a real port's does.

mod stranger;

use skimgauge_bench::head::{Attitude, Place};
use skimgauge_bench::virtual_head::{VirtualHead, start};
use skimgauge_bench::{Bench, zeroed};
use skimgauge_shared::calibration::Date;
use skimgauge_shared::message::{ResetCause, SerialNumber};
use skimgauge_system::link::Link;
use skimgauge_system::port::Plug;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};
pub use stranger::Stranger;

/// A head whose time stands still is waited for no longer.
const PATIENCE: Duration = Duration::from_secs(20);
const ROUND: Duration = Duration::from_millis(2);
/// Bytes that a real head's USB buffers hold while the host is slow.
const BUFFER: usize = 4_096;
/// A simulation that has fallen behind by more lets the time go.
const FURTHEST_BEHIND_US: u64 = 100_000;

/// Stations of the tests' job: name, right of the image's middle and above its top edge, mm.
pub const STATIONS: [(&str, f64, f64); 4] = [
    ("top left", -950.0, 0.0),
    ("top right", 950.0, 0.0),
    ("bottom right", 900.0, -1250.0),
    ("bottom left", -900.0, -1250.0),
];

/// What is done to the bytes that a head sends.
pub type Damage = Box<dyn FnMut(&mut Vec<u8>) + Send>;

enum Do {
    Plug(Box<Bench>, bool),
    Swap(Box<Bench>),
    Unplug { keeps_power: bool },
    Stall(bool),
    Damage(Option<Damage>),
    Inject(Vec<u8>),
}

/// A head at a port.
pub struct Plugged {
    bench: Bench,
    name: PathBuf,
    _folder: tempfile::TempDir,
    todo: Sender<(Do, Sender<()>)>,
    thread: Option<std::thread::JoinHandle<()>>,
}

/// A zeroed, warm head of this seed on its own board, clipped to the first station with its eye
/// turned to the emitter.
pub fn bench(seed: u64) -> Bench {
    let bench = Bench::new(seed);
    zero(&bench, Date { year: 2026, month: 3, day: 9 });
    bench.scene(|scene| scene.head.warm_up_s = 1.0);
    clip(&bench, 0);
    bench
}

/// Zeroes the head on a bench, on this day.
pub fn zero(bench: &Bench, day: Date) {
    let mut head = VirtualHead::new(bench.clone());
    let zeroed = zeroed::of(bench, day, "tests");
    assert!(zeroed::write(&mut head, &zeroed), "the simulated head does not take its calibration");
}

/// Clips the head to one of [`STATIONS`] and turns its eye to the emitter.
pub fn clip(bench: &Bench, station: usize) {
    let (_, x_mm, y_mm) = STATIONS[station];
    bench.scene(|scene| {
        scene.clip(x_mm, y_mm);
        scene.turn_eye_to_emitter(2.0);
    });
}

impl Plugged {
    /// Plugged in and on.
    pub fn new(seed: u64) -> Self {
        let plugged = Self::absent(seed);
        plugged.plug();
        plugged
    }

    /// Not plugged in yet.
    pub fn absent(seed: u64) -> Self {
        let bench = bench(seed);
        let folder = tempfile::tempdir().expect("a folder for the port's name");
        let name = folder.path().join("head");
        let (todo, done) = channel();
        let link = name.clone();
        let thread = std::thread::Builder::new()
            .name("head".into())
            .spawn(move || {
                Wire {
                    link,
                    ends: None,
                    head: None,
                    stalled: false,
                    damage: None,
                    inject: Vec::new(),
                }
                .run(&done);
            })
            .expect("a thread for the head");
        Self { bench, name, _folder: folder, todo, thread: Some(thread) }
    }

    /// Where it is plugged in.
    pub fn port(&self) -> &str {
        self.name.to_str().expect("the folder's name is plain")
    }

    /// The room and the head's parts.
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// The head's serial number as people see it.
    pub fn serial(&self) -> String {
        SerialNumber(self.bench.scene(|scene| scene.head.serial)).to_string()
    }

    /// Takes it off the board, and holds it long enough in the hand for that to be seen.
    pub fn lift(&self) {
        self.bench.scene(|scene| scene.put(Place::Hand, Attitude::Upright));
        self.wait_us(500_000);
    }

    /// Carries it to one of [`STATIONS`].
    pub fn to(&self, station: usize) {
        self.lift();
        self.clip(station);
    }

    /// Waits in the head's own time, which a busy machine may let go by more slowly.
    pub fn wait_us(&self, us: u64) {
        let until_us = self.bench.now_us() + us;
        let gone = Instant::now() + PATIENCE;
        while self.bench.now_us() < until_us && Instant::now() < gone {
            std::thread::sleep(ROUND);
        }
    }

    /// Clips it to one of [`STATIONS`].
    pub fn clip(&self, station: usize) {
        clip(&self.bench, station);
    }

    /// Presses its button shortly.
    pub fn press(&self) {
        self.hold(150_000);
    }

    /// Holds its button.
    pub fn press_long(&self) {
        self.hold(1_300_000);
    }

    /// The finger stays off long enough after it for the next press to be one of its own.
    fn hold(&self, us: u64) {
        self.bench.press_button(true);
        self.wait_us(us);
        self.bench.press_button(false);
        self.wait_us(100_000);
    }

    /// Plugs it in; it starts, unless it kept its power.
    pub fn plug(&self) {
        self.carry_out(Do::Plug(Box::new(self.bench.clone()), false));
    }

    /// Plugs another head in at the same port.
    pub fn plug_another(&self, bench: &Bench) {
        self.carry_out(Do::Plug(Box::new(bench.clone()), true));
    }

    /// Puts another head in the place of this one, while the port stays open as it is.
    pub fn swap(&self, bench: &Bench) {
        self.carry_out(Do::Swap(Box::new(bench.clone())));
    }

    /// Pulls the plug. A head that keeps its power (a hub that hung up) goes on measuring.
    pub fn unplug(&self, keeps_power: bool) {
        self.carry_out(Do::Unplug { keeps_power });
    }

    /// Lets nothing through, though the port stays.
    pub fn stall(&self, stalled: bool) {
        self.carry_out(Do::Stall(stalled));
    }

    /// Damages what the head sends from now on.
    pub fn damage(&self, damage: impl FnMut(&mut Vec<u8>) + Send + 'static) {
        self.carry_out(Do::Damage(Some(Box::new(damage))));
    }

    /// Damages nothing any more.
    pub fn mend(&self) {
        self.carry_out(Do::Damage(None));
    }

    /// Sends these bytes besides.
    pub fn inject(&self, bytes: Vec<u8>) {
        self.carry_out(Do::Inject(bytes));
    }

    fn carry_out(&self, what: Do) {
        let (done, wait) = channel();
        self.todo.send((what, done)).expect("the head's thread is there");
        wait.recv_timeout(Duration::from_secs(10)).expect("the head's thread does as it is told");
    }
}

impl Drop for Plugged {
    fn drop(&mut self) {
        let (ended, _) = channel();
        drop(std::mem::replace(&mut self.todo, ended));
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// A port that no command started meanwhile inherits: one that somebody else still holds is not gone
/// when this test lets go of it.
fn plug() -> Plug {
    let _alone = crate::command::STARTING.lock();
    Plug::new().expect("a port")
}

struct Wire {
    link: PathBuf,
    /// The port's name, which goes first, and the head's end.
    ends: Option<(Link, Plug)>,
    head: Option<VirtualHead>,
    stalled: bool,
    damage: Option<Damage>,
    inject: Vec<u8>,
}

impl Wire {
    fn run(mut self, todo: &Receiver<(Do, Sender<()>)>) {
        let mut clock = Clock::default();
        let mut waiting: Vec<u8> = Vec::new();
        let mut received = [0; 512];
        loop {
            match todo.try_recv() {
                Ok((what, done)) => {
                    self.carry_out(what, &mut waiting, &mut clock);
                    let _ = done.send(());
                }
                Err(std::sync::mpsc::TryRecvError::Empty) => (),
                Err(std::sync::mpsc::TryRecvError::Disconnected) => return,
            }
            let mut length = 0;
            if let Some((_, port)) = &mut self.ends
                && !self.stalled
            {
                length = port.read(&mut received).unwrap_or(0);
            }
            if let Some(head) = &mut self.head {
                let plugged = self.ends.is_some();
                head.set_room(plugged.then(|| BUFFER.saturating_sub(waiting.len())));
                let mut sent = Vec::new();
                head.run_until(clock.wanted_us(head.bench()), &received[..length], &mut |bytes| {
                    sent.extend_from_slice(bytes);
                });
                if let Some(damage) = &mut self.damage {
                    damage(&mut sent);
                }
                waiting.append(&mut sent);
            }
            waiting.append(&mut self.inject);
            if let Some((_, port)) = &mut self.ends
                && !self.stalled
                && !waiting.is_empty()
            {
                let taken = port.write(&waiting).unwrap_or(0);
                waiting.drain(..taken);
            }
            if self.ends.is_none() {
                waiting.clear();
            }
            std::thread::sleep(ROUND);
        }
    }

    fn carry_out(&mut self, what: Do, waiting: &mut Vec<u8>, clock: &mut Clock) {
        match what {
            Do::Plug(bench, another) => {
                if another || self.head.is_none() {
                    *clock = Clock::default();
                    self.head = Some(VirtualHead::started(*bench, start(ResetCause::Power)));
                }
                let plug = plug();
                let named = Link::make(Path::new(plug.name()), &self.link);
                self.ends = Some((named.expect("the port's name"), plug));
                waiting.clear();
            }
            Do::Swap(bench) => {
                *clock = Clock::default();
                self.head = Some(VirtualHead::started(*bench, start(ResetCause::Power)));
                waiting.clear();
            }
            Do::Unplug { keeps_power } => {
                self.ends = None;
                if !keeps_power {
                    self.head = None;
                }
            }
            Do::Stall(stalled) => self.stalled = stalled,
            Do::Damage(damage) => self.damage = damage,
            Do::Inject(bytes) => self.inject.extend(bytes),
        }
    }
}

/// The bench's clock along the wall clock.
#[derive(Default)]
struct Clock(Option<(Instant, u64)>);

impl Clock {
    fn wanted_us(&mut self, bench: &Bench) -> u64 {
        let now_us = bench.now_us();
        let (started, from_us) = self.0.get_or_insert_with(|| (Instant::now(), now_us));
        let mut wanted_us = *from_us + started.elapsed().as_micros() as u64;
        let behind_us = wanted_us.saturating_sub(now_us);
        if behind_us > FURTHEST_BEHIND_US {
            *from_us = from_us.saturating_sub(behind_us - FURTHEST_BEHIND_US);
            wanted_us = now_us + FURTHEST_BEHIND_US;
        }
        wanted_us
    }
}
