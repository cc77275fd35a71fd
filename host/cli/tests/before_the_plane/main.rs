//! Set-out, fixings, square and survey as a user runs them: whole commands on files.

mod bench;
mod inches;
mod measured;
// Mounts a small disk.
#[cfg(unix)]
mod no_room;

use bench::{Bench, told};
use serde_json::Value;
use std::process::{Command, Stdio};

#[test]
fn setout_tells_marks_writes_drawings_and_stops_at_collisions() {
    let bench = Bench::new("setout");
    let (status, out, err) =
        bench.run(&["setout", "--record", "r.db", "--svg", "wall.svg", "--template", "holes.svg"]);
    // Worked out between two listed sizes: not everything is known.
    assert_eq!(status, 3, "{out}{err}");
    for expected in [
        "centre plate hole A",
        "NOT listed for this size",
        "right angle",
        "Cautions",
        "1 mm of arm travel",
    ] {
        assert!(out.contains(expected), "{expected}:\n{out}");
    }
    assert!(bench.read("wall.svg").contains("scale 1 : 25"));
    assert!(bench.read("holes-centre-plate-1-1.svg").contains("100 mm by a steel rule"));
    bench.change("image_width = \"1880 mm\"", "image_width = \"2024.7 mm\"");
    assert_eq!(bench.json(&["setout"]).0, 0);
    bench.change("bottom = \"300 mm\"", "bottom = \"900 mm\"");
    bench.change("top = \"380 mm\"", "top = \"980 mm\"");
    bench.change("right = \"680 mm\"", "right = \"1680 mm\"");
    let (status, found) = bench.json(&["setout"]);
    assert_eq!((status, found["stops"][0]["kind"].as_str()), (1, Some("collides")));
    assert_eq!(found["schema"], "skimgauge.setout");
}

/// A PDF's page has its size in points of 1/72 in (ISO 32000-1, 8.3.2.3): 210 mm are 595.28 of
/// them.
#[test]
fn hole_templates_are_one_pdf_where_it_was_built_in() {
    let bench = Bench::new("templates-pdf");
    let (status, _, err) = bench.run(&["setout", "--no-record", "--template", "holes.pdf"]);
    if cfg!(feature = "pdf") {
        assert_eq!(status, 3, "{err}");
        let bytes = std::fs::read(bench.folder.join("holes.pdf")).unwrap();
        assert!(bytes.starts_with(b"%PDF-"));
        let text = String::from_utf8_lossy(&bytes);
        let pages = text.matches("/MediaBox[0 0 595.27").count()
            + text.matches("/MediaBox [0 0 595.27").count();
        assert!(pages >= 1, "no page of A4");
    } else {
        assert_eq!(status, 2);
        assert!(err.contains("built without PDF"), "{err}");
    }
}

#[test]
fn what_does_not_fit_the_room_is_an_error_in_words() {
    let bench = Bench::new("setout-refused");
    bench.change("image_middle = \"2100 mm\"", "image_middle = \"900 mm\"");
    let (status, out, err) = bench.run(&["setout", "--no-record"]);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("beyond the left end of the wall"), "{err}");
}

#[test]
fn fixings_judges_numbers_and_never_the_wall() {
    let bench = Bench::new("fixings");
    let (status, found) = bench.json(&["fixings"]);
    // A proof load is asked for on every anchor, and one was made.
    assert_eq!((status, found["plates"][0]["judged"].as_str()), (3, Some("within-allowed")));
    assert_eq!(found["plates"][0]["proof_lacking"].as_array().unwrap().len(), 3);
    let (_, out, _) = bench.run(&["fixings", "--no-record"]);
    let said = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("a proof load is asked for and not made yet on B, C, D"), "{out}");
    assert!(out.contains("This says nothing about the wall") && out.contains("licensed engineer"));
    assert!(!out.to_lowercase().contains("safe"));
    bench.change("down = \"300 N\"", "down = \"900 N\"");
    assert_eq!(bench.json(&["fixings"]).0, 1);
}

