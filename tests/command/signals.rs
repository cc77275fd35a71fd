//! What ends a command from outside, or goes wrong inside it: what was taken is kept, the terminal
//! is as it was, the exit status says which.

use crate::{EXE, WIDE, job, place};
use rustix::process::Signal;
use skimgauge_tests::command::{Place, takes};
use skimgauge_tests::plugged::Plugged;
use skimgauge_tests::terminal::Terminal;
use std::process::Command;
use std::time::{Duration, Instant};

/// Each with the exit status that shells have for it: 128 and the signal's number (POSIX.1-2024,
/// XCU 2.8.2, and <signal.h>).
const SIGNALS: [(Signal, i32); 4] =
    [(Signal::TERM, 143), (Signal::HUP, 129), (Signal::INT, 130), (Signal::QUIT, 131)];

/// A signal that this run was started with ignored (`nohup`, a background job) stays so, and cannot
/// be tried.
fn is_tried(signal: Signal) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let ignored = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let ignored = ignored.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).unwrap_or(0);
    let is_ignored = ignored >> (signal.as_raw() - 1) & 1 == 1;
    if is_ignored {
        eprintln!("SKIPPED: {signal:?}; these tests were started with it ignored");
    }
    !is_ignored
}

fn tried() -> impl Iterator<Item = (Signal, i32)> {
    SIGNALS.into_iter().filter(|(signal, _)| is_tried(*signal))
}

fn watch(place: &Place, port: &str) -> Command {
    let mut command = place.command();
    command.args(["watch", "--job", "job.toml", "--record", "record.sqlite", "--head", port]);
    command
}

#[test]
fn a_watch_ended_by_a_signal_keeps_its_takes_and_gives_the_terminal_back() {
    for (at, (signal, status)) in tried().enumerate() {
        let (place, head) = (place(), Plugged::new(120 + at as u64));
        let terminal = Terminal::new(true);
        let running = terminal.start(watch(&place, head.port()), false);
        terminal.await_raw();
        // Space until the first take stands: before the gap has settled it is refused.
        let started = Instant::now();
        while !place.record().exists() || takes(&place.record()).is_empty() {
            assert!(
                started.elapsed() < Duration::from_secs(30),
                "no take is kept: {:?}",
                terminal.seen()
            );
            terminal.type_in(" ");
            std::thread::sleep(Duration::from_millis(900));
        }
        running.signal(signal);
        assert_eq!(running.ended(), Some(status), "{signal:?}: {:?}", terminal.seen());
        terminal.is_as_before();
        let said = terminal.after_the_screen();
        assert!(said.contains("kept in record.sqlite"), "{signal:?}: {said:?}");
        let verified = place.run(["jobs", "verify", "--record", "record.sqlite"]);
        assert_eq!(verified.status.code(), Some(0), "{verified:?}");
    }
}

#[test]
fn a_key_gives_the_terminal_back_as_well() {
    let (place, head) = (place(), Plugged::new(125));
    let terminal = Terminal::new(true);
    let running = terminal.start(watch(&place, head.port()), false);
    terminal.await_raw();
    terminal.type_in("q");
    assert_eq!(running.ended(), Some(0), "nothing was taken: somebody only looked");
    terminal.is_as_before();
}

/// The kernel sends SIGHUP to whoever owns a terminal that hangs up; what that writes on it
/// afterwards is an error.
#[test]
fn a_terminal_that_hangs_up_ends_the_watch_with_its_takes_kept() {
    if !is_tried(Signal::HUP) {
        return;
    }
    let (place, head) = (place(), Plugged::new(126));
    let mut terminal = Terminal::new(false);
    let mut command = watch(&place, head.port());
    command.arg("--plain");
    let running = terminal.start(command, true);
    let started = Instant::now();
    while !place.record().exists() || takes(&place.record()).is_empty() {
        assert!(started.elapsed() < Duration::from_secs(30), "no take is kept");
        terminal.type_in("take\n");
        std::thread::sleep(Duration::from_millis(900));
    }
    terminal.hang_up();
    assert_eq!(running.ended(), Some(129));
    assert_eq!(place.run(["jobs", "verify", "--record", "record.sqlite"]).status.code(), Some(0));
}

