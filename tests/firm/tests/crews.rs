//! Crews at once, and what goes wrong on the way: nothing told as sent is lost, nothing is doubled,
//! every chain holds.

use skimgauge_firm::Base;
use skimgauge_firm_tests::crews::{all_there, passes, send};
use skimgauge_firm_tests::disk::{SmallDisk, on_a_disk, until_full};
use skimgauge_firm_tests::fleet::{Spec, lot};
use skimgauge_firm_tests::server::{Server, Setup};
use skimgauge_record::carry::{Lot, Store};
use std::collections::HashSet;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

fn job(crew: u64, number: u64) -> Lot {
    let number = crew * 100 + number;
    lot(&Spec {
        number,
        name: format!("job {number}"),
        who: format!("crew {crew}"),
        ..Spec::default()
    })
}

/// Eight crews of five jobs each at once, through fewer connections than crews.
#[test]
fn eight_crews_of_five_jobs_at_once() {
    let server = Server::start(
        &Setup::default().set("max_connections = 7").set("superuser_reserved_connections = 1"),
    );
    server.prepared("jobs");
    for crew in 0..8 {
        server.user(&format!("crew_{crew}"), "skimgauge_crew");
    }
    let sent = Mutex::new(HashSet::new());
    std::thread::scope(|scope| {
        for crew in 0..8 {
            let (server, sent) = (&server, &sent);
            scope.spawn(move || {
                let address = server.address(&format!("crew_{crew}"), "jobs");
                for number in 0..5 {
                    let lot = job(crew, number);
                    // A connection for each job: all of them are wanted all the time.
                    let new = send(&address, &mut None, &lot).unwrap();
                    assert_eq!(new as usize, lot.rows.len());
                    sent.lock().unwrap().insert(lot.id);
                }
            });
        }
    });
    let sent = sent.into_inner().unwrap();
    assert_eq!(sent.len(), 40);
    all_there(&server, &sent);
}

/// Two laptops send one job at once: each event is there once.
#[test]
fn the_same_job_from_two_laptops_at_once_is_there_once() {
    let server = Server::start(&Setup::default());
    server.prepared("jobs");
    let lots: Vec<Lot> = (0..10).map(|number| job(0, number)).collect();
    let new: u32 = std::thread::scope(|scope| {
        let each = [0, 1].map(|_| {
            scope.spawn(|| {
                let address = server.address("postgres", "jobs");
                let mut base = None;
                lots.iter().map(|lot| send(&address, &mut base, lot).unwrap()).sum::<u32>()
            })
        });
        each.map(|thread| thread.join().unwrap()).iter().sum()
    });
    assert_eq!(new as usize, lots.iter().map(|lot| lot.rows.len()).sum::<usize>());
    all_there(&server, &lots.iter().map(|lot| lot.id).collect());
}

/// The server is killed while crews send.
#[test]
fn a_server_that_is_killed_loses_nothing_that_was_told_as_sent() {
    let server = Server::start(&Setup::default());
    server.prepared("jobs");
    let (sent, done) = (Mutex::new(HashSet::new()), AtomicBool::new(false));
    std::thread::scope(|scope| {
        for crew in 0..4 {
            let (server, sent, done) = (&server, &sent, &done);
            scope.spawn(move || {
                let address = server.address("postgres", "jobs");
                let mut base = None;
                for number in 0..100 {
                    let lot = job(crew, number);
                    send(&address, &mut base, &lot).unwrap();
                    sent.lock().unwrap().insert(lot.id);
                    if done.load(Ordering::Relaxed) {
                        break;
                    }
                }
            });
        }
        let mut before = 0;
        for _ in 0..3 {
            // Something is on its way each time.
            loop {
                let now = sent.lock().unwrap().len();
                if now > before + 2 {
                    before = now;
                    break;
                }
                std::thread::sleep(Duration::from_millis(2));
            }
            server.kill();
            server.up();
        }
        done.store(true, Ordering::Relaxed);
    });
    all_there(&server, &sent.into_inner().unwrap());
}