#[test]
fn square_goes_by_corners_or_tape_and_moves_live() {
    let bench = Bench::new("square");
    assert!(bench.json(&["square"]).1["turnable"]["shift_right_mm"]["value"].is_number());
    let (status, taped) = bench.json(&["square", "--by", "tape"]);
    // The image is not square: something is to be turned.
    assert_eq!((status, taped["tape"]["agrees"].as_bool()), (1, Some(true)));
    assert!(taped["turnable"]["shift_right_mm"].is_null() && !taped["not_measured"].is_null());
    let mut live = bench.command(&["square", "--by", "tape", "--live", "--json", "--no-record"]);
    let mut child =
        live.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    std::io::Write::write_all(
        &mut child.stdin.take().unwrap(),
        b"falling 2491\nfalling rope\nquit\n",
    )
    .unwrap();
    let (status, out, err) = told(&child.wait_with_output().unwrap());
    assert_eq!(status, 3);
    assert!(err.contains("rope"), "{err}");
    let reports: Vec<Value> =
        serde_json::Deserializer::from_str(&out).into_iter().map(Result::unwrap).collect();
    assert_eq!(reports.len(), 2);
    assert_eq!(reports[1]["tape"]["agrees"], false);
    assert_eq!(
        reports[1]["corrections"],
        Value::Array(Vec::new()),
        "no turn follows from what cannot be"
    );
    assert_eq!(reports[1]["tape"]["suspects"][0]["span"], "falling-diagonal");
    bench.change("top = \"2024 mm\"", "top = \"204 mm\"");
    let (status, _, err) = bench.run(&["square", "--by", "tape", "--no-record"]);
    assert_eq!(status, 2);
    assert!(err.contains("measure these three again"), "{err}");
}

#[test]
fn survey_proposes_points_and_works_them_out() {
    let bench = Bench::new("survey");
    let (status, proposed) = bench.json(&["survey"]);
    assert_eq!((status, proposed["proposed"].as_array().unwrap().len()), (0, 9));
    // A pure twist of 1 mm at the corners of the image, plus nothing: minimum zone and least
    // squares are 2 mm (flatness of a twisted square, analytic).
    let mut table = String::from("x_mm,y_mm,z_mm\n");
    for (x, y, z) in [
        (-1000, 0, 1.0),
        (1000, 0, -1.0),
        (1000, -1200, 1.0),
        (-1000, -1200, -1.0),
        (0, -600, 0.0),
        (0, 0, 0.0),
        (0, -1200, 0.0),
    ] {
        table += &format!("{x},{y},{z}\n");
    }
    std::fs::write(bench.folder.join("points.csv"), table).unwrap();
    let (status, found) = bench.json(&["survey", "--from", "points.csv"]);
    // Seven places of a board of which nobody knows what it does between them: too close to call.
    assert_eq!((status, &found["band"]["verdict"]), (3, &"unsure".into()));
    assert!(found["band"]["can_be_met"].is_null(), "{found}");
    assert!((found["flatness_mm"].as_f64().unwrap() - 2.0).abs() < 1e-5, "{found}");
    assert!((found["least_squares_flatness_mm"].as_f64().unwrap() - 2.0).abs() < 1e-9);
    for key in ["plane", "bow_mm", "twist_mm", "worst"] {
        assert!(!found[key].is_null(), "{key}");
    }
    // The band is 3 mm wide: 0.5 mm are left on each side, and less between the places surveyed. A
    // band of 1 mm cannot be met, one of 6 mm can.
    let at = |found: &serde_json::Value, key: &str| found["band"][key].as_f64().unwrap();
    assert!((at(&found, "margin_mm") - 0.5).abs() < 1e-6);
    assert!(found["band"]["between"]["low_mm"].as_f64().unwrap() < 0.4, "{found}");
    bench.change("gap = [\"1.0 mm\", \"4.0 mm\"]", "gap = [\"1.0 mm\", \"7.0 mm\"]");
    let (status, found) = bench.json(&["survey", "--from", "points.csv"]);
    assert_eq!((status, &found["band"]["can_be_met"]), (0, &true.into()));
    bench.change("gap = [\"1.0 mm\", \"7.0 mm\"]", "gap = [\"1.0 mm\", \"4.0 mm\"]");
    bench.change("gap = [\"1.0 mm\", \"4.0 mm\"]", "gap = [\"1.0 mm\", \"2.0 mm\"]");
    assert_eq!(bench.json(&["survey", "--from", "points.csv"]).0, 1);
    std::fs::write(bench.folder.join("bad.csv"), "x_mm,y_mm,z_mm\n1,2,3\n4,5,x\n").unwrap();
    let (status, _, err) = bench.run(&["survey", "--from", "bad.csv", "--no-record"]);
    assert_eq!(status, 2);
    assert!(err.contains("bad.csv: line 3: z_mm is \"x\""), "{err}");
}

