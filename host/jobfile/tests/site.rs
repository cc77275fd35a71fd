//! The sections for set-out, fixings and square: read as written, and wrong in words.

use skimgauge_jobfile::{Job, JobErrors, JobFile, Known, Unready, filled_in};
use skimgauge_site::fixings::practice::{PlateRole, Wall};
use skimgauge_site::square::Measured;
use skimgauge_site::square::quadrilateral::Span;

/// The template with every site section uncommented.
fn whole() -> String {
    let known = Known {
        name: Some("reading room"),
        client: Some("Larch Lane Library"),
        place: Some("ground floor, north wall"),
        by: Some("R. Oakes"),
    };
    filled_in(&known)
}

fn wrong(change: impl FnOnce(String) -> String) -> String {
    Job::parse("site", &change(whole())).unwrap_err().to_string()
}

#[test]
fn every_site_section_is_read() {
    let job = Job::parse("site", &whole()).unwrap_or_else(|errors| panic!("{errors}"));
    let room = job.room.unwrap();
    assert_eq!(
        (room.room.ceiling_mm, room.place.top_above_floor_mm, room.level_line_mm),
        (2800.0, 2050.0, Some(1000.0))
    );
    assert_eq!(room.room.obstacles[0].off_wall_mm, 10.0);
    let mount = job.mount.unwrap();
    assert_eq!(mount.throw_ratio, Some(0.27));
    assert_eq!(
        mount.plates[0].holes.iter().map(|hole| hole.name.as_str()).collect::<Vec<_>>(),
        ["A", "B", "C", "D"]
    );
    assert_eq!(mount.sizes[1].plates[0].y_mm, 398.0);
    let fixings = job.fixings.unwrap().unwrap();
    assert_eq!((fixings.wall, fixings.load_factor), (Wall::Concrete, 1.5));
    let plate = &fixings.plates[0];
    assert_eq!((plate.role, plate.anchors.len(), plate.share), (PlateRole::Centre, 4, Some(1.0)));
    // The samples name the plate that they are for.
    assert_eq!(
        (plate.own.masses.len(), plate.own.handling.len(), fixings.shared.is_empty()),
        (1, 1, true)
    );
    assert_eq!(plate.own.handling[0].fy_n, -300.0);
    assert_eq!(plate.allowable.as_ref().unwrap().tension_n, 1500.0);
    assert_eq!(plate.proof[0].held_s, 60.0);
    let tape = job.tape.unwrap();
    let Measured::Tape { readings, u_mm, rise } = tape.measured else { panic!("not a tape") };
    assert_eq!((readings.len(), u_mm, rise.unwrap().rise_mm), (7, 1.0, 1.5));
    assert_eq!(readings.iter().filter(|reading| reading.span == Span::Top).count(), 2);
    assert_eq!(tape.bows[0].outward_mm, -2.0);
    assert!(matches!(job.corners, Some(Measured::Offsets { .. })));
}

#[test]
fn a_plate_takes_its_size_and_holes_from_the_mount() {
    let keep = |text: String| {
        let from = text.find("[[fixings.plate]]").unwrap();
        let to = text[from..].find("share = ").unwrap() + from;
        format!("{}[[fixings.plate]]\nname = \"centre plate\"\n{}", &text[..from], &text[to..])
    };
    let job = Job::parse("site", &keep(whole())).unwrap_or_else(|errors| panic!("{errors}"));
    let (plate, mount) = (&job.fixings().unwrap().plates[0], job.mount.as_ref().unwrap());
    assert_eq!((plate.width_mm, plate.anchors[3].y_mm), (300.0, -145.0));
    assert_eq!(plate.anchors[3].name, mount.plates[0].holes[3].name);
    let unknown = wrong(|text| {
        keep(text).replacen(
            "[[fixings.plate]]\nname = \"centre plate\"",
            "[[fixings.plate]]\nname = \"left plate\"",
            1,
        )
    });
    assert!(
        unknown.contains("has no `anchors`") && unknown.contains("has no `width`"),
        "{unknown}"
    );
}

