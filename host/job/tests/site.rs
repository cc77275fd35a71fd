//! The sections for set-out, fixings and square: read as written, and wrong in words.

use skimgauge_job::{Job, Known, template};
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
    let mut text = template(&known);
    let from = text.find("#[room]").unwrap();
    let site = text.split_off(from);
    for line in site.lines() {
        let commented = line.strip_prefix('#').filter(|rest| !rest.starts_with(' '));
        text.push_str(commented.unwrap_or(line));
        text.push('\n');
    }
    text
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
    assert_eq!(mount.plates[0].holes.iter().map(|hole| hole.name.as_str()).collect::<Vec<_>>(), ["A", "B", "C", "D"]);
    assert_eq!(mount.sizes[1].plates[0].y_mm, 398.0);
    let fixings = job.fixings.unwrap();
    assert_eq!((fixings.wall, fixings.load_factor), (Wall::Concrete, 1.5));
    let plate = &fixings.plates[0];
    assert_eq!(
        (plate.role, plate.anchors.len(), plate.masses.len(), plate.handling.len()),
        (PlateRole::Centre, 4, 1, 1)
    );
    assert_eq!(plate.handling[0].fy_n, -300.0);
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
    let (plate, mount) = (&job.fixings.unwrap().plates[0], job.mount.unwrap());
    assert_eq!((plate.width_mm, plate.anchors[3].y_mm), (300.0, -145.0));
    assert_eq!(plate.anchors[3].name, mount.plates[0].holes[3].name);
    let unknown = wrong(|text| {
        keep(text).replacen("[[fixings.plate]]\nname = \"centre plate\"", "[[fixings.plate]]\nname = \"left plate\"", 1)
    });
    assert!(unknown.contains("has no `anchors`") && unknown.contains("has no `width`"), "{unknown}");
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
        "here are 2 places for 1 plates",
    );
    says("image_width = \"2155 mm\"", "image_width = \"1880 mm\"", "the width 1880 mm is listed twice");
    says("approval = \"number and date\"", "", "has no `approval`");
    says("plate = \"centre plate\"", "plate = \"centre\"", "there is no plate \"centre\"");
    says("proof_time = \"60 s\"", "", "has no `proof_time`");
    says("tension = \"1.5 kN\"", "tension = \"1.5 kg\"", "force");
    says("left = \"1264 mm\"", "left = \"1264\"", "unit");
    says("rise_uncertainty = \"0.5 mm\"", "", "has no `rise_uncertainty`");
    says("top_right = [\"2 mm\", \"-1 mm\"]", "", "has no `top_right`");
    let few = wrong(|text| text.replacen("falling = \"2391 mm\"", "", 1).replacen("rising = \"2390 mm\"", "", 1));
    assert!(few.contains("lacks falling, rising"), "{few}");
}
