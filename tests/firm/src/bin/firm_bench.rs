//! A firm's jobs under load: crews that send at once beside `psql \copy` of the same rows, list, find
//! and show beside plain SQL; a server that is killed, a network that is cut. It starts a
//! PostgreSQL of its own, from the system's packages, and needs nothing else.
//!
//! `firm-bench load`, `firm-bench kill`, `unshare -n firm-bench network` (as root: the network that is
//! cut is one of its own), `firm-bench disk` (as root: the disk that is full is a small one of its
//! own). Exit status 75: that cannot be had here.

use clap::{Parser, Subcommand};
use skimgauge_firm::found::Wanted;
use skimgauge_firm::{Address, Base};
use skimgauge_firm_tests::crews::{all_there, send};
use skimgauge_firm_tests::disk::{SmallDisk, on_a_disk, until_full};
use skimgauge_firm_tests::fleet::{Chance, Spec, lot};
use skimgauge_firm_tests::server::{Server, Setup, address, programs};
use skimgauge_record::carry::Lot;
use std::collections::HashSet;
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// A firm's jobs under load.
#[derive(Debug, Parser)]
struct Args {
    #[command(subcommand)]
    part: Part,
}

#[derive(Debug, Subcommand)]
enum Part {
    /// Crews send at once; then list, find and show beside plain SQL.
    Load {
        /// How many crews.
        #[arg(long, default_value_t = 200)]
        crews: u64,
        /// Jobs of each.
        #[arg(long, default_value_t = 50)]
        jobs: u64,
        /// Connections that the server takes.
        #[arg(long, default_value_t = 40)]
        connections: u32,
    },
    /// The server is killed (-9) while crews send.
    Kill {
        /// How often.
        #[arg(long, default_value_t = 20)]
        times: u32,
    },
    /// The network is cut while crews send: only in a network of its own (`unshare -n`).
    Network {
        /// How often.
        #[arg(long, default_value_t = 20)]
        times: u32,
        /// How long at the most, seconds.
        #[arg(long, default_value_t = 30)]
        longest: u64,
    },
    /// The disk is full while jobs are sent, and there is room again.
    Disk {
        /// How often.
        #[arg(long, default_value_t = 20)]
        times: u32,
    },
}

/// Longer than any crew is patient: none of them sends any more.
const HUNG: Duration = Duration::from_secs(600);

/// The exit status of what cannot be had on this computer (EX_TEMPFAIL of sysexits.h).
const CANNOT_HERE: i32 = 75;

fn main() {
    match Args::parse().part {
        Part::Load { crews, jobs, connections } => load(crews, jobs, connections),
        Part::Kill { times } => kill(times),
        Part::Network { times, longest } => network(times, longest),
        Part::Disk { times } => disk(times),
    }
}

fn job(crew: u64, number: u64, many: u64) -> Lot {
    let nth = crew * many + number;
    lot(&Spec {
        number: nth,
        name: format!("job {nth}"),
        client: format!("client {}", nth % 997),
        place: format!("room {}", nth % 31),
        who: format!("crew {crew}"),
        head: format!("SG-{}", crew % 50),
        emitter: format!("model {}", nth % 4),
        begins_s: i64::try_from(nth).unwrap_or(0) * 600,
        rounds: 3,
        ..Spec::default()
    })
}

fn timed<T>(work: impl FnOnce() -> T) -> (T, f64) {
    let begun = Instant::now();
    let done = work();
    (done, begun.elapsed().as_secs_f64())
}

