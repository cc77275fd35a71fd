//! What these tests share: a stamp, a take, a record with a job.
#![allow(dead_code)]

use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Head, Phase, Take, VerdictWord};
use skimgauge_record::{Record, Stamp, When};

pub const READY: &str = "site = \"Hall 3\"\n";

/// A stamp so many seconds after a fixed moment.
pub fn stamp(after_s: u32) -> Stamp {
    let (h, m, s) = (8 + after_s / 3600, after_s / 60 % 60, after_s % 60);
    let at = When::parse(&format!("2026-11-25T{h:02}:{m:02}:{s:02}+01:00")).unwrap();
    Stamp::new(at, "A. Fitter", "skimgauge 0.1.0").unwrap()
}

pub fn take(station: &str, gap_mm: f64) -> Take {
    Take {
        station: station.to_owned(),
        x_mm: -1000.0,
        y_mm: -0.0,
        phase: Phase::AsFound,
        round: 1,
        gap_mm,
        u_gap_mm: 0.02,
        dof: Some(12.0),
        readings: 400,
        window_s: 4.0,
        tilt_deg: Some(0.12),
        level_deg: Some(-0.03),
        lean_deg: None,
        temperature_c: Some(21.5),
        verdict: Some(VerdictWord::Within),
        head: Head {
            serial: "SG-0007".to_owned(),
            firmware: "0.1.0".to_owned(),
            calibration_date: Some("2026-11-20".to_owned()),
            calibration_sha256: Some(Hash::of(b"constants")),
        },
        flags: vec!["drifting".to_owned()],
        supersedes: None,
    }
}

/// A record in a folder that goes when it is dropped, with one open job.
pub fn record(job: &str) -> (tempfile::TempDir, Record) {
    let folder = tempfile::tempdir().unwrap();
    let mut record = Record::create(&folder.path().join("record.sqlite")).unwrap();
    record.open_job(job, READY, &stamp(0)).unwrap();
    (folder, record)
}
