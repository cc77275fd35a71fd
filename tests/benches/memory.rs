//! Memory and speed of `watch --json` over a long recording: ten million readings are 28 hours at
//! 100 a second.
//!
//! `cargo bench -p skimgauge-tests --bench memory -- [readings]`
//!
//! The recording is written into the command's input as fast as it is read; the lines are read and
//! counted as they come. Resident memory is asked of the system along the way (`/proc`, so on Linux
//! only). Ends with status 1 if it grew by more than a tenth and a megabyte after the first
//! hundredth.

use std::io::{BufRead, BufReader, BufWriter, Write};
use std::process::{Command, ExitCode, Stdio};
use std::time::Instant;

const READINGS: u32 = 10_000_000;
/// A live line for every tenth of a second, which is ten readings.
const READINGS_A_LINE: f64 = 10.0;

const JOB: &str = include_str!("../sessions/job.toml");

/// Resident now, and the most so far, KiB.
fn resident_kib(process: u32) -> Option<(u64, u64)> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let field = |name: &str| {
        let line = status.lines().find(|line| line.starts_with(name))?;
        line.split_whitespace().nth(1)?.parse().ok()
    };
    Some((field("VmRSS:")?, field("VmHWM:")?))
}

fn main() -> ExitCode {
    let readings = std::env::args().skip(1).find_map(|word| word.parse().ok()).unwrap_or(READINGS);
    let folder = tempfile::tempdir().expect("a folder");
    let job = folder.path().join("job.toml");
    std::fs::write(&job, JOB).expect("the job's file");
    let mut child = Command::new(env!("CARGO_BIN_EXE_skimgauge-under-test"))
        .args(["watch", "--from", "-", "--json", "--job"])
        .arg(&job)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the command starts");
    let process = child.id();
    let input = child.stdin.take().expect("its input");
    let writer = std::thread::spawn(move || {
        let mut out = BufWriter::with_capacity(1 << 16, input);
        skimgauge_tests::stream::write(readings, &mut out).and_then(|()| out.flush())
    });
    let started = Instant::now();
    let mut samples = [0.0001, 0.001, 0.01, 0.1, 0.25, 0.5, 0.75, 0.9, 0.99].into_iter().peekable();
    let (mut lines, mut bytes, mut last) = (0_u64, 0_u64, String::new());
    let mut after_warm_kib = None;
    let mut last_kib = 0;
    println!("{:>12} {:>10} {:>14} {:>14}", "readings", "seconds", "resident, KiB", "most, KiB");
    let mut out = BufReader::with_capacity(1 << 16, child.stdout.take().expect("its output"));
    loop {
        last.clear();
        match out.read_line(&mut last) {
            Ok(0) => break,
            Ok(length) => bytes += length as u64,
            Err(why) => panic!("its output cannot be read: {why}"),
        }
        lines += 1;
        let heard = lines as f64 * READINGS_A_LINE;
        if let Some(part) = samples.next_if(|part| heard >= part * f64::from(readings))
            && let Some((now, most)) = resident_kib(process)
        {
            println!(
                "{heard:>12.0} {:>10.1} {now:>14} {most:>14}",
                started.elapsed().as_secs_f64()
            );
            if part >= 0.01 {
                after_warm_kib.get_or_insert(now);
            }
            last_kib = now;
        }
        if last.contains("\"kind\":\"end\"") {
            println!("the last line: {}", last.trim_end());
        }
    }
    writer.join().expect("the writer ends").expect("the recording is read to its end");
    let status = child.wait().expect("the command ends");
    let seconds = started.elapsed().as_secs_f64();
    println!(
        "{readings} readings in {seconds:.1} s: {:.0} a second; {lines} lines, {:.0} MB; exit {:?}",
        f64::from(readings) / seconds,
        bytes as f64 * 1e-6,
        status.code()
    );
    let Some(before_kib) = after_warm_kib else {
        println!("Memory cannot be asked for on this system.");
        return ExitCode::from(3);
    };
    let flat = last_kib <= before_kib + before_kib / 10 + 1_024;
    println!(
        "memory from a hundredth on: {before_kib} KiB to {last_kib} KiB: {}",
        if flat { "flat" } else { "GROWS" }
    );
    if flat { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
