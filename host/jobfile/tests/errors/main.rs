//! What a person is told when the job file is wrong: each kind of mistake, at its line, with what
//! is expected.

mod whole_file;

use proptest::prelude::*;
use skimgauge_jobfile::{Job, JobErrors, Known, Missing, demo_job, template};

/// The demonstration's job with one piece of its text replaced.
fn with(old: &str, new: &str) -> String {
    assert!(demo_job().contains(old), "{old}");
    demo_job().replacen(old, new, 1)
}

fn errors(text: &str) -> JobErrors {
    Job::parse("wall.toml", text).expect_err("this was to be refused")
}

/// The only problem: its source line, and what is said of it.
#[track_caller]
fn only(text: &str, source: &str, wrong: &str, expected: &str) {
    let errors = errors(text);
    assert_eq!(errors.problems.len(), 1, "{errors}");
    let problem = &errors.problems[0];
    assert_eq!(problem.source, source, "{errors}");
    assert_eq!(text.lines().nth(problem.line - 1).map(str::trim_end), Some(source), "{errors}");
    assert!(problem.wrong.contains(wrong), "{errors}");
    assert!(problem.expected.contains(expected), "{errors}");
}

#[test]
fn the_whole_report_as_a_person_sees_it() {
    let text = "[image]\ndiagnal = \"94 in\"\naspect = \"16:10\"\n";
    let report = errors(text).to_string();
    let begins = "\
wall.toml, line 1, column 1: [image] has no `diagonal`
  1 | [image]
    | ^^^^^^^
      expected: a line like diagonal = \"94 in\"
wall.toml, line 2, column 1: [image] has no key `diagnal`
  2 | diagnal = \"94 in\"
    | ^^^^^^^
      expected: did you mean `diagonal`? Keys of [image]: diagonal, aspect, width, height
";
    assert!(report.starts_with(begins), "{report}");
}

#[test]
fn unknown_key_with_the_nearest_one() {
    let text = with("above_top =", "abovetop =");
    only(&text, "abovetop = \"80 mm\"", "no key `abovetop`", "did you mean `above_top`?");
    let text = with("above_top =", "Above-Top =");
    only(&text, "Above-Top = \"80 mm\"", "no key `Above-Top`", "did you mean `above_top`?");
}

#[test]
fn unknown_key_that_belongs_elsewhere() {
    let text = with("model =", "serial =");
    only(&text, "serial = \"practice emitter\"", "no key `serial`", "belongs in [head]");
}

#[test]
fn what_another_material_may_do_is_a_length_that_can_be() {
    let with = |value: &str| with("material = \"0 mm\"", &format!("material = {value}"));
    only(&with("0.2"), "material = 0.2", "does not say its unit", "such as \"");
    only(&with("\"3 mm\""), "material = \"3 mm\"", "to be meant", "from 0 mm to 2 mm");
    only(&with("\"-0.1 mm\""), "material = \"-0.1 mm\"", "to be meant", "from 0 mm to 2 mm");
    let job = Job::parse("wall.toml", &with("\"0.1 mm\"")).unwrap();
    assert_eq!(job.limits.material.0, 0.1);
    let text = demo_job().replace("material =", "materiel =");
    only(&text, "materiel = \"0 mm\"", "no key `materiel`", "did you mean `material`?");
}

#[test]
fn unknown_section() {
    let text = with("[emitter]", "[emiter]");
    only(&text, "[emiter]", "not a section", "did you mean [emitter]?");
}

#[test]
fn wrong_unit() {
    let text = with("\"94 in\"", "\"94 deg\"");
    only(
        &text,
        "diagonal = \"94 deg\"",
        "`deg` is the unit of an angle",
        "a length in one of: mm, cm, m, in, ft",
    );
    let text = with("\"94 in\"", "\"94 IN\"");
    only(&text, "diagonal = \"94 IN\"", "did you mean `in`?", "mm, cm, m, in, ft");
}

#[test]
fn missing_unit_and_bare_number() {
    let text = with("\"94 in\"", "\"94\"");
    only(&text, "diagonal = \"94\"", "has no unit", "such as \"2025 mm\"");
    for bare in ["94", "94.0", "nan", "inf", "0x5e", "99999999999999999999"] {
        let text = with("\"94 in\"", bare);
        only(&text, &format!("diagonal = {bare}"), "does not say its unit", "such as \"2025 mm\"");
    }
}

#[test]
fn image_of_no_size() {
    for none in ["0 in", "-94 in", "94 mm", "94 ft"] {
        let text = with("94 in", none);
        only(
            &text,
            &format!("diagonal = \"{none}\""),
            "to be meant: is the unit right?",
            "from 100 mm to 20000 mm",
        );
    }
    let text = with("\"16:10\"", "\"16:0\"");
    only(&text, "aspect = \"16:0\"", "aspect", "\"16:10\"");
    let text = with("\"16:10\"", "\"16/10\"");
    only(&text, "aspect = \"16/10\"", "16/10", "with a colon");
}

