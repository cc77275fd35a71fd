//! The real `skimgauge` command, at the port of the very image that is flashed.
#![cfg(unix)]

use serde_json::Value;
use skimgauge_bench::Fault;
use skimgauge_emulated_tests::{Folder, alone, plugged, serial, skimgauge};
use skimgauge_emulator::terminal::Terminal;
use skimgauge_emulator::{EmulatedHead, Restart, place};
use skimgauge_shared::message::SerialNumber;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// What a job file cannot leave open.
const KNOWN: [&str; 8] = [
    "--name",
    "reading room",
    "--client",
    "Larch Lane Library",
    "--place",
    "north wall",
    "--by",
    "R. Oakes",
];

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
            let made = skimgauge().args(["jobs", "new"]).arg(&job).args(KNOWN).output().unwrap();
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

    /// The next line that satisfies. The limit only ends a test that would hang: the emulated head
    /// may be far slower than the clock.
    fn until(&self, what: &str, wanted: impl Fn(&Value) -> bool) -> Value {
        let started = Instant::now();
        let mut last = Value::Null;
        while started.elapsed() < Duration::from_secs(120) {
            if let Ok(line) = self.lines.recv_timeout(Duration::from_millis(100)) {
                if wanted(&line) {
                    return line;
                }
                last = line;
            }
        }
        panic!("{what}: not within two minutes; last line {last}");
    }

    fn live(&self, what: &str, wanted: impl Fn(&Value) -> bool) -> Value {
        self.until(what, |line| line["kind"] == "live" && wanted(line))
    }

    /// Presses the head's button until the program asks whether the head is where it should be, and
    /// says yes, until there is a take. On a slow machine readings come late, and then a question
    /// is taken back: a person presses again.
    fn press_and_say_yes(&mut self, terminal: &Terminal) -> Value {
        for _ in 0..20 {
            terminal.bench().press_button(true);
            // A press shorter than a bounce is none, in the head's time.
            std::thread::sleep(Duration::from_millis(600));
            terminal.bench().press_button(false);
            let (mut said, mut lines) = (false, 0);
            while lines < 50 {
                let line = self.until("a line", |_| true);
                if line["kind"] == "take" {
                    return line;
                }
                lines += 1;
                if line["asks"].is_string() && !said {
                    self.type_line("yes");
                    said = true;
                }
            }
        }
        panic!("twenty presses, and no take");
    }

    fn type_line(&mut self, line: &str) {
        writeln!(self.typed, "{line}").unwrap();
    }

    fn quit(mut self) -> Value {
        self.type_line("quit");
        let end = self.until("the end", |line| line["kind"] == "end");
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
    SerialNumber(serial(terminal.bench())).to_string()
}

#[test]
fn ports_tells_the_head_its_firmware_and_its_calibration() {
    let terminal = plugged(31);
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
    let terminal = plugged(32);
    let folder = Folder::new("take");
    let mut watch = Watch::start(&terminal, &folder);
    let line = watch.live("a good gap", |line| good(line) && line["can_take"] == true);
    assert_eq!(line["head"], number_of(&terminal));
    let truth_mm = terminal.bench().truth().gap_mm.unwrap();
    let gap_mm = line["gap_mm"]["value"].as_f64().unwrap();
    assert!((gap_mm - truth_mm).abs() < 0.15, "{gap_mm} mm shown, {truth_mm} mm true");
    watch.type_line("take");
    let take = watch.until("the take", |line| line["kind"] == "take");
    assert!((take["gap_mm"].as_f64().unwrap() - truth_mm).abs() < 0.15, "{take}");
    assert!(take["event"].is_number(), "the take is not in the record: {take}");

    // The head's own button asks for the next station; it has not come there, and a word says that
    // it has.
    let second = watch.press_and_say_yes(&terminal);
    assert_ne!(second["station"], take["station"]);
    assert_eq!(second["came"]["how"], "said", "{second}");

    let end = watch.quit();
    assert_eq!((&end["lost"], &end["skipped_bytes"]), (&0.into(), &0.into()), "{end}");
    let shown = skimgauge()
        .args(["jobs", "list", "--record"])
        .arg(folder.path("record.sqlite"))
        .output()
        .unwrap();
    assert!(shown.status.success() && !shown.stdout.is_empty(), "{shown:?}");
}

