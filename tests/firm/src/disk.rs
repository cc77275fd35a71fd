//! A small disk of the tests' own, to be filled, where this account may mount one.

use crate::server::{Server, Setup};
use skimgauge_firm::{Address, Base, FirmError};
use skimgauge_record::JobId;
use skimgauge_record::carry::{Lot, Store};
use std::collections::HashSet;
use std::path::Path;
use std::process::Command;

/// What is left of the disk when it is filled, bytes: some jobs still find room.
const LEFT: u64 = 3 << 20;

/// No test sends so many jobs before the disk is full.
const MOST: u64 = 5_000;

/// A disk in memory, gone with this value.
pub struct SmallDisk {
    folder: tempfile::TempDir,
}

impl SmallDisk {
    /// A disk of so many megabytes; `None` where this account may not mount one.
    ///
    /// # Panics
    /// There is no temporary folder.
    pub fn mounted(megabytes: u32) -> Option<Self> {
        let folder = tempfile::tempdir().expect("a folder");
        let size = format!("size={megabytes}m");
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &size, "tmpfs"]).arg(folder.path());
        let mounted = mount.output().is_ok_and(|output| output.status.success());
        mounted.then_some(Self { folder })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Leaves little room on it.
    ///
    /// # Panics
    /// It cannot be written.
    pub fn fill(&self) {
        let about = rustix::fs::statvfs(self.path()).expect("its room");
        let size = (about.f_bavail * about.f_frsize).saturating_sub(LEFT);
        let bytes = vec![1_u8; usize::try_from(size).expect("a small disk")];
        std::fs::write(self.path().join("filler"), bytes).expect("it is written");
    }

    /// Makes room again.
    ///
    /// # Panics
    /// It was not filled.
    pub fn clear(&self) {
        std::fs::remove_file(self.path().join("filler")).expect("it was filled");
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.path()).status();
    }
}

/// A server on it, with a journal that takes little.
pub fn on_a_disk(folder: &Path) -> Setup {
    Setup { folder: Some(folder.to_owned()), ..Setup::default() }
        .set("max_wal_size = 32MB")
        .set("min_wal_size = 32MB")
        .set("wal_recycle = off")
}

/// Fills the disk, sends jobs until one finds no room, makes room again, and has the server back: the
/// number of the job that found none.
///
/// # Panics
/// The disk is never full, or that is not said.
pub fn until_full(
    disk: &SmallDisk,
    server: &Server,
    address: &Address,
    job: &dyn Fn(u64) -> Lot,
    from: u64,
    sent: &mut HashSet<JobId>,
) -> u64 {
    let mut base = Base::open(address).expect("it opens");
    disk.fill();
    let mut number = from;
    let error = loop {
        let lot = job(number);
        match base.put(&lot) {
            Ok(_) => drop(sent.insert(lot.id)),
            Err(error) => break error,
        }
        number += 1;
        assert!(number < from + MOST, "the disk is never full");
    };
    let said = FirmError::within(&error);
    // Where the journal itself finds no room the server ends, and comes back when there is.
    assert!(matches!(said, Some(FirmError::Full { .. } | FirmError::Cut { .. })), "{error:?}");
    drop(base);
    disk.clear();
    if Base::open(address).is_err() {
        server.kill_if_up();
        server.up();
    }
    number
}