#[test]
fn image_said_twice_or_not_at_all() {
    let text = with("aspect =", "width = \"2 m\"\naspect =");
    only(&text, "width = \"2 m\"", "said in two ways", "either");
    let text = with("diagonal = \"94 in\"\naspect = \"16:10\"\n", "");
    only(&text, "[image]", "how large", "width and height");
    let text = with("diagonal = \"94 in\"\naspect = \"16:10\"\n", "width = \"2 m\"\n");
    only(&text, "[image]", "no `height`", "height = \"1265 mm\"");
}

#[test]
fn low_above_high() {
    let text = with("[\"1.0 mm\", \"4.0 mm\"]", "[\"4.0 mm\", \"0.1 cm\"]");
    only(
        &text,
        "gap = [\"4.0 mm\", \"0.1 cm\"]",
        "the low end \"4.0 mm\" is above the high end",
        "low then high",
    );
    let text = with("[\"1.0 mm\", \"4.0 mm\"]", "[\"4.0 mm\", \"4 mm\"]");
    only(&text, "gap = [\"4.0 mm\", \"4 mm\"]", "nothing would ever pass", "low then high");
}

#[test]
fn band_of_the_wrong_shape() {
    for (gap, wrong) in [
        ("[\"1 mm\"]", "here: 1 value"),
        ("[]", "here: 0 values"),
        ("\"1 mm\"", "does not fit here"),
        ("[[\"1 mm\"], \"4 mm\"]", "is a list"),
        ("[1, \"4 mm\"]", "bare number"),
    ] {
        let text = with("[\"1.0 mm\", \"4.0 mm\"]", gap);
        only(&text, &format!("gap = {gap}"), wrong, "");
    }
}

#[test]
fn plane_that_may_touch_the_board() {
    let text = with("[\"1.0 mm\", \"4.0 mm\"]", "[\"0 mm\", \"4.0 mm\"]");
    only(&text, "gap = [\"0 mm\", \"4.0 mm\"]", "\"0 mm\" is too small", "from 0.05 mm");
}

/// A band's ends are gaps that a table of readings may hold.
#[test]
fn a_band_that_no_head_reads_is_refused_with_the_reason() {
    for (gap, wrong) in [
        ("[\"0.3 mm\", \"4.0 mm\"]", "no head reads a gap under 0.4 mm"),
        ("[\"1.0 mm\", \"17 mm\"]", "no head reads a gap over 16.6 mm"),
    ] {
        let text = with("[\"1.0 mm\", \"4.0 mm\"]", gap);
        only(&text, &format!("gap = {gap}"), wrong, "from 0.4 mm to 16.6 mm");
    }
    assert!(Job::parse("job", &with("[\"1.0 mm\"", "[\"0.4 mm\"")).is_ok());
}

/// A minus that was forgotten puts one adjuster upon another: said of that one, by its name.
#[test]
fn adjusters_at_one_place() {
    let text = with("right = \"-100 mm\"", "right = \"100 mm\"");
    only(&text, "right = \"100 mm\"", "\"right\" stands where \"left\" does", "right is negative");
}

#[test]
fn adjusters_in_a_line() {
    let text = with("up = \"140 mm\"", "up = \"82 mm\"");
    only(&text, "[[adjuster]]", "in a line, to within 2.0 mm", "a triangle");
}

#[test]
fn wrong_count_of_adjusters() {
    let fourth = format!(
        "{}\n[[adjuster]]\nname = \"lower\"\nright = \"0 mm\"\nup = \"20 mm\"\npitch = \"1 mm\"\nclockwise = \"in\"\ntravel_clockwise = \"1 turn\"\ntravel_anticlockwise = \"1 turn\"\n",
        demo_job()
    );
    only(&fourth, "[[adjuster]]", "given 4 times", "exactly three");
    let none: String = demo_job()
        .split("\n\n")
        .filter(|part| !part.starts_with("[[adjuster]]"))
        .map(|part| format!("{part}\n\n"))
        .collect();
    // No adjusters are no mistake before the emitter hangs: whoever says how to turn them asks.
    let job = Job::parse("none", &none).unwrap();
    assert!(job.adjusters.is_empty());
    assert_eq!(job.three_adjusters().unwrap_err(), Missing::ADJUSTERS);
}

#[test]
fn repeated_adjuster_name() {
    let text = with("name = \"right\"", "name = \"Left\"");
    only(&text, "name = \"Left\"", "two adjusters named \"Left\"", "a name of its own");
}

