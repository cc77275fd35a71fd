//! `watch` with files that will not do: job, record, recording, disk.

use crate::{EXE, WIDE, job, no_such_file, place, said};
use skimgauge_tests::command::Place;
use skimgauge_tests::plugged::Plugged;
use skimgauge_tests::stream;
use std::path::Path;
use std::process::Command;

fn watch_job(text: &[u8]) -> String {
    let place = place();
    std::fs::write(place.path("job.toml"), text).unwrap();
    let text = said(&place.run([
        "watch",
        "--job",
        "job.toml",
        "--record",
        "record.sqlite",
        "--json",
        "--head",
        "/dev/null",
    ]));
    assert!(!place.record().exists(), "a job that cannot be is in the record: {text}");
    text
}

#[test]
fn a_job_file_that_cannot_be_points_at_its_line() {
    let whole = job(WIDE);
    let line_of = |text: &str, part: &str| {
        1 + text.lines().collect::<Vec<_>>().iter().rposition(|line| line.contains(part)).unwrap()
    };
    for (was, is, says) in [
        ("diagonal = \"94 in\"", "diagonal = \"94 kg\"", "94 kg"),
        ("diagonal = \"94 in\"", "diagonel = \"94 in\"", "diagonel"),
        ("aspect = \"16:10\"", "aspect = \"wide\"", "wide"),
        ("gap = [\"0.4 mm\", \"16.6 mm\"]", "gap = [\"16.6 mm\", \"0.4 mm\"]", "16.6 mm"),
        ("gap = [\"0.4 mm\", \"16.6 mm\"]", "gap = [\"0.4 mm\", \"twenty\"]", "twenty"),
        ("above_top = \"80 mm\"", "above_top = 80", "80"),
        ("[limits]", "[limits", ""),
        ("name = \"top right\"", "name = \"top left\"", "top left"),
    ] {
        assert!(whole.contains(was), "{was}");
        let text = whole.replacen(was, is, 1);
        let said = watch_job(text.as_bytes());
        assert!(said.contains(says), "{is}: {said}");
        let line = line_of(&text, is);
        assert!(
            said.contains(&format!("job.toml:{line}")) || said.contains(&format!("line {line}")),
            "{is} is on line {line}: {said}"
        );
    }
}

#[test]
fn a_job_file_that_is_none() {
    for text in
        [&b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"[..], b"station,x_mm,y_mm\ntop,0,0\n", &[0xFF; 4096], b""]
    {
        let said = watch_job(text);
        assert!(said.contains("job.toml"), "{said}");
    }
    let place = place();
    let text = said(&place.run(["watch", "--job", "nosuch.toml", "--head", "/dev/null"]));
    assert_eq!(
        text,
        format!(
            "The job file nosuch.toml cannot be read. `skimgauge jobs new nosuch.toml` writes one. ({}.)\n",
            no_such_file()
        )
    );
    said(&place.run(["watch", "--job", ".", "--head", "/dev/null"]));
}

fn watch_into(place: &Place, head: &Plugged) -> String {
    said(&place.run(crate::json_at("watch", head.port())))
}

#[test]
fn a_record_from_a_newer_version_is_left_alone() {
    let (place, head) = (place(), Plugged::absent(101));
    drop(skimgauge_record::Record::create(&place.record()).unwrap());
    // SQLite's file format, section 1.3: the user version is the big-endian number at byte 60.
    let mut bytes = std::fs::read(place.record()).unwrap();
    bytes[60..64].copy_from_slice(&99_u32.to_be_bytes());
    std::fs::write(place.record(), &bytes).unwrap();
    let text = watch_into(&place, &head);
    assert!(
        text.contains("written by a newer version of skimgauge")
            && text.contains("Update skimgauge"),
        "{text}"
    );
    assert_eq!(std::fs::read(place.record()).unwrap(), bytes);
}

#[test]
fn a_damaged_record_or_another_file_is_left_alone() {
    let (place, head) = (place(), Plugged::absent(102));
    drop(skimgauge_record::Record::create(&place.record()).unwrap());
    let sound = std::fs::read(place.record()).unwrap();
    let mut torn = sound.clone();
    torn[100..4096].fill(0xA5);
    let cut = sound[..sound.len() / 2].to_vec();
    for (bytes, says) in [
        (torn, "damaged"),
        (cut, "damaged"),
        (b"station,x_mm\n".to_vec(), "is not a skimgauge record"),
    ] {
        std::fs::write(place.record(), &bytes).unwrap();
        let text = watch_into(&place, &head);
        assert!(text.contains(says) && text.contains("record.sqlite"), "{text}");
        assert_eq!(std::fs::read(place.record()).unwrap(), bytes, "{text}");
    }
}

#[test]
fn a_record_in_a_place_that_is_not_there() {
    let (place, head) = (place(), Plugged::absent(103));
    let text = said(&place.run([
        "watch",
        "--job",
        "job.toml",
        "--record",
        "job.toml/r.sqlite",
        "--head",
        head.port(),
    ]));
    assert!(text.contains("job.toml"), "{text}");
}

/// What was taken is judged and shown although the verdict found no room in the record.
#[test]
fn a_full_disk_does_not_hide_the_verdict() {
    let (place, head) = (place(), Plugged::new(105));
    let folder = place.path("small");
    let Some(_small) = Small::mount(&folder, 512 * 1024) else {
        eprintln!("SKIPPED: a full disk; this account cannot mount one (run it as root)");
        return;
    };
    let mut command = place.command();
    command.args(["watch", "--job", "job.toml", "--json", "--record", "small/record.sqlite"]);
    command.args(["--head", head.port()]);
    let mut watch = skimgauge_tests::command::Watch::start(command);
    watch.taken("top left", |watch| watch.say("take"));
    let mut film = std::fs::File::create(folder.join("film")).unwrap();
    while std::io::Write::write_all(&mut film, &[7; 4096]).is_ok() {}
    while std::io::Write::write_all(&mut film, &[7]).is_ok() {}
    let end = watch.quit();
    let last: serde_json::Value = serde_json::from_str(end.out.last().unwrap()).unwrap();
    assert_eq!((&last["kind"], &last["whole"]), (&"end".into(), &"unsure".into()), "{end:?}");
    assert_eq!(end.status, Some(2), "{end:?}");
    assert!(end.err.starts_with("NOT in the record: the verdict. No room is left"), "{end:?}");
}

/// A file system of this size, unmounted at the end. Needs root.
struct Small<'a>(&'a Path);