fn load(crews: u64, jobs: u64, connections: u32) {
    let server =
        Server::start(&Setup::as_installed().set(&format!("max_connections = {connections}")));
    server.prepared("jobs");
    println!(
        "{crews} crews of {jobs} jobs, {connections} connections; the disk is waited for (fsync on)"
    );
    let (lots, s) = timed(|| -> Vec<Vec<Lot>> {
        (0..crews).map(|crew| (0..jobs).map(|number| job(crew, number, jobs)).collect()).collect()
    });
    let events: usize = lots.iter().flatten().map(|lot| lot.rows.len()).sum();
    println!("made in memory: {} jobs, {events} events, {s:.1} s", crews * jobs);
    let address = server.address("postgres", "jobs");
    let ((), s) = timed(|| {
        std::thread::scope(|scope| {
            for lots in &lots {
                let address = &address;
                scope.spawn(move || {
                    let mut base = None;
                    for lot in lots {
                        send(address, &mut base, lot).expect("sent");
                    }
                });
            }
        });
    });
    let sent_rate = events as f64 / s;
    println!("sent: {s:.1} s, {sent_rate:.0} events a second");
    drop(lots);
    server.admin("jobs").batch_execute("ANALYZE").expect("analysed");
    let copied = copy(&server);
    for (what, s) in copied {
        let rate = events as f64 / s;
        println!(
            "psql \\copy into {what}: {s:.1} s, {rate:.0} events a second; sending is {:.2} of that",
            sent_rate / rate
        );
    }
    read(&server, &address, crews * jobs);
    let (checked, s) = timed(|| all_there(&server, &HashSet::new()));
    println!("verified: {checked} events, every link holds, {s:.1} s");
}