#[test]
fn adjuster_screw() {
    let text = with("pitch = \"0.5 mm\"", "thread = \"M7\"");
    only(&text, "thread = \"M7\"", "not known", "M2.5, M3, M4");
    let text = with("pitch = \"0.5 mm\"", "pitch = \"0.5 mm\"\nthread = \"M3\"");
    only(&text, "thread = \"M3\"", "said in two ways", "one of them");
    let text = with("clockwise = \"out\"", "clockwise = \"left\"");
    only(&text, "clockwise = \"left\"", "does not fit", "\"out\" or \"in\"");
    let text = with(
        "travel_clockwise = \"8 turns\"\ntravel_anticlockwise = \"8 turns\"",
        "travel_clockwise = \"0 turns\"\ntravel_anticlockwise = \"0 turns\"",
    );
    only(&text, "travel_anticlockwise = \"0 turns\"", "cannot be turned either way", "some travel");
    // ISO 261 coarse.
    let text = demo_job().replace("pitch = \"0.5 mm\"", "thread = \"M4\"");
    assert!(Job::parse("m4", &text).unwrap().adjusters.iter().all(|a| a.pitch.0 == 0.7));
}

fn with_stations(stations: &[(&str, &str, &str)]) -> String {
    let mut text = demo_job().to_owned();
    for (name, right, up) in stations {
        text.push_str(&format!(
            "\n[[station]]\nname = \"{name}\"\nright = \"{right}\"\nup = \"{up}\"\n"
        ));
    }
    text
}

#[test]
fn stations_off_the_image() {
    let (a, b) = (("a", "-900 mm", "0 mm"), ("b", "900 mm", "0 mm"));
    let text = with_stations(&[a, b, ("c", "0 mm", "-1300 mm")]);
    only(&text, "up = \"-1300 mm\"", "35 mm below the image", "-1265 mm to 0 mm");
    let text = with_stations(&[a, b, ("c", "0 mm", "1200 mm")]);
    only(&text, "up = \"1200 mm\"", "above the image's top edge", "-1265 mm to 0 mm");
    let text = with_stations(&[a, b, ("c", "1.1 m", "-1200 mm")]);
    only(&text, "right = \"1.1 m\"", "88 mm beside the image", "-1012 mm to 1012 mm");
}

#[test]
fn stations_that_decide_nothing() {
    let (a, b) = (("a", "-900 mm", "0 mm"), ("b", "900 mm", "0 mm"));
    only(&with_stations(&[a]), "[[station]]", "1 station cannot decide", "three or more");
    only(&with_stations(&[a, b]), "[[station]]", "2 stations cannot decide", "three or more");
    let text = with_stations(&[a, b, ("c", "0 mm", "-20 mm")]);
    only(&text, "[[station]]", "in a line, to within 20.0 mm", "off the line");
    let text = with_stations(&[a, b, ("c", "0 mm", "-900 mm"), ("A", "0 mm", "-500 mm")]);
    only(&text, "name = \"A\"", "two stations named \"A\"", "a name of its own");
    let text = with_stations(&[a, b, ("c", "0 mm", "-900 mm"), ("d", "0 mm", "-90 cm")]);
    only(&text, "[[station]]", "\"d\" stands at the same place as \"c\"", "a place of its own");
}

#[test]
fn stations_of_the_file_keep_their_order() {
    let text = with_stations(&[
        ("c", "0 mm", "-900 mm"),
        ("b", "900 mm", "0 mm"),
        ("a", "-900 mm", "0 mm"),
    ]);
    let names: Vec<_> =
        Job::parse("order", &text).unwrap().stations.into_iter().map(|s| s.name).collect();
    assert_eq!(names, ["c", "b", "a"]);
}

#[test]
fn names_and_texts() {
    let text = with("\"practice wall\"", "\"a/b\"");
    only(&text, "name = \"a/b\"", "cannot have `/`", "a file's name");
    let text = with("\"practice wall\"", "\"  \"");
    only(&text, "name = \"  \"", "not filled in yet", "a text in the quotes");
    let text = with("\"practice wall\"", "\"two\\nlines\"");
    only(&text, "name = \"two\\nlines\"", "line break", "one line");
    let text = with("\"R. Oakes\"", "true");
    only(&text, "by = true", "does not fit", "double quotes");
    let long = "x".repeat(25);
    let text = with("name = \"left\"", &format!("name = \"{long}\""));
    only(&text, &format!("name = \"{long}\""), "25 characters", "at most 24");
}

#[test]
fn brackets_once_and_twice() {
    let text = with("[image]", "[[image]]");
    only(&text, "[[image]]", "two brackets", "one [image]");
    let text = format!("{}\n[station]\nname = \"a\"\n", demo_job());
    only(&text, "[station]", "one bracket", "[[station]] with two");
}

