//! The room with its head, at a port or within this program.

use crate::head::clock::Clock;
use crate::head::pipe::{HeadEnd, pipe};
use crate::head::stream::{Connector, SerialLine};
use anyhow::Context;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::virtual_head::VirtualHead;
use skimgauge_bench::zeroed;
use skimgauge_shared::calibration::Date;
use skimgauge_system::port::Plug;
use std::io::{Read, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// The head's thread comes round this often.
const ROUND: Duration = Duration::from_millis(2);
/// Bytes that a real head's USB buffers hold while the host is slow.
const BUFFER: usize = 4_096;
/// A simulation that has fallen behind by more lets the time go.
const FURTHEST_BEHIND_US: u64 = 100_000;

/// The simulation runs so far ahead of whoever looks.
const LOOKED_AHEAD_US: u64 = 120_000;

/// A simulated room with its head.
pub struct Stage {
    bench: Bench,
    port: String,
    clock: Clock,
    connector: Option<Box<dyn Connector>>,
    /// Plugged in for as long as the stage stands.
    _head: Box<dyn std::any::Any>,
}

/// How far the simulation may run: a little further than somebody has looked.
#[derive(Clone)]
pub struct Pace {
    bench: Bench,
    looked_us: Arc<AtomicU64>,
}

impl Pace {
    fn new(bench: Bench) -> Self {
        let looked_us = Arc::new(AtomicU64::new(bench.now_us()));
        Self { bench, looked_us }
    }

    /// Somebody has seen how things stand now.
    pub fn looked(&self) {
        self.looked_us.store(self.bench.now_us(), Ordering::Relaxed);
    }

    fn until_us(&self) -> u64 {
        self.looked_us.load(Ordering::Relaxed) + LOOKED_AHEAD_US
    }
}

/// The core's logic on the bench's parts, in a thread.
struct Running {
    over: Arc<AtomicBool>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Stage {
    /// This room, its head zeroed, warm, and plugged in at a port of this computer, for other
    /// programs.
    ///
    /// # Errors
    /// This computer gives no port.
    pub fn new(bench: Bench, today: Date) -> anyhow::Result<Self> {
        let head = head(bench, today)?;
        let plug = Plug::new().context("This computer gives no port for the simulated head.")?;
        let port = plug.name().to_owned();
        let connector = Box::new(SerialLine(port.clone()));
        Self::standing(head, port, connector, plug, None)
    }

    /// The same room; its head is wired to this program alone, which takes no port.
    ///
    /// # Errors
    /// This computer gives no thread.
    pub fn within(bench: Bench, today: Date) -> anyhow::Result<Self> {
        let head = head(bench, today)?;
        let port = "the simulated head".to_owned();
        let (host_end, head_end): (_, HeadEnd) = pipe(&port);
        Self::standing(head, port, Box::new(host_end), head_end, None)
    }

    /// The same, its time going by as fast as whoever works there looks at it: the stage's clock is
    /// the simulation's, and the simulation waits for [`Pace::looked`].
    ///
    /// # Errors
    /// This computer gives no thread.
    pub fn within_at_pace(bench: Bench, today: Date) -> anyhow::Result<(Self, Pace)> {
        let head = head(bench, today)?;
        let pace = Pace::new(head.bench().clone());
        let port = "the simulated head".to_owned();
        let (host_end, head_end): (_, HeadEnd) = pipe(&port);
        let its_time = head.bench().clone();
        let followed = Some(pace.clone());
        let mut stage = Self::standing(head, port, Box::new(host_end), head_end, followed)?;
        stage.clock = Clock::of(move || its_time.now_us());
        Ok((stage, pace))
    }

    fn standing(
        head: VirtualHead,
        port: String,
        connector: Box<dyn Connector>,
        plug: impl Read + Write + Send + 'static,
        pace: Option<Pace>,
    ) -> anyhow::Result<Self> {
        let bench = head.bench().clone();
        let over = Arc::new(AtomicBool::new(false));
        let stop = Arc::clone(&over);
        let thread = std::thread::Builder::new()
            .name("head".into())
            .spawn(move || live(head, plug, &stop, pace))?;
        let running = Running { over, thread: Some(thread) };
        let (clock, connector) = (Clock::real(), Some(connector));
        Ok(Self { bench, port, clock, connector, _head: Box::new(running) })
    }

    /// The same room; its head is the very image that is flashed, on an emulated chip. The emulated
    /// chip may be slower than a real one, so the stage's clock is the chip's.
    ///
    /// # Errors
    /// What the emulated head needs and is not there, or it does not take its constants.
    #[cfg(feature = "emulated")]
    pub fn emulated(bench: Bench, today: Date) -> anyhow::Result<Self> {
        let zeroed = zeroed::of(&bench, today, "demo");
        let terminal = super::emulated::plugged(&bench, zeroed)?;
        bench.scene(|scene| scene.head.warm_up_s = 1.0);
        let (port, its_time) = (terminal.name().to_owned(), bench.clone());
        let clock = Clock::of(move || its_time.now_us());
        let connector: Option<Box<dyn Connector>> = Some(Box::new(SerialLine(port.clone())));
        Ok(Self { bench, port, clock, connector, _head: Box::new(terminal) })
    }

    /// What a link connects by; once.
    pub fn connector(&mut self) -> Option<Box<dyn Connector>> {
        self.connector.take()
    }

    /// The time that goes by on the stage.
    pub fn clock(&self) -> Clock {
        self.clock.clone()
    }

    /// Where the head is plugged in.
    pub fn port(&self) -> &str {
        &self.port
    }

    /// The room.
    pub fn bench(&self) -> &Bench {
        &self.bench
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// The head of this room, zeroed and warm.
fn head(bench: Bench, today: Date) -> anyhow::Result<VirtualHead> {
    let mut head = VirtualHead::new(bench);
    let bench = head.bench().clone();
    let zeroed = zeroed::of(&bench, today, "demo");
    anyhow::ensure!(
        zeroed::write(&mut head, &zeroed),
        "The simulated head does not take its calibration."
    );
    // Long on, as an installer's head would be by now.
    bench.scene(|scene| scene.head.warm_up_s = 1.0);
    Ok(head)
}

/// Runs the head against the wall clock, or at the pace of whoever looks on, until it is over.
fn live(mut head: VirtualHead, mut port: impl Read + Write, over: &AtomicBool, pace: Option<Pace>) {
    let bench = head.bench().clone();
    let mut ahead_us = bench.now_us();
    let started = Instant::now();
    let mut waiting: Vec<u8> = Vec::new();
    let mut received = [0; 512];
    while !over.load(Ordering::Relaxed) {
        let mut wanted_us = match &pace {
            Some(pace) => pace.until_us().max(bench.now_us()),
            None => started.elapsed().as_micros() as u64 + ahead_us,
        };
        let behind_us = wanted_us.saturating_sub(bench.now_us());
        if behind_us > FURTHEST_BEHIND_US && pace.is_none() {
            ahead_us -= (behind_us - FURTHEST_BEHIND_US).min(ahead_us);
            wanted_us = bench.now_us() + FURTHEST_BEHIND_US;
        }
        let length = port.read(&mut received).unwrap_or(0);
        head.set_room(Some(BUFFER.saturating_sub(waiting.len())));
        head.run_until(wanted_us, &received[..length], &mut |sent| waiting.extend_from_slice(sent));
        if !waiting.is_empty() {
            // A full port takes part of it, or nothing; the rest waits.
            let taken = port.write(&waiting).unwrap_or(0);
            waiting.drain(..taken);
        }
        std::thread::sleep(ROUND);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::link::Link;
    use crate::practice::planned;
    use skimgauge_jobfile::Job;
    use skimgauge_session::{Event, Told};

    /// Where the system gives no port (none is asked for here), the practice works all the same.
    #[test]
    fn a_head_within_this_program_is_greeted_and_read_like_any() {
        let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
        let today = Date { year: 2026, month: 1, day: 1 };
        let mut stage = Stage::within(planned::bench(&job, None, 11), today).unwrap();
        let link = Link::over(stage.clock(), stage.connector().unwrap(), None, None).unwrap();
        let mut up = false;
        let mut readings = 0;
        // However slow this computer is: what does not come is waited for.
        while readings < 5 {
            match link.next(Duration::from_millis(50)) {
                Some(Told::Head(Event::Up(_))) => up = true,
                Some(Told::Head(Event::Reading(_))) => readings += 1,
                Some(Told::Lost(trouble)) => panic!("{trouble}"),
                _ => (),
            }
        }
        assert!(up);
        // The head goes: so does the link.
        drop(stage);
        while !matches!(link.next(Duration::from_millis(50)), Some(Told::Lost(_))) {}
    }
}