/// The same result twice in a row is one event. With something kept between it is found again, which
/// is what closes a step that had gone stale.
#[test]
fn a_result_is_kept_again_only_after_something_else() {
    let bench = Bench::new("record");
    let kept = |command: &str| {
        assert_ne!(bench.run(&[command, "--record", "r.db"]).0, 2);
        let record = skimgauge_record::Record::open_read_only(&bench.folder.join("r.db")).unwrap();
        let jobs = record.jobs().unwrap();
        let history = record.job(&jobs[0].name).unwrap();
        let sections = |event: &&skimgauge_record::Event| {
            matches!(event.body, skimgauge_record::event::Body::Section(_))
        };
        history.events.iter().filter(sections).count()
    };
    let commands = ["fixings", "fixings", "square", "square", "fixings"];
    assert_eq!(commands.map(kept), [1, 1, 2, 2, 3]);
}

/// Set-out, fixings and square come before the emitter hangs: a job file needs neither its
/// adjusters nor its band for them.
#[test]
fn what_comes_before_the_plane_needs_neither_adjusters_nor_band() {
    let whole = Bench::new("early-whole").job();
    let (from, to) = (whole.find("[[adjuster]]").unwrap(), whole.find("[room]").unwrap());
    let bench = Bench::with("early", &format!("{}{}", &whole[..from], &whole[to..]));
    for (words, expected) in [(&["setout"][..], 3), (&["fixings"], 3), (&["square"], 1)] {
        let (status, out, err) = bench.run(&[words, &["--record", "r.db"]].concat());
        assert_eq!(status, expected, "{words:?}: {out}{err}");
    }
    assert_eq!(bench.run(&["survey", "--no-record"]).0, 0);
    // They are in the record, and the client's page has them.
    let mut page = Command::new(env!("CARGO_BIN_EXE_skimgauge"));
    page.current_dir(&bench.folder).args([
        "handover",
        "--job",
        "job.toml",
        "--record",
        "r.db",
        "--out",
        "page.html",
    ]);
    let (status, _, err) = told(&page.stdin(Stdio::null()).output().unwrap());
    assert!(status != 2, "{err}");
    let page = bench.read("page.html").replace('\u{a0}', " ");
    assert!(
        page.contains("licensed engineer") && page.contains("Counted: unit and arm 18 kg"),
        "{page}"
    );
    // What judges or turns says which section is missing, and why, before it looks for a head.
    std::fs::write(
        bench.folder.join("points.csv"),
        "x_mm,y_mm,z_mm\n-900,0,0\n900,0,0\n0,-1200,0\n",
    )
    .unwrap();
    std::fs::write(
        bench.folder.join("readings.csv"),
        "station,x_mm,y_mm,gap_mm\na,-900,0,3\nb,900,0,3\nc,0,-1200,3\n",
    )
    .unwrap();
    for words in [
        &["watch", "--head", "nowhere", "--plain"][..],
        &["trim", "--head", "nowhere", "--plain"],
        &["trim", "--from", "readings.csv"],
        &["survey", "--from", "points.csv", "--no-record"],
    ] {
        let (status, _, err) = bench.run(words);
        assert_eq!(status, 2, "{words:?}: {err}");
        assert!(
            err.contains("no [band] section: what the gap may be is not known"),
            "{words:?}: {err}"
        );
    }
    let job = bench.job() + "\n[band]\ngap = [\"1 mm\", \"4 mm\"]\n";
    std::fs::write(bench.folder.join("job.toml"), job).unwrap();
    for words in
        [&["trim", "--head", "nowhere", "--plain"][..], &["trim", "--from", "readings.csv"]]
    {
        let (status, _, err) = bench.run(words);
        assert_eq!(status, 2, "{words:?}: {err}");
        assert!(
            err.contains("no [[adjuster]] section: where the emitter's three adjusters are"),
            "{words:?}: {err}"
        );
    }
    // Whoever watches turns nothing: with the band alone it is the head that is missing.
    let (status, _, err) = bench.run(&["watch", "--head", "nowhere", "--plain"]);
    assert_eq!(status, 2);
    assert!(!err.contains("adjuster") && !err.contains("[band]"), "{err}");
}

