//! The real `skimgauge` command, at the port of the very image that is flashed.
#![cfg(unix)]

mod common;

use common::{SECOND, Session};
use serde_json::Value;
use skimgauge_bench::{Bench, Fault, zeroed};
use skimgauge_emulated::terminal::Terminal;
use skimgauge_emulated::{EmulatedHead, Restart};
use skimgauge_shared::calibration::Date;
use skimgauge_shared::message::{Report, Request, SerialNumber};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// The command beside this test; `SKIMGAUGE` for another.
fn skimgauge() -> Command {
    let path = std::env::var_os("SKIMGAUGE")
        .map_or_else(|| std::env::current_exe().unwrap().parent().unwrap().with_file_name("skimgauge"), PathBuf::from);
    assert!(path.is_file(), "there is no command at {}: run `cargo build` first", path.display());
    Command::new(path)
}

/// A folder of its own, gone at the end.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("skimgauge-emulated-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn path(&self, name: &str) -> PathBuf {
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

/// A head at a port, and nobody beside it.
struct Plugged {
    terminal: Terminal,
    _alone: MutexGuard<'static, ()>,
}

impl std::ops::Deref for Plugged {
    type Target = Terminal;

    fn deref(&self) -> &Terminal {
        &self.terminal
    }
}

/// A zeroed head, warm, its slide in the light, at a port.
fn terminal(seed: u64) -> Plugged {
    let alone = ALONE.lock().unwrap_or_else(PoisonError::into_inner);
    let bench = Bench::new(seed);
    let mut session = Session::start(bench.clone());
    let constants =
        bench.scene(|scene| zeroed::calibration(&scene.head, Date { year: 2026, month: 5, day: 4 }, "bench"));
    let check = session.stage(&constants);
    session.ask(&Request::CommitCalibration { check }, |report| match report {
        Report::Calibration(_) => Some(()),
        Report::Refused { .. } => panic!("{report:?}"),
        _ => None,
    });
    bench.scene(|scene| {
        scene.head.warm_up_s = 1.0;
        scene.roll_to_light(0.02);
    });
    session.head.open_port(false).unwrap();
    session.run(SECOND);
    Plugged { terminal: Terminal::new(session.head).unwrap(), _alone: alone }
}

/// `watch --json`, its lines as they come.
struct Watch {
    child: Child,
    lines: Receiver<Value>,
    typed: ChildStdin,
}