/// The same rows by psql, into a plain table and into one with the same indexes.
fn copy(server: &Server) -> [(&'static str, f64); 2] {
    let file = server.folder().join("rows.copy");
    let psql = |command: &str| {
        let output = Command::new(programs().join("psql"))
            .args(["-q", "-X", "-v", "ON_ERROR_STOP=1", "-U", "postgres", "-d", "jobs", "-p"])
            .arg(server.port().to_string())
            .arg("-h")
            .arg(server.folder())
            .args(["-c", command])
            .output()
            .expect("psql");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    };
    let file_name = file.display();
    psql(&format!("\\copy skimgauge.event to '{file_name}'"));
    let mut client = server.admin("jobs");
    let done = [("a plain table", ""), ("a table with the same indexes", "INCLUDING INDEXES")].map(|(what, like)| {
        client
            .batch_execute(&format!("DROP TABLE IF EXISTS plain; CREATE TABLE plain (LIKE skimgauge.event {like}); CHECKPOINT"))
            .expect("a table");
        let ((), s) = timed(|| psql(&format!("\\copy plain from '{file_name}'")));
        (what, s)
    });
    client.batch_execute("DROP TABLE plain").expect("dropped");
    std::fs::remove_file(&file).expect("removed");
    done
}

fn read(server: &Server, address: &Address, jobs: u64) {
    let mut base = Base::open(address).expect("it opens");
    let mut client = server.admin("jobs");
    let mut chance = Chance::new(1);
    let mut best = |what: &str, ours: &mut dyn FnMut(&mut Chance) -> usize, sql: &str| {
        let ours: Vec<f64> = (0..7).map(|_| timed(|| ours(&mut chance)).1).collect();
        let plain: Vec<f64> =
            (0..7).map(|_| timed(|| client.query(sql, &[]).expect(sql).len()).1).collect();
        let middle = |mut times: Vec<f64>| {
            times.sort_by(f64::total_cmp);
            times[times.len() / 2] * 1000.0
        };
        println!(
            "{what}: {:.1} ms, plain SQL {:.1} ms (medians of 7)",
            middle(ours),
            middle(plain)
        );
    };
    let base = &mut base;
    best(
        "list of all",
        &mut |_| base.lines(&Wanted::default()).expect("listed").len(),
        "SELECT * FROM skimgauge.summary ORDER BY last_at DESC",
    );
    best(
        "find by client and place",
        &mut |chance| {
            let client = Some(format!("client {}", chance.below(997)));
            let wanted = Wanted { client, place: Some("room".to_owned()), ..Wanted::default() };
            base.lines(&wanted).expect("found").len()
        },
        "SELECT * FROM skimgauge.summary WHERE client ILIKE '%client 17%' AND place ILIKE '%room%'",
    );
    let some = skimgauge_firm_tests::fleet::id(7);
    best(
        "show one",
        &mut |chance| {
            let id = skimgauge_firm_tests::fleet::id(chance.below(jobs));
            base.branches(id).expect("shown").len()
        },
        &format!("SELECT * FROM skimgauge.event WHERE job = '\\x{some}' ORDER BY depth"),
    );
}

/// Crews that send until the work is over: the jobs that were told as sent.
fn while_sending(server: &Server, url: &str, work: impl FnOnce(&dyn Fn() -> usize)) {
    let (sent, over) = (Mutex::new(HashSet::new()), AtomicBool::new(false));
    std::thread::scope(|scope| {
        for crew in 0..8 {
            let (sent, over) = (&sent, &over);
            let address = address(url);
            scope.spawn(move || {
                let mut base = None;
                for number in 0..100_000 {
                    if over.load(Ordering::Relaxed) {
                        break;
                    }
                    let lot = job(crew, number, 100_000);
                    send(&address, &mut base, &lot).expect("sent");
                    sent.lock().expect("whole").insert(lot.id);
                }
            });
        }
        work(&|| sent.lock().expect("whole").len());
        over.store(true, Ordering::Relaxed);
    });
    let sent = sent.into_inner().expect("whole");
    let events = all_there(server, &sent);
    println!(
        "{} jobs told as sent: all there, once; {events} events, every chain holds",
        sent.len()
    );
}

/// Waits until five more jobs have been sent than `before`. A crew that nothing wakes any more would
/// hold this process for good: that is said, and it ends.
fn five_more(before: usize, count: &dyn Fn() -> usize) {
    let begun = Instant::now();
    while count() < before + 5 {
        if begun.elapsed() > HUNG {
            eprintln!("no five jobs were sent in {} minutes: the crews hang", HUNG.as_secs() / 60);
            std::process::exit(1);
        }
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn kill(times: u32) {
    let server = Server::start(&Setup::as_installed());
    server.prepared("jobs");
    println!("8 crews send; the server is killed (-9) {times} times");
    while_sending(&server, &server.url("postgres", "jobs"), |count| {
        let mut before = 0;
        for _ in 0..times {
            five_more(before, count);
            server.kill();
            before = count();
            server.up();
        }
    });
}

fn ip(args: &[&str]) {
    let done = Command::new("ip").args(args).stdin(Stdio::null()).status();
    assert!(done.is_ok_and(|status| status.success()), "ip {args:?}");
}

fn network(times: u32, longest: u64) {
    let namespace = |process: &str| std::fs::read_link(format!("/proc/{process}/ns/net")).ok();
    if namespace("self") == namespace("1") {
        eprintln!(
            "This would cut the computer's own network: run it as `unshare -n firm-bench network`."
        );
        std::process::exit(2);
    }
    ip(&["link", "set", "lo", "up"]);
    let server = Server::start(&Setup::as_installed().set("tcp_user_timeout = 20000"));
    server.prepared("jobs");
    let hba = "host all all 127.0.0.1/32 trust";
    let url = format!("postgresql://postgres@127.0.0.1:{}/jobs", server.port());
    println!("8 crews send; the network is cut {times} times, for up to {longest} s ({hba})");
    let mut chance = Chance::new(3);
    while_sending(&server, &url, |count| {
        for nth in 0..times {
            five_more(count(), count);
            ip(&["link", "set", "lo", "down"]);
            // Some shorter than what is waited for, some longer.
            let share = if nth % 5 == 4 { 1.0 } else { 0.3 * chance.share() };
            std::thread::sleep(Duration::from_secs_f64(longest as f64 * share));
            ip(&["link", "set", "lo", "up"]);
        }
    });
}

fn disk(times: u32) {
    let Some(disk) = SmallDisk::mounted(400) else {
        eprintln!("A small disk of its own takes root's rights to mount one.");
        std::process::exit(CANNOT_HERE);
    };
    let server = Server::start(&on_a_disk(disk.path()));
    server.prepared("jobs");
    let address = server.address("postgres", "jobs");
    println!("a crew sends; the disk is full {times} times");
    let (mut sent, mut number) = (HashSet::new(), 0);
    for _ in 0..times {
        number = until_full(&disk, &server, &address, &|n| job(0, n, 100_000), number, &mut sent);
    }
    let events = all_there(&server, &sent);
    println!(
        "{} jobs told as sent: all there, once; {events} events, every chain holds",
        sent.len()
    );
    drop(server);
}
