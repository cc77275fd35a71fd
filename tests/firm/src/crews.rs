//! Crews that send, and what has to hold afterwards.

use crate::server::Server;
use skimgauge_firm::patience::{Real, insist};
use skimgauge_firm::{Address, Base, FirmError};
use skimgauge_record::carry::{Lot, Store};
use skimgauge_record::{JobId, RecordError};
use std::collections::HashSet;
use std::time::Duration;

/// Longer than anything takes, on a machine that is busy with others.
pub const PATIENCE: Duration = Duration::from_secs(300);

/// Whether it passes by itself.
pub fn passes(error: &RecordError) -> bool {
    FirmError::within(error).is_some_and(FirmError::passes)
}

/// Sends a lot, over a new connection after each cut: how many of its events were new.
///
/// # Errors
/// What does not pass by itself.
pub fn send(address: &Address, base: &mut Option<Base>, lot: &Lot) -> Result<u32, RecordError> {
    insist(&mut Real::default(), PATIENCE, passes, || {
        let mut open = match base.take() {
            Some(open) => open,
            None => Base::open(address)?,
        };
        let new = open.put(lot)?;
        *base = Some(open);
        Ok(new)
    })
}

/// Everything that was told as sent is there, once, and holds: how many events there are.
///
/// # Panics
/// It is not.
pub fn all_there(server: &Server, sent: &HashSet<JobId>) -> u32 {
    let mut base = Base::open(&server.address("postgres", "jobs")).expect("it opens");
    let there: HashSet<JobId> = base.ids().expect("it lists").into_iter().collect();
    assert!(sent.is_subset(&there), "lost: {:?}", sent.difference(&there));
    let report = skimgauge_firm::check::verify(&mut base).expect("it is read");
    assert!(report.sound(), "{:?}", report.findings);
    assert_eq!(report.jobs.len(), there.len(), "branches of a job that has none");
    let events: u32 = report.jobs.iter().map(|job| job.events).sum();
    let rows = server.admin("jobs").query_one("SELECT count(*) FROM skimgauge.event", &[]);
    let rows: i64 = rows.expect("it counts").get(0);
    assert_eq!(i64::from(events), rows, "doubled");
    events
}