impl Watch {
    fn start(terminal: &Terminal, folder: &Folder) -> Self {
        let job = folder.path("job.toml");
        if !job.exists() {
            let made = skimgauge().args(["jobs", "new"]).arg(&job).output().unwrap();
            assert!(made.status.success(), "{made:?}");
        }
        let mut child = skimgauge()
            .args(["watch", "--json", "--head", terminal.name(), "--job"])
            .arg(&job)
            .arg("--record")
            .arg(folder.path("record.sqlite"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let (tell, lines) = channel();
        let out = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || {
            for line in out.lines().map_while(Result::ok) {
                if tell.send(serde_json::from_str(&line).unwrap_or(Value::String(line))).is_err() {
                    return;
                }
            }
        });
        let typed = child.stdin.take().unwrap();
        Self { child, lines, typed }
    }

    /// The next line that satisfies, and how long it took to come; at most ten seconds.
    fn until(&self, what: &str, wanted: impl Fn(&Value) -> bool) -> (Value, Duration) {
        let started = Instant::now();
        let mut last = Value::Null;
        while started.elapsed() < Duration::from_secs(10) {
            if let Ok(line) = self.lines.recv_timeout(Duration::from_millis(100)) {
                if wanted(&line) {
                    return (line, started.elapsed());
                }
                last = line;
            }
        }
        panic!("{what}: not within ten seconds; last line {last}");
    }

    fn live(&self, what: &str, wanted: impl Fn(&Value) -> bool) -> (Value, Duration) {
        self.until(what, |line| line["kind"] == "live" && wanted(line))
    }

    fn type_line(&mut self, line: &str) {
        writeln!(self.typed, "{line}").unwrap();
    }

    fn quit(mut self) -> Value {
        self.type_line("quit");
        let (end, _) = self.until("the end", |line| line["kind"] == "end");
        self.child.wait().unwrap();
        end
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn good(line: &Value) -> bool {
    line["gap_mm"]["is"] == "good" && line["level_deg"]["is"] == "good"
}

fn number_of(terminal: &Terminal) -> String {
    SerialNumber(common::serial(terminal.bench())).to_string()
}

#[test]
fn ports_tells_the_head_its_firmware_and_its_calibration() {
    let terminal = terminal(31);
    let output = skimgauge().args(["ports", "--json", terminal.name()]).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    let rows: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(rows[0]["is_head"], true);
    assert_eq!(rows[0]["serial"], number_of(&terminal));
    assert_eq!(rows[0]["firmware"], "0.1.0");
    assert_eq!(rows[0]["calibration"], "good");
    assert_eq!(rows[0]["calibration_date"], "2026-05-04");
}

#[test]
fn watch_shows_the_gap_takes_it_and_keeps_it() {
    let terminal = terminal(32);
    let folder = Folder::new("take");
    let mut watch = Watch::start(&terminal, &folder);
    let (line, _) = watch.live("a good gap", |line| good(line) && line["can_take"] == true);
    assert_eq!(line["head"], number_of(&terminal));
    let truth_mm = terminal.bench().truth().gap_mm.unwrap();
    let gap_mm = line["gap_mm"]["value"].as_f64().unwrap();
    assert!((gap_mm - truth_mm).abs() < 0.15, "{gap_mm} mm shown, {truth_mm} mm true");
    watch.type_line("take");
    let (take, _) = watch.until("the take", |line| line["kind"] == "take");
    assert!((take["gap_mm"].as_f64().unwrap() - truth_mm).abs() < 0.15, "{take}");
    assert!(take["event"].is_number(), "the take is not in the record: {take}");

    // The head's own button takes the next station.
    terminal.bench().press_button(true);
    std::thread::sleep(Duration::from_millis(200));
    terminal.bench().press_button(false);
    watch.until("the button's take", |line| line["kind"] == "take" && line["station"] != take["station"]);

    let end = watch.quit();
    // Readings that come between greeting and calibration are nobody's yet and are counted as lost; from then on none is.
    assert_eq!((&end["lost"], &end["skipped_bytes"]), (&line["lost"], &0.into()), "{end}");
    let shown = skimgauge().args(["jobs", "list", "--record"]).arg(folder.path("record.sqlite")).output().unwrap();
    assert!(shown.status.success() && !shown.stdout.is_empty(), "{shown:?}");
}

#[test]
fn faults_show_within_a_third_of_a_second_and_go_again() {
    let terminal = terminal(33);
    let folder = Folder::new("faults");
    let watch = Watch::start(&terminal, &folder);
    for fault in [Fault::ConverterSilent, Fault::BusStuck, Fault::InclinometerFrames] {
        let of_tilt = fault == Fault::InclinometerFrames;
        watch.live("all good", good);
        terminal.bench().set_fault(fault, true);
        let bad =
            |line: &Value| if of_tilt { line["level_deg"]["is"] != "good" } else { line["gap_mm"]["is"] != "good" };
        let (line, took) = watch.live(fault.name(), bad);
        // Ten lines a second: one of them may just have gone out.
        assert!(took <= Duration::from_millis(400), "{}: {took:?}", fault.name());
        assert_eq!(line["can_take"], false, "{}: {line}", fault.name());
        terminal.bench().set_fault(fault, false);
    }
    watch.live("all good", good);
    watch.quit();
}

#[test]
fn a_head_that_restarts_is_found_again_and_the_loss_is_counted() {
    let terminal = terminal(34);
    let folder = Folder::new("restart");
    let watch = Watch::start(&terminal, &folder);
    watch.live("all good", good);
    for how in ["hang", "power", "line"] {
        let restarted = terminal.with_head(move |head: &mut EmulatedHead| match how {
            "hang" => head.hang(),
            "power" => head.restart(Restart::Power),
            _ => head.restart(Restart::Line),
        });
        restarted.unwrap().unwrap();
        watch.live("bad after a restart", |line| !good(line));
        watch.live("good again", good);
    }
    let end = watch.quit();
    assert!(end["received"].as_u64().unwrap() > 10, "{end}");
    // Three restarts of about half a second: what was lost is near what was not made.
    assert!(end["lost"].as_u64().unwrap() < 300, "{end}");
}

#[test]
fn the_port_opens_and_closes_like_a_port() {
    let terminal = terminal(35);
    assert!(Path::new(terminal.name()).exists());
    for _ in 0..3 {
        let output = skimgauge().args(["ports", terminal.name()]).output().unwrap();
        assert!(output.status.success(), "{output:?}");
        assert!(String::from_utf8_lossy(&output.stdout).contains(&number_of(&terminal)));
    }
}
