//! The thread that owns the record, and the way to it.

use super::entry::{Store, Stored};
use anyhow::anyhow;
use skimgauge_procedure::Entry;
use skimgauge_quantity::Sentence;
use skimgauge_record::event::Sayer;
use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TryRecvError, sync_channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// After so long it is said that something is still being saved.
const SAID_AFTER: Duration = Duration::from_millis(500);
/// What could not be stored and is no take is tried again after so long.
const AGAIN_AFTER: Duration = Duration::from_secs(2);

/// What came of storing.
#[derive(Debug)]
pub enum Done {
    /// Stored for good, at this place.
    Stored(Entry, Option<Stored>),
    /// A take that was not stored, and why.
    NotTaken(Entry, String),
    /// Something else that could not be stored yet, and why: it is tried again. Said once.
    Late(Sentence, String),
    /// This is being saved for a while now. Said once.
    Slow(Sentence),
}

/// What is to be stored, and who said the word that it follows from.
type Order = (Entry, Option<Sayer>);

type Answer = (Order, anyhow::Result<Option<Stored>>);

/// Stores one thing after the other in a thread of its own; at most one is on its way, the others
/// wait here.
pub struct Saver {
    way: Option<SyncSender<Order>>,
    answers: Receiver<Answer>,
    thread: Option<JoinHandle<()>>,
    /// On its way, and since when.
    on_its_way: Option<(Sentence, Duration)>,
    waiting: VecDeque<Order>,
    again_at: Option<Duration>,
    said_slow: bool,
    said_late: bool,
}

impl Saver {
    /// Into this store, which goes into the thread.
    ///
    /// # Errors
    /// This computer gives no thread.
    pub fn new(mut store: Box<dyn Store>) -> std::io::Result<Self> {
        let (way, orders) = sync_channel::<Order>(1);
        let (answer, answers) = sync_channel::<Answer>(1);
        let thread = std::thread::Builder::new().name("record".into()).spawn(move || {
            for order in orders {
                let stored = store.store(&order.0, order.1.as_ref());
                // Whoever asked may be gone; what is stored is stored.
                if answer.send((order, stored)).is_err() {
                    return;
                }
            }
        })?;
        Ok(Self {
            way: Some(way),
            answers,
            thread: Some(thread),
            on_its_way: None,
            waiting: VecDeque::new(),
            again_at: None,
            said_slow: false,
            said_late: false,
        })
    }

    /// Stores this after everything before it. `by` said the word that it follows from.
    pub fn put(&mut self, now: Duration, entry: Entry, by: Option<Sayer>) {
        self.waiting.push_back((entry, by));
        self.send(now);
    }

    /// What is being stored, or waits for it.
    pub fn storing(&self) -> Option<Sentence> {
        let waits = || self.waiting.front().map(|(entry, _)| entry.what());
        self.on_its_way.as_ref().map(|(what, _)| what.clone()).or_else(waits)
    }

    /// Whether something is on its way just now.
    pub fn is_busy(&self) -> bool {
        self.on_its_way.is_some()
    }

    /// What came of it since the last look.
    pub fn look(&mut self, now: Duration) -> Vec<Done> {
        let mut done = Vec::new();
        loop {
            match self.answers.try_recv() {
                Ok(answer) => done.extend(self.answered(now, answer)),
                Err(TryRecvError::Empty) => break,
                Err(TryRecvError::Disconnected) => {
                    done.extend(self.stopped());
                    break;
                }
            }
        }
        self.send(now);
        if let Some((what, since)) = &self.on_its_way
            && !self.said_slow
            && now.saturating_sub(*since) >= SAID_AFTER
        {
            self.said_slow = true;
            done.push(Done::Slow(what.clone()));
        }
        done
    }

    /// Waits until all is stored, however long it takes, or cannot be; what is no take is tried
    /// once more.
    pub fn wait(&mut self, now: Duration) -> Vec<Done> {
        let mut done = Vec::new();
        self.again_at = None;
        self.send(now);
        while self.on_its_way.is_some() {
            match self.answers.recv_timeout(Duration::from_secs(60)) {
                Ok(answer) => done.extend(self.answered(now, answer)),
                Err(RecvTimeoutError::Timeout) => continue,
                Err(RecvTimeoutError::Disconnected) => done.extend(self.stopped()),
            }
            self.send(now);
        }
        done
    }

    /// What was given up in the end, by name.
    pub fn left(&self) -> Vec<Sentence> {
        self.waiting.iter().map(|(entry, _)| entry.what()).collect()
    }

    fn send(&mut self, now: Duration) {
        if self.on_its_way.is_some() || self.again_at.is_some_and(|at| now < at) {
            return;
        }
        let (Some(way), Some(order)) = (&self.way, self.waiting.pop_front()) else { return };
        let what = order.0.what();
        match way.try_send(order) {
            Ok(()) => {
                self.on_its_way = Some((what, now));
                self.said_slow = false;
            }
            // Nothing else is on its way, so only a thread that has ended takes nothing.
            Err(
                std::sync::mpsc::TrySendError::Full(order)
                | std::sync::mpsc::TrySendError::Disconnected(order),
            ) => {
                self.waiting.push_front(order);
                self.way = None;
            }
        }
    }

    fn answered(&mut self, now: Duration, ((entry, by), stored): Answer) -> Option<Done> {
        self.on_its_way = None;
        self.again_at = None;
        match stored {
            Ok(event) => {
                self.said_late = false;
                Some(Done::Stored(entry, event))
            }
            Err(why) if entry.is_take() => Some(Done::NotTaken(entry, format!("{why:#}"))),
            Err(why) => {
                let what = entry.what();
                self.waiting.push_front((entry, by));
                self.again_at = Some(now + AGAIN_AFTER);
                let first = !std::mem::replace(&mut self.said_late, true);
                first.then(|| Done::Late(what, format!("{why:#}")))
            }
        }
    }

    /// The thread has ended by itself: a fault of this program's.
    fn stopped(&mut self) -> Option<Done> {
        self.way = None;
        let (what, _) = self.on_its_way.take()?;
        Some(Done::Late(
            what,
            anyhow!("the part of this program that writes the record has stopped").to_string(),
        ))
    }
}

impl Drop for Saver {
    /// Nothing that is on its way is cut off.
    fn drop(&mut self) {
        self.way = None;
        if let Some(thread) = self.thread.take() {
            while self.answers.recv().is_ok() {}
            let _ = thread.join();
        }
    }
}