/// 0.3 and 0.3 of 40 kg passed with 60 % of the load and exit 0.
#[test]
fn shares_that_lose_a_part_of_the_load_are_refused_with_their_line_and_sum() {
    let bench = Bench::new("shares");
    bench.change("share = 1.0", "share = 0.6");
    let (status, out, err) = bench.run(&["fixings", "--no-record"]);
    assert_eq!((status, out.as_str()), (2, ""));
    let line = bench.job().lines().position(|line| line.starts_with("share = 0.6")).unwrap() + 1;
    assert!(err.contains(&format!("job.toml, line {line}, ")), "{err}");
    assert!(
        err.contains("add up to 0.600: 40 % of what hangs on all of them would be on no plate"),
        "{err}"
    );
    assert!(err.contains("expected: shares of all plates that add up to 1"), "{err}");
    // Nobody else cares.
    assert_eq!(bench.json(&["square"]).0, 1);
}

#[test]
fn factored_values_without_a_load_factor_say_what_to_enter() {
    let bench = Bench::new("factored");
    bench.change("load_factor = 1.5", "load_factor = 1");
    let (status, out, err) = bench.run(&["fixings", "--no-record"]);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("the load factor is 1: they pass nothing"), "{err}");
    assert!(err.contains("load_factor = 1.5 or what your local code asks for"), "{err}");
    bench.change("meant_for = \"factored loads\"", "meant_for = \"loads as they are\"");
    assert_eq!(bench.json(&["fixings"]).0, 3, "nothing is beyond, and not every anchor was pulled");
}