#[test]
fn what_is_wrong_is_told_at_its_line() {
    let says = |from: &str, to: &str, expected: &str| {
        let said = wrong(|text| {
            assert!(text.contains(from), "{from}");
            text.replacen(from, to, 1)
        });
        assert!(said.contains(expected), "{from} -> {to}:\n{said}");
    };
    says("image_top = \"2050 mm\"", "image_top = \"3050 mm\"", "above the ceiling");
    says("right = \"680 mm\"", "right = \"580 mm\"", "not beyond the opposite one");
    says("throw = 0.27", "throw = \"0.27\"", "without quotes or unit");
    says("load_factor = 1.5", "load_factor = 0.5", "a plain number from 1 to 10");
    says(
        "plates = [[\"0 mm\", \"350 mm\"]]",
        "plates = [[\"0 mm\", \"350 mm\"], [\"1 mm\", \"2 mm\"]]",
        "here: 2 places for 1 plate",
    );
    says(
        "image_width = \"2155 mm\"",
        "image_width = \"1880 mm\"",
        "the width 1880 mm is listed twice",
    );
    says("approval = \"number and date\"", "", "has no `approval`");
    says("plate = \"centre plate\"", "plate = \"centre\"", "there is no plate \"centre\"");
    says("proof_time = \"60 s\"", "", "has no `proof_time`");
    says("tension = \"1.5 kN\"", "tension = \"1.5 kg\"", "force");
    says("left = \"1265 mm\"", "left = \"1265\"", "unit");
    says("rise_uncertainty = \"0.5 mm\"", "", "has no `rise_uncertainty`");
    says("top_right = [\"-1 mm\", \"1 mm\"]", "", "has no `top_right`");
    says("#square = 0.0025", "square = 0.25", "a plain number from 0.0002 to 0.02");
    says("#square = 0.0025", "square = \"5 mm\"", "without quotes or unit");
    let few = wrong(|text| {
        text.replacen("falling = \"2394 mm\"", "", 1).replacen("rising = \"2393 mm\"", "", 1)
    });
    assert!(few.contains("lacks falling, rising"), "{few}");
}

/// A job with two plates that carry a 40 kg unit between them, and nothing else that set-out or
/// fixings do not need.
fn bracket(shares: [&str; 2], more: &str) -> String {
    let plate = |name: &str, share: &str| {
        format!(
            "[[fixings.plate]]\nname = \"{name}\"\nrole = \"side\"\nwidth = \"120 mm\"\nheight = \"340 mm\"\nanchors = [[\"0 mm\", \"145 mm\"], [\"0 mm\", \"-145 mm\"]]\n{share}\n"
        )
    };
    format!(
        "[job]\nname = \"hall\"\n[image]\ndiagonal = \"94 in\"\naspect = \"16:10\"\n[fixings]\nwall = \"concrete\"\nload_factor = 1.5\n{}{}[[fixings.mass]]\nname = \"unit\"\nweight = \"40 kg\"\narm = \"350 mm\"\n{more}",
        plate("left", shares[0]),
        plate("right", shares[1])
    )
}

#[track_caller]
fn held_back(text: &str) -> JobErrors {
    // The rest of the file is read all the same: whoever takes gaps does not care about anchors.
    let job = JobFile::read("hall.toml", text).unwrap_or_else(|errors| panic!("{errors}"));
    match job.fixings() {
        Err(Unready::Wrong(problems)) => problems,
        other => panic!("{other:?}"),
    }
}

#[test]
fn shares_that_do_not_add_up_are_told_at_their_line_with_their_sum() {
    let text = bracket(["share = 0.3", "share = 0.3 # of all"], "");
    let problems = held_back(&text);
    assert_eq!(problems.problems.len(), 1);
    let problem = &problems.problems[0];
    assert_eq!(text.lines().nth(problem.line - 1), Some("share = 0.3 # of all"));
    assert!(
        problem.wrong.contains("add up to 0.600") && problem.wrong.contains("40 % of what hangs"),
        "{problems}"
    );
    assert!(problem.expected.contains("add up to 1"), "{problems}");
    let unsaid = held_back(&bracket(["share = 0.5", ""], ""));
    assert!(unsaid.problems[0].wrong.contains("right does not say which part"), "{unsaid}");
    assert_eq!(unsaid.problems[0].source, "[[fixings.plate]]");
    let whole = JobFile::read("hall.toml", &bracket(["share = 0.5", "share = 0.5"], "")).unwrap();
    assert_eq!(whole.fixings().unwrap().shared.masses[0].mass_kg, 40.0);
}