impl<'a> Small<'a> {
    fn mount(at: &'a Path, bytes: u32) -> Option<Self> {
        std::fs::create_dir_all(at).ok()?;
        let size = format!("size={bytes}");
        let mounted =
            Command::new("mount").args(["-t", "tmpfs", "-o", &size, "tmpfs"]).arg(at).output();
        mounted.is_ok_and(|output| output.status.success()).then_some(Self(at))
    }
}

impl Drop for Small<'_> {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.0).status();
    }
}

/// On a file system that fills up. Needs root to mount one; elsewhere it says that it did not run.
#[test]
fn a_full_disk_refuses_the_take_and_loses_none() {
    let (place, head) = (place(), Plugged::new(104));
    let folder = place.path("small");
    let Some(_small) = Small::mount(&folder, 512 * 1024) else {
        eprintln!("SKIPPED: a full disk; this account cannot mount one (run it as root)");
        return;
    };
    let record = folder.join("record.sqlite");
    let mut command = place.command();
    command
        .args([
            "watch",
            "--job",
            "job.toml",
            "--json",
            "--keep",
            "small/kept.rec",
            "--head",
            head.port(),
            "--record",
        ])
        .arg(&record);
    let mut watch = skimgauge_tests::command::Watch::start(command);
    let take = watch.taken("top left", |watch| watch.say("take"));
    // Somebody copies a film onto the stick.
    let mut film = std::fs::File::create(folder.join("film")).unwrap();
    let block = [7; 4096];
    while std::io::Write::write_all(&mut film, &block).is_ok() {}
    while std::io::Write::write_all(&mut film, &block[..1]).is_ok() {}
    watch.message("The recording ends here: it cannot be written");
    head.to(1);
    watch.settled("top right");
    watch.say("take");
    let refused = watch.message("NOT taken: ");
    assert!(refused["text"].as_str().unwrap().contains("No room is left"), "{refused}");
    assert_eq!(skimgauge_tests::command::takes(&record).len(), 1);
    // Room is made: the same watch takes it.
    drop(film);
    std::fs::remove_file(folder.join("film")).unwrap();
    let later = watch.taken("top right", |watch| watch.say("take"));
    // It had come there before the first try.
    assert_eq!(later["came"]["how"], "seen", "{later}");
    watch.quit();
    let kept: Vec<_> = skimgauge_tests::command::takes(&record)
        .into_iter()
        .map(|(_, _, _, seq)| u64::from(seq))
        .collect();
    assert_eq!(kept, [take["event"].as_u64().unwrap(), later["event"].as_u64().unwrap()]);
}

#[test]
fn a_recording_that_is_none_or_is_cut_or_damaged() {
    let place = Place::new(EXE, &job(WIDE));
    let from = |bytes: &[u8]| {
        std::fs::write(place.path("r.rec"), bytes).unwrap();
        place.run(["watch", "--job", "job.toml", "--json", "--from", "r.rec"])
    };
    let text = said(&place.run(["watch", "--job", "job.toml", "--from", "nosuch.rec"]));
    assert_eq!(text, format!("nosuch.rec cannot be read. ({}.)\n", no_such_file()));
    for bytes in [&b""[..], b"skim", b"station,x_mm,y_mm\n", &[0; 100]] {
        let text = said(&from(bytes));
        assert!(
            text.contains(
                "r.rec is no recording of a head. `skimgauge watch --keep FILE` makes one"
            ),
            "{text}"
        );
    }
    let mut whole = Vec::new();
    stream::write(1_000, &mut whole).unwrap();
    // Cut anywhere it is heard up to there.
    for cut in [whole.len() - 1, whole.len() / 2, whole.len() / 3] {
        let output = from(&whole[..cut]);
        assert_eq!(output.status.code(), Some(3), "{output:?}");
        String::from_utf8(output.stdout).unwrap().lines().for_each(skimgauge_tests::lines::check);
    }
    // Flipped anywhere it is heard as far as it can be, or refused in a sentence.
    let mut dice = skimgauge_bench::noise::Noise::new(105, 9);
    for _ in 0..12 {
        let mut bytes = whole.clone();
        let at = 8 + (dice.unit() * (bytes.len() - 8) as f64) as usize;
        bytes[at] ^= 1 << (dice.bits() % 8);
        let output = from(&bytes);
        if output.status.code() != Some(3) {
            said(&output);
        }
    }
}

#[test]
fn a_recording_is_never_written_over_another() {
    let (place, head) = (place(), Plugged::new(106));
    std::fs::write(place.path("kept.rec"), "yesterday's").unwrap();
    let output = place.run([
        "watch",
        "--job",
        "job.toml",
        "--json",
        "--keep",
        "kept.rec",
        "--head",
        head.port(),
    ]);
    let text = said(&output);
    assert!(
        text.starts_with("kept.rec is there already and was left as it is. Choose another name."),
        "{text}"
    );
    assert_eq!(std::fs::read(place.path("kept.rec")).unwrap(), b"yesterday's");
}