/// One row of anchors pulls by what the wall pushes back; every bearing is shown beside what
/// counts.
#[test]
fn one_row_of_anchors_is_told_with_every_bearing() {
    let bench = Bench::new("row");
    let job = bench.job();
    let anchors = job.lines().find(|line| line.starts_with("anchors = ")).unwrap();
    let row = "[[\"-100 mm\", \"0 mm\"], [\"100 mm\", \"0 mm\"]]";
    bench.change(anchors, &format!("anchors = {row}"));
    // The mount's own sheet has other holes for this plate, and it is drilled by those.
    let (status, _, err) = bench.run(&["fixings", "--no-record"]);
    assert!(status == 2 && err.contains("has other holes in [[mount.plate]]"), "{err}");
    let holes = job.lines().find(|line| line.starts_with("holes = ")).unwrap();
    bench.change(holes, &format!("holes = {row}"));
    let (status, found) = bench.json(&["fixings"]);
    let anchor = &found["plates"][0]["cases"][0]["anchors"][0];
    // 18 kg at 350 mm, times 1.5, over 170 mm, on two anchors; a third less lever on a soft
    // bedding.
    let hard_n = 18.0 * 9.80665 * 350.0 * 1.5 / 170.0 / 2.0;
    assert!(
        (anchor["tension_about_edge_n"].as_f64().unwrap() / hard_n - 1.0).abs() < 1e-6,
        "{anchor}"
    );
    assert!((anchor["tension_n"].as_f64().unwrap() / hard_n - 1.5).abs() < 5e-3, "{anchor}");
    assert_eq!(anchor["tension_about_centroid_n"].as_f64(), Some(0.0));
    assert_eq!((status, found["plates"][0]["judged"].as_str()), (1, Some("beyond-allowed")));
    let (_, out, _) = bench.run(&["fixings", "--no-record"]);
    assert!(
        out.contains("hard wall N")
            && out.contains("soft bedding N")
            && out.contains("bottom edge"),
        "{out}"
    );
    assert!(
        out.contains("stiff plate that stays plane") && out.contains("a wall that only"),
        "{out}"
    );
}

/// A job that says only where the light is still reads, and says what was assumed; one that says
/// both has nothing to assume.
#[test]
fn setout_says_when_the_emitters_lower_edge_is_assumed() {
    let bench = Bench::new("light");
    bench.change("image_width = \"1880 mm\"", "image_width = \"2024.7 mm\"");
    let (status, found) = bench.json(&["setout"]);
    assert_eq!((status, found["assumed"].as_array().map(Vec::len)), (0, Some(0)));
    let level = |found: &Value, name: &str| {
        let marks = found["marks"].as_array().unwrap();
        marks
            .iter()
            .find(|mark| mark["name"] == name)
            .map(|mark| mark["from_level_mm"].as_f64().unwrap())
    };
    assert_eq!(
        level(&found, "emitter's light"),
        Some(level(&found, "emitter left end, lower edge").unwrap() + 25.0)
    );
    bench.change("lower_edge = \"55 mm\"", "#lower_edge = \"55 mm\"");
    let (status, out, err) = bench.run(&["setout", "--no-record", "--svg", "wall.svg"]);
    assert_eq!(status, 3, "{err}");
    assert!(
        out.contains("ASSUMED: settle this before anything is marked")
            && out.contains("enter lower_edge"),
        "{out}"
    );
    assert!(out.contains("emitter left end, lower edge (assumed)"), "{out}");
    assert!(bench.read("wall.svg").contains("ASSUMED"));
    // What ends with 3 is not done; once the edge is measured and entered, it is.
    let step = |lower_edge: &str| {
        bench.change("#lower_edge = \"55 mm\"", lower_edge);
        let (status, out, err) = bench.run(&["setout", "--record", "r.db"]);
        let (_, next, _) = bench.run(&["next", "--json", "--record", "r.db"]);
        let next: Value = serde_json::from_str(&next).unwrap_or_else(|_| panic!("{out}{err}"));
        (status, next["steps"][0]["state"].clone(), next["steps"][0]["why"].clone())
    };
    let (status, state, why) = step("#lower_edge = \"55 mm\"");
    assert_eq!((status, state), (3, "open".into()), "{why}");
    let why = why.as_str().unwrap();
    assert!(why.starts_with("assumed: emitter: ") && why.contains("enter lower_edge"), "{why}");
    assert_eq!(step("lower_edge = \"55 mm\""), (0, "done".into(), Value::Null));
    bench.change("lower_edge = \"55 mm\"", "#lower_edge = \"55 mm\"");
    bench.change("#lower_edge = \"55 mm\"", "lower_edge = \"95 mm\"");
    let (status, _, err) = bench.run(&["setout", "--no-record"]);
    assert_eq!(status, 2);
    assert!(err.contains("the light would lie 15 mm below its body"), "{err}");
}