#[test]
fn what_a_plate_carries_alone_is_not_shared() {
    let more = "[[fixings.mass]]\nname = \"shelf\"\nweight = \"10 kg\"\narm = \"200 mm\"\nplate = \"left\"\n";
    let job = JobFile::read("hall.toml", &bracket(["share = 0.5", "share = 0.5"], more)).unwrap();
    let fixings = job.fixings().unwrap();
    assert_eq!((fixings.plates[0].own.masses.len(), fixings.plates[1].own.masses.len()), (1, 0));
    assert_eq!((fixings.shared.masses.len(), fixings.shared.masses[0].name.as_str()), (1, "unit"));
    let elsewhere = more.replace("left", "centre");
    let errors = JobFile::read("hall.toml", &bracket(["share = 0.5", "share = 0.5"], &elsewhere))
        .unwrap_err();
    assert!(errors.to_string().contains("there is no plate \"centre\""), "{errors}");
}

#[test]
fn what_keeps_anchors_from_being_judged_is_told_at_its_line() {
    let says = |from: &str, to: &str, source: &str, expected: &str| {
        let text = whole().replacen(from, to, 1);
        assert_ne!(text, whole(), "{from}");
        let problems = held_back(&text);
        assert_eq!(problems.problems.len(), 1, "{problems}");
        assert!(problems.problems[0].source.starts_with(source), "{problems}");
        assert!(problems.to_string().contains(expected), "{problems}");
    };
    says(
        "load_factor = 1.5",
        "load_factor = 1",
        "meant_for = ",
        "load_factor = 1.5 or what your local code asks for",
    );
    says("load_factor = 1.5", "load_factor = 1.0", "meant_for = ", "they pass nothing");
    says(
        "weight = \"18 kg\"",
        "weight = \"18 g\"",
        "weight = \"18 g\"",
        "is the unit right (kg, g, lb)?",
    );
    says("share = 1.0", "share = 0.6", "share = 0.6", "add up to 0.600");
    says("anchors = [[", "anchors = [] # [[", "anchors = []", "has no anchors");
    says("anchors = [[\"-100 mm\"", "anchors = [[\"-200 mm\"", "anchors = ", "outside the plate");
    let both = whole().replacen("steel_governs = false", "steel_governs = true", 1);
    let both = held_back(&both.replacen("straight_rule = false", "straight_rule = true", 1));
    assert!(both.problems[0].source.starts_with("straight_rule = true"), "{both}");
    assert!(both.problems[0].wrong.contains("only one of them"), "{both}");
}

/// What comes before the touch plane needs nothing that is known of it only afterwards.
#[test]
fn room_fixings_and_tape_are_read_before_adjusters_and_band_are_known() {
    let from = whole().find("[[adjuster]]").unwrap();
    let to = whole().find("[room]").unwrap();
    let before = format!("{}{}", &whole()[..from], &whole()[to..]);
    let job = JobFile::read("site", &before).unwrap_or_else(|errors| panic!("{errors}"));
    assert!(
        job.room().is_ok()
            && job.fixings().is_ok()
            && job.tape.is_some()
            && job.adjusters.is_empty()
    );
    assert_eq!(job.gap_band(), None);
    let turns = job.three_adjusters().unwrap_err().to_string();
    assert!(
        turns.contains("no [[adjuster]] section: where the emitter's three adjusters are"),
        "{turns}"
    );
    let gaps = job.touch_plane().unwrap_err().to_string();
    assert!(gaps.contains("no [band] section: what the gap may be is not known"), "{gaps}");
    let watched = Job::parse("site", &before).unwrap_err();
    assert!(
        watched.to_string().contains("no [band] section: what the gap may be is not known"),
        "{watched}"
    );
    assert_eq!(watched.problems.len(), 1);
    // What is there has to be right all the same.
    let wrong = before + "[band]\ngap = \"1 mm\"\n";
    assert!(JobFile::read("site", &wrong).unwrap_err().to_string().contains("in square brackets"));
}

/// The job that a release brings along: each site section is in it and is read.
#[test]
fn the_sample_job_has_every_section() {
    let job = Job::parse("sample", &skimgauge_jobfile::sample_job())
        .unwrap_or_else(|errors| panic!("{errors}"));
    assert!(job.room.is_some() && job.mount.is_some() && job.fixings.is_some());
    assert!(job.tape.is_some() && job.corners.is_some() && job.touch.is_some());
    assert!(!job.adjusters.is_empty());
}
