//! Job files: refused with every problem at its place, in words that steer no screen; or accepted,
//! and then the same job whatever wrote the file: with other line ends, written anew by the TOML
//! library from what it makes of the text, or kept as JSON and read back. What is accepted is
//! within what the fields promise.

use crate::Target;
use skimgauge_jobfile::{Job, JobErrors, JobFile, LARGEST_FILE_BYTES};
use skimgauge_quantity::{Mm, steers};

/// Job files.
pub const TARGET: Target = Target {
    name: "job_file",
    check,
    each_run: 9_000,
    words: &[
        "[image]\n",
        "[[adjuster]]\n",
        "[[station]]\n",
        "[band]\n",
        "[fixings]\n",
        "[room]\n",
        "[mount]\n",
        "[[mount.size]]\n",
        "[tape]\n",
        "[corners]\n",
        "[touch]\n",
        "[limits]\n",
        "[board]\n",
        "\"94 in\"",
        "\"93 3/8 in\"",
        "\"1.5 mm\"",
        "\"-0 mm\"",
        "\"1e308 mm\"",
        "\"nan mm\"",
        "\"\"",
        "\"\"\"",
        "'''",
        "= ",
        "[",
        "]",
        "{",
        "}",
        "#",
        "\\u0007",
        "true",
        "1979-05-27",
        "\u{feff}",
        "\r\n",
    ],
};

fn check(input: &[u8]) {
    let text = std::str::from_utf8(input).ok();
    match JobFile::read_bytes("board.toml", input) {
        Err(errors) => refused(input, &errors),
        Ok(job) => accepted(text.expect("what is accepted is text"), &job),
    }
    let (whole, far) =
        (Job::parse_bytes("board.toml", input), JobFile::read_bytes("board.toml", input));
    match whole {
        Ok(job) => assert_eq!(far.expect("read as far as it goes").touch_plane(), Ok(job)),
        Err(errors) => {
            refused(input, &errors);
            assert!(far.is_err() || far.is_ok_and(|job| job.touch_plane().is_err()));
        }
    }
}

fn refused(input: &[u8], errors: &JobErrors) {
    assert!((1..=40).contains(&errors.problems.len()), "{errors}");
    let lines = 1 + input.iter().filter(|byte| **byte == b'\n').count();
    for problem in &errors.problems {
        assert!((1..=lines).contains(&problem.line), "{errors}");
        assert!(problem.column >= 1 && problem.mark_width >= 1, "{errors}");
        assert!(problem.wrong.len() + problem.expected.len() < 4_000, "{errors}");
    }
    let said = errors.to_string();
    assert!(!said.contains(|c: char| steers(c) && c != '\n'), "{said:?}");
}

fn accepted(text: &str, job: &JobFile) {
    assert!(text.len() <= LARGEST_FILE_BYTES);
    let side = Mm(50.0)..=Mm(20_000.0);
    assert!(side.contains(&job.image.width) && side.contains(&job.image.height), "{:?}", job.image);
    assert!(matches!(job.adjusters.len(), 0 | 3), "{:?}", job.adjusters);
    assert!(job.stations.len() >= 3);
    for (at, station) in job.stations.iter().enumerate() {
        assert!(station.at.is_finite(), "{station:?}");
        let twin = |other: &skimgauge_model::Station| other.name == station.name;
        assert!(!job.stations[..at].iter().any(twin), "two stations named {}", station.name);
    }
    if let Some(band) = job.gap_band() {
        assert!(band.low.is_finite() && band.high.is_finite() && band.low < band.high, "{band:?}");
    }
    kept_as_json(job);
    let same = |how: &str, text: &str| {
        let again = JobFile::read("board.toml", text);
        let again = again.unwrap_or_else(|errors| panic!("{how} it is refused:\n{errors}\n{text}"));
        if matches!((&again.fixings, &job.fixings), (Some(Err(_)), Some(Err(_)))) {
            // The problems' places differ.
            return assert_eq!(without_fixings(again), without_fixings(job.clone()), "{how}");
        }
        assert_eq!(&again, job, "{how} it is another job");
    };
    // Inside a text of several lines a line end is the text's own.
    if !text.contains("\"\"\"") && !text.contains("'''") {
        same("with other line ends", &text.replace("\r\n", "\n").replace('\n', "\r\n"));
    }
    same("with a remark behind it", &format!("{text}\n# a remark\n"));
    // The limit is for what a person writes.
    let anew = toml::from_str::<toml::Table>(text).expect("what is accepted is TOML").to_string();
    if anew.len() < LARGEST_FILE_BYTES {
        same("written anew", &anew);
    }
}

fn without_fixings(mut job: JobFile) -> JobFile {
    job.fixings = None;
    job
}

fn kept_as_json(job: &JobFile) {
    let json = serde_json::to_string(job).expect("a job is JSON");
    let back: JobFile = serde_json::from_str(&json).expect("and is read back");
    assert_eq!(&back, job, "through JSON");
}