#[test]
fn lines_end_with_their_end_and_the_signals_status() {
    for (signal, status) in tried() {
        let (place, head) = (place(), Plugged::new(127));
        let mut watch = place.watch(head.port(), &["--json"]);
        watch.settled("top left");
        watch.say("take");
        let take = watch.take();
        rustix::process::kill_process(rustix::process::Pid::from_child(watch.child()), signal)
            .unwrap();
        let ending = watch.ending();
        assert_eq!(ending.status, Some(status), "{signal:?}: {}", ending.err);
        assert_eq!(ending.json("end").len(), 1, "{signal:?}");
        assert!(
            place
                .takes()
                .iter()
                .any(|(_, _, _, seq)| u64::from(*seq) == take["event"].as_u64().unwrap())
        );
    }
}

/// SQLite's lock on a file that is to be written: an exclusive lock on the byte at 40000001h
/// (SQLite file locking, "RESERVED"; os.h). Held as another program that writes would hold it.
struct Locked(std::fs::File);

impl Locked {
    fn new(record: &std::path::Path) -> Self {
        let file = std::fs::OpenOptions::new().read(true).write(true).open(record).unwrap();
        let locked = Self(file);
        locked.set(nix::libc::F_WRLCK);
        locked
    }

    fn set(&self, kind: i32) {
        let lock = nix::libc::flock {
            l_type: kind as i16,
            l_whence: 0,
            l_start: 0x4000_0001,
            l_len: 1,
            l_pid: 0,
        };
        nix::fcntl::fcntl(
            std::os::fd::AsRawFd::as_raw_fd(&self.0),
            nix::fcntl::FcntlArg::F_SETLK(&lock),
        )
        .unwrap();
    }
}

impl Drop for Locked {
    fn drop(&mut self) {
        self.set(nix::libc::F_UNLCK);
    }
}

#[test]
fn a_take_that_is_being_saved_is_saved_before_the_end() {
    if !is_tried(Signal::TERM) {
        return;
    }
    let (place, head) = (place(), Plugged::new(128));
    let mut watch = place.watch(head.port(), &["--json"]);
    watch.settled("top left");
    watch.say("take");
    watch.take();
    let before = place.takes().len();
    watch.settled("top right");
    watch.refused("is it at top right?", |watch| watch.say("take"));
    watch.breathe();
    let locked = Locked::new(&place.record());
    watch.say("yes");
    // Long enough for the take to be at the lock, and less than a locked record is waited for.
    std::thread::sleep(Duration::from_secs(3));
    // A terminal that is closed sends several in one go: that is no impatience.
    let process = rustix::process::Pid::from_child(watch.child());
    for signal in [Signal::TERM, Signal::HUP, Signal::TERM] {
        rustix::process::kill_process(process, signal).unwrap();
        std::thread::sleep(Duration::from_millis(30));
    }
    std::thread::sleep(Duration::from_millis(300));
    drop(locked);
    let ending = watch.ending();
    assert_eq!(ending.status, Some(143), "{}", ending.err);
    assert_eq!(place.takes().len(), before + 1, "the take at the lock is lost");
    assert_eq!(ending.json("take").len(), 2, "and it was told");
}

#[test]
fn every_screen_is_given_back() {
    if !is_tried(Signal::TERM) {
        return;
    }
    let head = Plugged::new(129);
    for words in [
        vec!["trim", "--job", "job.toml", "--record", "record.sqlite", "--head", head.port()],
        vec![
            "survey",
            "--job",
            "job.toml",
            "--no-record",
            "--points",
            "points.csv",
            "--head",
            head.port(),
        ],
        vec!["demo", "--record", "demo.sqlite"],
        vec!["demo", "--hands", "--record", "hands.sqlite"],
    ] {
        let place = place();
        let terminal = Terminal::new(true);
        let mut command = place.command();
        command.args(&words);
        let running = terminal.start(command, false);
        terminal.await_raw();
        running.signal(Signal::TERM);
        assert_eq!(running.ended(), Some(143), "{words:?}: {:?}", terminal.seen());
        terminal.is_as_before();
    }
}