/// A connection that is ended in the middle of a job leaves nothing of it.
#[test]
fn a_cut_in_the_middle_leaves_the_former_state() {
    let server = Server::start(&Setup::default());
    server.prepared("jobs");
    let mut owner = server.admin("jobs");
    // Slow enough to be ended in the middle: each event waits.
    owner
        .batch_execute(
            "CREATE FUNCTION wait() RETURNS trigger LANGUAGE plpgsql AS $$BEGIN PERFORM pg_sleep(0.2); RETURN NEW; END$$; \
             CREATE TRIGGER a_wait BEFORE INSERT ON skimgauge.event FOR EACH ROW EXECUTE FUNCTION wait()",
        )
        .unwrap();
    let lot = job(0, 1);
    let mut base = Base::open(&server.address("postgres", "jobs")).unwrap();
    let error = std::thread::scope(|scope| {
        let sending = scope.spawn(|| base.put(&lot).unwrap_err());
        let end = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity \
                   WHERE application_name = 'skimgauge' AND query LIKE 'INSERT INTO skimgauge.event%' AND state = 'active'";
        while owner.query(end, &[]).unwrap().is_empty() {
            std::thread::sleep(Duration::from_millis(5));
        }
        sending.join().unwrap()
    });
    assert!(passes(&error), "{error:?}");
    assert!(error.to_string().contains("Do it again"), "{error}");
    owner.batch_execute("DROP TRIGGER a_wait ON skimgauge.event").unwrap();
    let mut base = Base::open(&server.address("postgres", "jobs")).unwrap();
    assert!(base.rows(lot.id).unwrap().is_empty());
    assert_eq!(base.put(&lot).unwrap() as usize, lot.rows.len());
    all_there(&server, &HashSet::from([lot.id]));
}

/// A job whose other half is on its way from a laptop that went out of reach is worth another try.
/// That the server finds out in time is seen where a network is cut, below.
#[test]
fn a_job_that_another_holds_is_worth_another_try() {
    let server = Server::start(&Setup::default());
    server.prepared("jobs");
    let mut owner = server.admin("jobs");
    // As PostgreSQL says it once `lock_timeout` is over.
    owner
        .batch_execute(
            "CREATE FUNCTION held() RETURNS trigger LANGUAGE plpgsql AS $$BEGIN \
             RAISE EXCEPTION 'canceling statement due to lock timeout' USING ERRCODE = 'lock_not_available'; END$$; \
             CREATE TRIGGER a_held BEFORE INSERT ON skimgauge.event FOR EACH ROW EXECUTE FUNCTION held()",
        )
        .unwrap();
    let lot = job(0, 1);
    let mut base = Base::open(&server.address("postgres", "jobs")).unwrap();
    let error = base.put(&lot).unwrap_err();
    assert!(passes(&error), "{error:?}");
    owner.batch_execute("DROP TRIGGER a_held ON skimgauge.event").unwrap();
    assert_eq!(base.put(&lot).unwrap() as usize, lot.rows.len());
    all_there(&server, &HashSet::from([lot.id]));
}

/// A disk that is full: on a small one of the tests' own, where this account may make one.
#[test]
fn a_full_disk_is_said_and_what_was_told_as_sent_is_there() {
    let Some(disk) = SmallDisk::mounted(120) else {
        eprintln!("SKIPPED: a small disk of its own takes root's rights to mount one");
        return;
    };
    let server = Server::start(&on_a_disk(disk.path()));
    server.prepared("jobs");
    let address = server.address("postgres", "jobs");
    let mut sent = HashSet::new();
    let number = until_full(&disk, &server, &address, &|number| job(0, number), 0, &mut sent);
    all_there(&server, &sent);
    assert!(send(&address, &mut None, &job(0, number)).unwrap() > 0, "goes on");
    drop(server);
}

/// A network that is cut while crews send: in one of the tests' own, where this account may make one.
#[test]
fn a_network_that_is_cut_loses_nothing_that_was_told_as_sent() {
    let may = std::process::Command::new("unshare")
        .args(["-n", "ip", "link", "set", "lo", "up"])
        .output();
    if !may.is_ok_and(|output| output.status.success()) {
        eprintln!(
            "SKIPPED: a network of its own to cut takes root's rights and the programs unshare and ip"
        );
        return;
    }
    let output = std::process::Command::new("unshare")
        .args(["-n", env!("CARGO_BIN_EXE_firm-bench"), "network", "--times", "3", "--longest", "2"])
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{said}{}", String::from_utf8_lossy(&output.stderr));
    assert!(said.contains("all there, once"), "{said}");
}
