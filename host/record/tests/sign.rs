//! A closed job is signed, and the signature checked: by this program, and by OpenSSH's own.

mod common;

use std::fs;
use std::process::{Command, Stdio};

use common::{filled, signer, stamp};
use skimgauge_record::event::Signed;
use skimgauge_record::sign::{NAMESPACE, line};
use skimgauge_record::verify::verify;
use skimgauge_record::{Body, Record, RecordError};

fn signatures(record: &Record) -> Vec<Signed> {
    let events = record.job("Hall 3").unwrap().events;
    events
        .into_iter()
        .filter_map(|event| match event.body {
            Body::Signed(signed) => Some(signed),
            _ => None,
        })
        .collect()
}

#[test]
fn a_closed_job_is_signed_and_the_signature_travels() {
    let folder = tempfile::tempdir().unwrap();
    let (path, file) = (folder.path().join("a.sqlite"), folder.path().join("x.job"));
    let signer = signer();
    let mut record = filled(&path, false);
    assert!(matches!(record.sign("Hall 3", &stamp(50), &signer), Err(RecordError::NotClosed(_))));
    record.close("Hall 3", &stamp(50), &[], Some(&signer)).unwrap();
    record.sign("Hall 3", &stamp(51), &signer).unwrap();
    record.export_job("Hall 3", &file).unwrap();
    for path in [&path, &file] {
        let report = verify(path).unwrap();
        assert!(report.sound(), "{:?}", report.first_wrong());
        let job = report.jobs.iter().find(|job| job.name == "Hall 3").unwrap();
        assert_eq!(job.signatures.len(), 2);
        assert!(
            job.signatures
                .iter()
                .all(|s| s.wrong.is_none() && s.fingerprint.starts_with("SHA256:"))
        );
    }
}

#[test]
fn openssh_agrees() {
    let folder = tempfile::tempdir().unwrap();
    let signer = signer();
    let mut record = filled(&folder.path().join("a.sqlite"), false);
    record.close("Hall 3", &stamp(50), &[], Some(&signer)).unwrap();
    let signed = signatures(&record).remove(0);
    let (allowed, signature) = (folder.path().join("allowed"), folder.path().join("signature"));
    fs::write(&allowed, format!("fitter@example.org {}\n", signer.public_key().unwrap())).unwrap();
    fs::write(&signature, &signed.signature).unwrap();
    for (message, good) in
        [(line(signed.hash), true), (line(skimgauge_record::chain::Hash::NONE), false)]
    {
        let text = folder.path().join("message");
        fs::write(&text, message).unwrap();
        let run = Command::new("ssh-keygen")
            .args(["-Y", "verify", "-n", NAMESPACE, "-I", "fitter@example.org", "-f"])
            .arg(&allowed)
            .arg("-s")
            .arg(&signature)
            .stdin(fs::File::open(&text).unwrap())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status();
        match run {
            Ok(status) => assert_eq!(status.success(), good),
            Err(error) => {
                eprintln!("not compared with OpenSSH, which does not run here: {error}");
                return;
            }
        }
    }
}

#[test]
fn a_signature_moved_to_another_job_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.sqlite");
    let signer = signer();
    let mut record = filled(&path, false);
    record.close("Hall 3", &stamp(50), &[], Some(&signer)).unwrap();
    record.close("Hall 4", &stamp(50), &[], None).unwrap();
    // The forger links it properly, so that only the signature itself can tell.
    let forged = Body::from(signatures(&record).remove(0));
    drop(record);
    common::forge(&path, 2, &forged);
    let report = verify(&path).unwrap();
    let job = report.jobs.iter().find(|job| job.name == "Hall 4").unwrap();
    assert_eq!(job.broken, None);
    assert!(report.first_wrong().unwrap().contains("closing event"), "{:?}", report.first_wrong());
}
