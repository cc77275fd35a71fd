//! Devices and endless pipes in the place of files: reading stops at a limit, in a sentence.

use crate::{begun, place, said};
use skimgauge_tests::command::{Place, started};
use skimgauge_tests::plugged::Plugged;
use std::io::Write;
use std::process::{Output, Stdio};

/// The command with its memory held to half a gigabyte: what reads without end fails by that, not
/// by the machine.
fn held(place: &Place, words: &[&str]) -> Output {
    let bare = place.command();
    let mut command = std::process::Command::new("sh");
    command
        .args(["-c", "ulimit -v 2000000; exec \"$@\"", "sh"])
        .arg(bare.get_program())
        .args(words);
    command
        .env("HOME", place.path(""))
        .env("XDG_DATA_HOME", place.path(""))
        .current_dir(place.path(""));
    started(command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()))
        .wait_with_output()
        .unwrap()
}

fn with_record() -> Place {
    let place = place();
    begun(&place);
    let text = std::fs::read_to_string(place.path("job.toml")).unwrap();
    std::fs::write(
        place.path("surveyed.toml"),
        format!("{text}\n[survey]\nfile = \"/dev/zero\"\n"),
    )
    .unwrap();
    place
}

#[test]
fn a_device_in_a_files_place_stops_at_a_limit() {
    let (place, head) = (with_record(), Plugged::new(160));
    let long = |words: &[&str], limit: &str| {
        let text = said(&held(&place, words));
        assert!(text.contains(&format!("It has more than {limit}")), "{words:?}: {text}");
    };
    long(&["watch", "--job", "/dev/zero", "--head", "nosuch"], "1 MB, and no job file has");
    long(&["setout", "--job", "/dev/zero", "--no-record"], "1 MB, and no job file has");
    long(&["watch", "--job", "surveyed.toml", "--head", "nosuch"], "64 MB, and no table has");
    long(&["trim", "--job", "job.toml", "--from", "/dev/zero"], "64 MB, and no table has");
    long(
        &["trim", "--job", "job.toml", "--from", "job.toml", "--survey", "/dev/zero"],
        "64 MB, and no table has",
    );
    long(
        &["survey", "--job", "job.toml", "--no-record", "--from", "/dev/zero"],
        "64 MB, and no table has",
    );
    let record = ["--record", "record.sqlite", "--by", "R. Oakes"];
    long(
        &[&["jobs", "close", "test wall", "--sign", "/dev/zero"], &record[..]].concat(),
        "64 kB, and no key has",
    );
    long(
        &[&["jobs", "attach", "test wall", "/dev/zero"], &record[..]].concat(),
        "64 MB, and no attachment has",
    );
    long(&["jobs", "verify", "record.sqlite", "--key", "/dev/zero"], "64 kB, and no key has");
    long(&["ports", "--flash", "/dev/zero"], "64 MB, and no firmware file has");
    let session =
        ["zero", "--head", head.port(), "--record", "record.sqlite", "--session", "/dev/zero"];
    long(&session, "16 MB, and no zeroing has");
    let text = said(&held(&place, &["watch", "--job", "job.toml", "--from", "/dev/zero"]));
    assert!(text.contains("/dev/zero is no recording of a head"), "{text}");
    for words in [["jobs", "verify", "/dev/zero"], ["jobs", "import", "/dev/zero"]] {
        said(&held(&place, &words));
    }
}

/// A program that was built by hand has no firmware beside it.
#[test]
fn without_a_file_flash_says_where_it_looked_for_one() {
    let place = place();
    let head = Plugged::new(74);
    for words in [&["ports", "--flash"][..], &["ports", head.port(), "--flash", "--yes"]] {
        let text = said(&held(&place, words));
        assert!(text.contains("No firmware came with this skimgauge"), "{text}");
        assert!(text.contains("/share/skimgauge/skimgauge-head.uf2"), "{text}");
        assert!(text.contains("skimgauge ports --flash FILE"), "{text}");
    }
}

#[test]
fn an_endless_pipe_stops_at_a_limit() {
    let place = with_record();
    for words in [
        &["trim", "--job", "job.toml", "--from", "-"][..],
        &["trim", "--job", "/dev/stdin", "--from", "-"],
    ] {
        let mut command = place.command();
        command.args(words).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = started(&mut command);
        let mut into = child.stdin.take().unwrap();
        let block = [b'1'; 1 << 16];
        let mut sent = 0_u64;
        // Until it takes no more: it has ended.
        while into.write_all(&block).is_ok() {
            sent += block.len() as u64;
            assert!(sent < 100 << 20, "{words:?} never stops");
        }
        drop(into);
        let text = said(&child.wait_with_output().unwrap());
        assert!(text.contains("It has more than"), "{text}");
    }
}

/// A line that never ends is no word: what is typed counts as over, and the command goes on or ends
/// as without a typist.
#[test]
fn a_typed_line_that_never_ends_fills_no_memory() {
    let (place, head) = (place(), Plugged::new(161));
    let mut command = place.command();
    command.args(["zero", "--head", head.port(), "--record", "record.sqlite"]);
    let mut child =
        started(command.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::piped()));
    let mut into = child.stdin.take().unwrap();
    let block = [b'x'; 1 << 16];
    let mut sent = 0_u64;
    while into.write_all(&block).is_ok() {
        sent += block.len() as u64;
        assert!(sent < 100 << 20, "it reads on and on");
    }
    drop(into);
    let output = child.wait_with_output().unwrap();
    assert_eq!(
        output.status.code(),
        Some(3),
        "put aside, as where nobody types any more: {output:?}"
    );
}