/// Sides of usual displays, mm, from diagonal and aspect: published sizes, computed to 1 um.
#[test]
fn image_sides_agree_with_display_sizes() {
    for (inches, aspect, width_mm, height_mm) in [
        (65, "16:9", 1438.971, 809.421),
        (75, "16:9", 1660.351, 933.948),
        (86, "16:9", 1903.870, 1070.927),
        (100, "16:9", 2213.802, 1245.264),
        (120, "16:9", 2656.562, 1494.316),
        (100, "16:10", 2153.916, 1346.197),
    ] {
        let text = with("94 in", &format!("{inches} in")).replacen("16:10", aspect, 1);
        let image = Job::parse("display", &text).unwrap().image;
        assert!((image.width.0 - width_mm).abs() < 6e-4, "{inches} {aspect}");
        assert!((image.height.0 - height_mm).abs() < 6e-4, "{inches} {aspect}");
    }
}

/// What begins a command to a terminal.
const ESCAPE: char = '\u{1b}';

/// What holds of every answer, whatever was asked.
fn check(text: &str) -> Result<(), TestCaseError> {
    match Job::parse("any", text) {
        Ok(job) => {
            prop_assert!(matches!(job.adjusters.len(), 0 | 3));
            prop_assert!(job.stations.len() >= 3);
            prop_assert!(job.bands.gap.low.0 > 0.0 && job.bands.gap.low < job.bands.gap.high);
            prop_assert!(job.image.width.0.is_finite() && job.image.height.0 > 0.0);
        }
        Err(errors) => {
            prop_assert!(!errors.problems.is_empty());
            let lines = text.matches('\n').count() + 1;
            for problem in &errors.problems {
                prop_assert!(problem.line >= 1 && problem.line <= lines);
                prop_assert!(!problem.wrong.is_empty() && !problem.expected.is_empty());
                prop_assert!(!problem.wrong.contains(ESCAPE) && !problem.expected.contains(ESCAPE));
            }
            prop_assert!(!errors.to_string().contains(ESCAPE));
        }
    }
    Ok(())
}

proptest! {
    #[test]
    fn any_text_is_a_job_or_refused(text in "(?s).{0,400}") {
        check(&text)?;
    }

    #[test]
    fn any_pieces_of_toml(pieces in prop::collection::vec(prop_oneof![
        Just("[image]\n"), Just("[[adjuster]]\n"), Just("[[station]]\n"), Just("[band]\n"), Just("[job.name]\n"),
        Just("[[image]]\n"), Just("[adjuster]\n"), Just("name = \"a\"\n"), Just("gap = [\"1 mm\", \"\\u001b\"]\n"),
        Just("\"\\u001b[2J\" = 1\n"), Just("right = { a = 1 }\n"), Just("up = [[], 1, {}]\n"), Just("image.width = 3\n"),
        Just("pitch = \"\u{1b}\"\n"), Just("station = []\n"), Just("station = [1, {name=\"b\"}]\n"), Just("\"\"\""), Just("'"),
    ], 0..20)) {
        check(&pieces.concat())?;
    }

    #[test]
    fn any_damage_to_a_good_file(cuts in prop::collection::vec((any::<prop::sample::Index>(), 0..6_usize, "\\PC{0,3}"), 1..5)) {
        for good in [demo_job().to_owned(), template(&Known { name: Some("reading room"), ..Known::default() })] {
            let mut chars: Vec<char> = good.chars().collect();
            for (at, length, new) in &cuts {
                let at = at.index(chars.len());
                let end = (at + length).min(chars.len());
                chars.splice(at..end, new.chars());
            }
            check(&chars.into_iter().collect::<String>())?;
        }
    }

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = Job::parse_bytes("bytes", &bytes);
    }
}

/// As tapes and drawings are read: feet with inches, a decimal comma; a comma that could be either
/// is refused.
#[test]
fn lengths_are_read_as_people_write_them() {
    for (written, width_mm) in [
        ("6 ft 8 in", 80.0 * 25.4),
        ("6'-8 1/2\\\"", 80.5 * 25.4),
        ("2025,5 mm", 2025.5),
        ("79 ⅜ in", 79.375 * 25.4),
    ] {
        let sides = format!("width = \"{written}\"\nheight = \"1265 mm\"\n");
        let text = with("diagonal = \"94 in\"\naspect = \"16:10\"\n", &sides);
        let job = Job::parse("wall.toml", &text).unwrap_or_else(|errors| panic!("{errors}"));
        assert!((job.image.width.0 - width_mm).abs() < 1e-9, "{written}");
    }
    let text = with("\"94 in\"", "\"1,265 mm\"");
    only(&text, "diagonal = \"1,265 mm\"", "could mean two things", "such as \"2025 mm\"");
    let text = with("\"94 in\"", "\"1 265 mm\"");
    only(&text, "diagonal = \"1 265 mm\"", "thousands are set apart", "such as \"2025 mm\"");
}