/// A zeroing gives the screen back, and what it read so far is put aside.
#[test]
fn a_zeroing_is_put_aside() {
    for (signal, status) in tried() {
        let (place, head) = (place(), Plugged::new(130));
        let terminal = Terminal::new(true);
        let mut command = place.command();
        command.args(["zero", "--head", head.port(), "--record", "record.sqlite"]);
        let running = terminal.start(command, false);
        terminal.await_raw();
        running.signal(signal);
        assert_eq!(running.ended(), Some(status), "{signal:?}: {:?}", terminal.seen());
        terminal.is_as_before();
        terminal.await_text("Nothing was written to the head.");
    }
}

#[test]
fn the_simulated_heads_name_goes_with_it() {
    for (signal, status) in tried() {
        let place = Place::new(EXE, &job(WIDE));
        let terminal = Terminal::new(true);
        let start = |name: &str| {
            let mut command = place.command();
            command.args(["demo", "--head-at", name]);
            terminal.start(command, false)
        };
        let running = start("head");
        terminal.await_text("A simulated head is at head.");
        // A watch on that head, ended in the same way.
        let screen = Terminal::new(true);
        let watch = screen.start(watch(&place, "head"), false);
        screen.await_raw();
        watch.signal(signal);
        assert_eq!(watch.ended(), Some(status), "{:?}", screen.seen());
        screen.is_as_before();
        running.signal(signal);
        assert_eq!(running.ended(), Some(status));
        assert!(!place.path("head").is_symlink(), "{signal:?} left the link");
    }
}

#[test]
fn a_name_that_is_somebodys_is_not_taken_for_the_simulated_head() {
    let place = place();
    std::os::unix::fs::symlink("/nowhere", place.path("link")).unwrap();
    std::fs::write(place.path("file"), "mine").unwrap();
    for name in ["link", "file"] {
        let text = crate::said(&place.run(["demo", "--head-at", name, "--seconds", "1"]));
        assert!(
            text.starts_with(&format!("{name} is there already and was left as it is.")),
            "{text}"
        );
    }
    assert_eq!(std::fs::read_link(place.path("link")).unwrap(), std::path::Path::new("/nowhere"));
    assert_eq!(std::fs::read(place.path("file")).unwrap(), b"mine");
}

fn on_a_screen(end: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_on-a-screen"));
    command.arg(end);
    command
}

#[test]
fn a_panic_gives_the_terminal_back_before_it_is_told() {
    for (end, status) in [("panic", 101), ("panic-elsewhere", 2)] {
        let terminal = Terminal::new(true);
        let running = terminal.start(on_a_screen(end), false);
        assert_eq!(running.ended(), Some(status), "{end}: {:?}", terminal.seen());
        terminal.is_as_before();
        let said = terminal.after_the_screen();
        assert!(said.contains("the floor gave way"), "{end}: {said:?}");
        // Where another thread panicked, the work ends in its usual way first.
        assert_eq!(terminal.seen().contains("kept"), end == "panic-elsewhere");
    }
}

#[test]
fn what_does_not_look_for_the_end_is_ended_and_the_terminal_given_back() {
    for end in ["stuck", "stuck-drawing"] {
        for (signal, status) in tried() {
            let terminal = Terminal::new(true);
            let running = terminal.start(on_a_screen(end), false);
            terminal.await_text("up");
            running.signal(signal);
            assert_eq!(running.ended(), Some(status), "{end}, {signal:?}: {:?}", terminal.seen());
            terminal.is_as_before();
        }
    }
}

#[test]
fn a_terminal_that_takes_nothing_more_is_not_waited_for() {
    if !is_tried(Signal::TERM) {
        return;
    }
    let terminal = Terminal::new(false);
    let running = terminal.start(on_a_screen("flooding"), false);
    terminal.await_raw();
    running.signal(Signal::TERM);
    assert_eq!(running.ended(), Some(143));
    terminal.has_its_settings();
}