#[test]
fn faults_show_within_thirty_six_readings_and_go_again() {
    let terminal = plugged(33);
    let folder = Folder::new("faults");
    let watch = Watch::start(&terminal, &folder);
    for fault in [Fault::ConverterSilent, Fault::BusStuck, Fault::InclinometerFrames] {
        let of_tilt = fault == Fault::InclinometerFrames;
        let before = watch.live("all good", good);
        terminal.bench().set_fault(fault, true);
        let bad = |line: &Value| {
            if of_tilt { line["level_deg"]["is"] != "good" } else { line["gap_mm"]["is"] != "good" }
        };
        let line = watch.live(fault.name(), bad);
        // Four tenths of a second in the head's own time; ten lines a second, and one of them may
        // just have gone out.
        let readings = |line: &Value| line["received"].as_u64().unwrap();
        let waited = readings(&line) - readings(&before);
        assert!(waited <= 36, "{}: {waited} readings", fault.name());
        assert_eq!(line["can_take"], false, "{}: {line}", fault.name());
        terminal.bench().set_fault(fault, false);
    }
    watch.live("all good", good);
    watch.quit();
}

#[test]
fn a_head_that_restarts_is_found_again_and_the_loss_is_counted() {
    let terminal = plugged(34);
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
    let terminal = plugged(35);
    assert!(Path::new(terminal.name()).exists());
    for _ in 0..3 {
        let output = skimgauge().args(["ports", terminal.name()]).output().unwrap();
        assert!(output.status.success(), "{output:?}");
        assert!(String::from_utf8_lossy(&output.stdout).contains(&number_of(&terminal)));
    }
}

#[test]
fn the_heads_log_is_printed_decoded() {
    let terminal = plugged(36);
    let folder = Folder::new("log");
    let job = folder.path("job.toml");
    assert!(
        skimgauge().args(["jobs", "new"]).arg(&job).args(KNOWN).output().unwrap().status.success()
    );
    let mut child = skimgauge()
        .args(["watch", "--json", "--log", "--head", terminal.name(), "--job"])
        .arg(&job)
        .arg("--record")
        .arg(folder.path("record.sqlite"))
        .arg("--elf")
        .arg(place::elf().unwrap_or_else(|missing| panic!("{missing}")))
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_secs(2));
    terminal.bench().set_fault(Fault::BusStuck, true);
    std::thread::sleep(Duration::from_millis(800));
    terminal.bench().set_fault(Fault::BusStuck, false);
    std::thread::sleep(Duration::from_secs(1));
    terminal.with_head(|head: &mut EmulatedHead| head.restart(Restart::Line)).unwrap().unwrap();
    std::thread::sleep(Duration::from_secs(4));
    writeln!(child.stdin.take().unwrap(), "quit").unwrap();
    let output = child.wait_with_output().unwrap();
    let log = String::from_utf8_lossy(&output.stderr).into_owned();
    for line in [
        "LINK   head up, firmware 0.1.0",
        "WARN   bus: Stuck",
        "INFO   bus: free",
        "INFO   started, version",
    ] {
        assert!(log.contains(line), "{line}: {log}");
    }
}

#[test]
fn the_demonstration_plays_with_the_real_image_on_its_own_clock() {
    // Its own head, and nobody beside it.
    let _alone = alone();
    let folder = Folder::new("demo");
    let mut child = skimgauge()
        .args(["demo", "--emulated", "--json", "--record"])
        .arg(folder.path("record.sqlite"))
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::inherit())
        .spawn()
        .unwrap();
    let out = BufReader::new(child.stdout.take().unwrap());
    let started = Instant::now();
    let mut takes = 0;
    for line in out.lines().map_while(Result::ok) {
        let line: Value = serde_json::from_str(&line).unwrap();
        // However slow the chip, no reading is late on its clock.
        assert!(!line["faults"].to_string().contains("late"), "{line}");
        takes += u32::from(line["kind"] == "take");
        if takes == 2 || started.elapsed() > Duration::from_secs(90) {
            break;
        }
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(takes, 2);
}
