//! Names of files as Windows takes them: devices wherever they stand, endings that are left off, streams
//! beside a file; nothing is written through them, and nothing waits for what is typed.

use crate::{place, said};
use skimgauge_record::{JobId, Record, Stamp, When};
use skimgauge_tests::command::Place;

fn with_record() -> Place {
    let place = place();
    let mut record = Record::create(&place.record()).unwrap();
    let stamp =
        Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "R. Oakes", "test").unwrap();
    let text = std::fs::read_to_string(place.path("job.toml")).unwrap();
    record.open_job(JobId([1; 16]), "test wall", &text, &stamp).unwrap();
    place
}

fn handover(place: &Place, out: &str, more: &[&str]) -> std::process::Output {
    let words = ["handover", "--job", "test wall", "--record", "record.sqlite", "--out", out];
    place.run([&words, more].concat())
}

#[test]
fn a_page_is_not_written_to_a_device_a_stream_or_another_name() {
    let place = with_record();
    std::fs::write(place.path("mine.html"), "mine").unwrap();
    let names = |place: &Place| {
        let entries = std::fs::read_dir(place.path("")).unwrap();
        let mut names: Vec<_> = entries.map(|entry| entry.unwrap().file_name()).collect();
        names.sort();
        names
    };
    let before = names(&place);
    for replace in [&[][..], &["--replace"]] {
        for (out, says) in [
            ("NUL", "is a device"),
            ("con.html", "is a device"),
            ("Aux.page.html", "is a device"),
            ("no\\com1\\page.html", "is a device"),
            (r"\\.\COM5", "is a device"),
            ("page.html.", "which Windows leaves off"),
            ("page ", "which Windows leaves off"),
            ("mine.html:page", "Windows has no file with ':' in its name"),
            ("page?.html", "Windows has no file with '?' in its name"),
            ("MINE.HTML", "MINE.HTML is there already"),
            (".\\mine.html", "is there already"),
            ("RECORD.SQLITE", "is the record"),
            ("job.toml", "is there already"),
            ("no\\such\\page.html", "There is no folder"),
            (".", "is a folder"),
        ] {
            let text = said(&handover(&place, out, replace));
            assert!(text.contains(says), "{out} {replace:?}: {text}");
            assert_eq!(names(&place), before, "{out}");
            assert_eq!(std::fs::read(place.path("mine.html")).unwrap(), b"mine");
        }
    }
}

#[test]
fn a_page_is_replaced_when_asked_and_goes_to_any_folder_that_there_is() {
    let place = with_record();
    std::fs::create_dir(place.path("Büro Süd")).unwrap();
    let whole = place.path("Büro Süd").join("Übergabe 1.html");
    // From the drive's letter, and as a long path.
    let long = format!(r"\\?\{}", whole.display());
    for out in [r"Büro Süd\Übergabe 1.html", whole.to_str().unwrap(), &long] {
        assert_eq!(handover(&place, out, &["--replace"]).status.code(), Some(0), "{out}");
        let page = std::fs::read_to_string(&whole).unwrap();
        assert!(page.trim_end().ends_with("</html>"), "not whole");
        assert!(said(&handover(&place, out, &[])).contains("--replace"), "{out}");
    }
    let left = std::fs::read_dir(place.path("Büro Süd")).unwrap().count();
    assert_eq!(left, 1, "something was left beside it");
    // Whoever reads it meanwhile goes on reading what was there.
    let reads = std::fs::File::open(&whole).unwrap();
    assert_eq!(handover(&place, whole.to_str().unwrap(), &["--replace"]).status.code(), Some(0));
    assert!(reads.metadata().unwrap().len() > 0);
    // One file under two names is left alone.
    std::fs::hard_link(&whole, place.path("other.html")).unwrap();
    let text = said(&handover(&place, "other.html", &["--replace"]));
    assert!(text.contains("another name, too"), "{text}");
}

#[test]
fn a_device_is_no_job_file_no_table_and_no_record() {
    let place = with_record();
    for words in [
        &["watch", "--job", "CON", "--head", "COM219"][..],
        &["watch", "--job", "aux.toml", "--head", "COM219"],
        &["trim", "--job", "job.toml", "--from", "con"],
        &["watch", "--job", "job.toml", "--from", "COM1.rec"],
        &["watch", "--job", "job.toml", "--record", "nul.sqlite", "--head", "COM219"],
        &["jobs", "verify", "NUL"],
        &["jobs", "new", "aux.toml"],
    ] {
        let text = said(&place.run(words));
        assert!(text.contains("a device"), "{words:?}: {text}");
    }
}

#[test]
fn a_port_that_is_not_there_is_said_in_no_language_but_ours() {
    let place = place();
    for port in ["COM219", r"\\.\COM219"] {
        let words = ["watch", "--job", "job.toml", "--record", "record.sqlite", "--head", port];
        let text = said(&place.run(words));
        assert!(text.starts_with(&format!("There is no port {port}. Plug the head in;")), "{text}");
    }
}
