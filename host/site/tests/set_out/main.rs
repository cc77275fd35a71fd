//! A whole set-out: dimensions, checks, clearances, drawings, and what is refused.

mod emitter;

use proptest::prelude::*;
use skimgauge_model::{Aspect, Image};
use skimgauge_quantity::Style;
use skimgauge_site::drawing::Paper;
use skimgauge_site::drawing::template::templates;
use skimgauge_site::drawing::wall::wall_drawing;
use skimgauge_site::fixings::practice::PlateRole;
use skimgauge_site::setout::clearance::{Fit, StopKind};
use skimgauge_site::setout::mount::{Hole, ListedSize, MountSheet, Plate, PlateOffset};
use skimgauge_site::setout::room::{Obstacle, Room};
use skimgauge_site::setout::{EmitterPlace, ImagePlace, SetOut, SetOutInput, set_out};

fn plate(name: &str, role: PlateRole, width_mm: f64, height_mm: f64) -> Plate {
    let hole = |name: &str, x: f64, y: f64| Hole {
        name: name.to_owned(),
        x_mm: x * (width_mm / 2.0 - 25.0),
        y_mm: y * (height_mm / 2.0 - 25.0),
        diameter_mm: 10.0,
    };
    Plate {
        name: name.to_owned(),
        role,
        width_mm,
        height_mm,
        holes: vec![
            hole("1", -1.0, 1.0),
            hole("2", 1.0, 1.0),
            hole("3", -1.0, -1.0),
            hole("4", 1.0, -1.0),
        ],
    }
}

fn input() -> SetOutInput {
    let listed = |image_width_mm: f64, up_mm: f64, arm_mm: f64| ListedSize {
        image_width_mm,
        arm_mm: Some(arm_mm),
        plates: vec![PlateOffset { plate: "centre plate".to_owned(), x_mm: 0.0, y_mm: up_mm }],
    };
    SetOutInput {
        image: Image::mm(2025.0, 1265.625),
        place: ImagePlace { middle_from_wall_left_mm: 2100.0, top_above_floor_mm: 2050.0 },
        room: Room { wall_width_mm: 4200.0, ceiling_mm: 2800.0, obstacles: Vec::new() },
        emitter: Some(emitter()),
        mount: Some(MountSheet {
            source: "maker's sheet, edition 3".to_owned(),
            aspect: Some(Aspect { wide: 16.0, high: 10.0 }),
            throw_ratio: Some(0.27),
            plates: vec![plate("centre plate", PlateRole::Centre, 300.0, 340.0)],
            sizes: vec![
                listed(1880.0, 350.0, 400.0),
                listed(2025.0, 375.0, 440.0),
                listed(2155.0, 398.0, 475.0),
            ],
        }),
        level_line_mm: None,
        shelf_depth_mm: 0.0,
        mark_u_mm: 0.7,
    }
}

/// A body of 60 mm whose light is 25 mm above its lower edge.
fn emitter() -> EmitterPlace {
    EmitterPlace {
        above_top_mm: Some(80.0),
        right_mm: 0.0,
        lower_edge_mm: Some(55.0),
        body_right_mm: Some(0.0),
        width_mm: Some(220.0),
        height_mm: Some(60.0),
    }
}

fn obstacle(
    name: &str,
    left_mm: f64,
    right_mm: f64,
    bottom_mm: f64,
    top_mm: f64,
    off_wall_mm: f64,
) -> Obstacle {
    Obstacle { name: name.to_owned(), left_mm, right_mm, bottom_mm, top_mm, off_wall_mm }
}

fn with(change: impl FnOnce(&mut SetOutInput)) -> Result<SetOut, String> {
    let mut input = input();
    change(&mut input);
    set_out(&input).map_err(|error| error.to_string())
}

#[test]
fn every_hole_comes_from_both_datum_lines() {
    let found = with(|_| ()).unwrap();
    let hole = found.marks.iter().find(|mark| mark.name == "centre plate hole 2").unwrap();
    // Plate's middle 375 above the image's top, hole 125 right and 145 up of it; the level line is
    // the image's top.
    assert_eq!((hole.from_plumb_mm, hole.from_level_mm), (125.0, 520.0));
    assert_eq!((hole.from_wall_left_mm, hole.above_floor_mm), (2225.0, 2570.0));
    assert_eq!(hole.drill_mm, Some(10.0));
    let lower = with(|input| input.level_line_mm = Some(1000.0)).unwrap();
    let hole = lower.marks.iter().find(|mark| mark.name == "centre plate hole 2").unwrap();
    assert_eq!(hole.from_level_mm, 1570.0);
}

#[test]
fn the_order_lets_every_slip_show_before_the_drill() {
    let found = with(|_| ()).unwrap();
    let titles: Vec<&str> = found.steps.iter().map(|step| step.title.as_str()).collect();
    assert_eq!(
        titles,
        [
            "plumb line",
            "level line",
            "right angle",
            "image corners",
            "emitter",
            "centre plate",
            "before drilling"
        ]
    );
    assert!(found.steps.iter().enumerate().all(|(index, step)| step.number == index + 1));
    for mark in found.marks.iter().filter(|mark| mark.of != "datum") {
        assert_eq!(mark.checks.len(), 2, "{}", mark.name);
        assert!(mark.slip_shown_mm.unwrap() < 4.5, "{}: {:?}", mark.name, mark.slip_shown_mm);
    }
    // Both diagonals of image and plate are among the checks.
    let diagonal_mm = 2025.0_f64.hypot(1265.625);
    let image = &found.steps[3];
    assert_eq!(
        image.checks.iter().filter(|check| (check.distance_mm - diagonal_mm).abs() < 1e-6).count(),
        2
    );
    let across_mm = 250.0_f64.hypot(290.0);
    let plate = &found.steps[5];
    assert_eq!(
        plate.checks.iter().filter(|check| (check.distance_mm - across_mm).abs() < 1e-6).count(),
        2
    );
    // 3-4-5 on the datum lines.
    assert_eq!(found.steps[2].checks[0].distance_mm % 500.0, 0.0);
}

#[test]
fn listed_and_interpolated_figures_are_told_apart() {
    let listed = with(|_| ()).unwrap();
    assert!(
        listed
            .mount
            .unwrap()
            .says
            .text(Style::default())
            .starts_with("listed for an image 2025 mm wide")
    );
    let between = with(|input| input.image = Image::mm(1950.0, 1218.75)).unwrap();
    assert!(
        between
            .remarks
            .iter()
            .any(|remark| remark.text(Style::default()).contains("NOT listed for this size")
                && remark.text(Style::default()).contains("Ask the maker"))
    );
    let beyond = with(|input| input.image = Image::mm(2400.0, 1500.0)).unwrap_err();
    assert!(beyond.contains("nothing is guessed beyond"), "{beyond}");
}

#[test]
fn arm_travel_is_told_in_image_size() {
    let change = with(|_| ()).unwrap().mount.unwrap().image_change.unwrap();
    assert!((change.width_mm_per_mm - 1.0 / 0.27).abs() < 1e-12);
}

/// Common practice, no source: 50 mm free round the image, 50 to 100 mm from its top to the
/// emitter.
#[test]
fn clearances_follow_common_practice() {
    let fit = |found: &SetOut, from: &str, to: &str| {
        found.clearances.iter().find(|c| c.from == from && c.to == to).map(|c| c.fit).unwrap()
    };
    let good = with(|_| ()).unwrap();
    assert_eq!(fit(&good, "image's top", "emitter's light"), Fit::Enough);
    assert_eq!(fit(&good, "image's top", "emitter"), Fit::Stated);
    for (above_top_mm, expected) in [
        (49.0, Fit::Short),
        (50.0, Fit::Enough),
        (100.0, Fit::Enough),
        (101.0, Fit::Far),
        (-5.0, Fit::Overlaps),
    ] {
        let light = EmitterPlace {
            above_top_mm: Some(above_top_mm),
            lower_edge_mm: Some(above_top_mm - 25.0),
            ..emitter()
        };
        let found = with(|input| input.emitter = Some(light)).unwrap();
        assert_eq!(fit(&found, "image's top", "emitter's light"), expected, "{above_top_mm}");
    }
    let narrow = with(|input| {
        input.room.wall_width_mm = 2110.0;
        input.place.middle_from_wall_left_mm = 1052.0;
    })
    .unwrap();
    assert_eq!(fit(&narrow, "image", "left end of the wall"), Fit::Short);
    assert!(narrow.remarks.iter().any(|remark| {
        remark.text(Style::default()).contains("wanted at least 50 mm (common practice, no source)")
    }));
}

#[test]
fn what_is_in_the_way_stops_the_job() {
    let kinds = |obstacle: Obstacle| {
        let found = with(|input| input.room.obstacles.push(obstacle)).unwrap();
        found
            .stops
            .into_iter()
            .map(|stop| (stop.kind, stop.says.text(Style::default())))
            .collect::<Vec<_>>()
    };
    let socket = kinds(obstacle("socket", 1500.0, 1580.0, 900.0, 980.0, 10.0));
    assert_eq!(socket[0].0, StopKind::Collides);
    assert!(
        socket[0].1.contains("image and socket overlap by 80 mm across and 80 mm upright"),
        "{}",
        socket[0].1
    );
    let rail = kinds(obstacle("rail", 1200.0, 1700.0, 2070.0, 2090.0, 25.0));
    assert_eq!(rail[0].0, StopKind::ShadesTheLight);
    assert!(kinds(obstacle("flush plate", 1200.0, 1700.0, 2070.0, 2090.0, 0.0)).is_empty());
    assert!(kinds(obstacle("far socket", 100.0, 180.0, 200.0, 280.0, 10.0)).is_empty());
    let low = with(|input| input.room.ceiling_mm = 2500.0).unwrap();
    assert_eq!(low.stops[0].kind, StopKind::OffTheWall);
    assert!(
        low.stops[0]
            .says
            .text(Style::default())
            .contains("centre plate reaches 95 mm beyond the wall's top"),
        "{:?}",
        low.stops[0].says
    );
}

#[test]
fn what_does_not_fit_is_refused_in_words() {
    assert!(
        with(|input| input.room.ceiling_mm = 2000.0)
            .unwrap_err()
            .contains("50 mm beyond the ceiling")
    );
    let tall = with(|input| input.image = Image::mm(4100.0, 2900.0)).unwrap_err();
    assert!(tall.contains("2900 mm high and the room 2800 mm"), "{tall}");
    assert!(
        with(|input| input.place.middle_from_wall_left_mm = 900.0)
            .unwrap_err()
            .contains("left end of the wall")
    );
    assert!(with(|input| input.place.top_above_floor_mm = 81.0).unwrap_err().contains("inches"));
    assert!(with(|input| input.image.width.0 = 2.025).unwrap_err().contains("metres"));
    assert!(
        with(|input| input.room.wall_width_mm = f64::NAN).unwrap_err().contains("not a number")
    );
}

#[test]
fn reach_is_told_for_everyone() {
    let found = with(|_| ()).unwrap();
    assert_eq!(found.reach.len(), 6);
    // Image from 784 to 2050 mm: a seated adult reaches to 48 in, 1219.2 mm.
    let seated = &found.reach[0];
    assert!((seated.share - (1219.2 - 784.375) / 1265.625).abs() < 1e-9);
    assert!((seated.lower_by_mm - (2050.0 - 1219.2)).abs() < 1e-9);
}

#[test]
fn every_output_carries_its_cautions() {
    let found = with(|_| ()).unwrap();
    let text = serde_json::to_string(&found).unwrap();
    assert!(
        text.contains("no figure here says that a wall carries anything")
            && text.contains("licensed engineer")
    );
    let input = input();
    let drawing = wall_drawing(&found, &input.room, Style::default());
    assert!(drawing.svg.contains("not what the wall carries"));
    assert_eq!(drawing.scale, 25.0);
    assert!(drawing.svg.contains("scale 1 : 25"));
}

#[test]
fn the_drawing_is_true_to_its_scale() {
    let found = with(|_| ()).unwrap();
    let svg = wall_drawing(&found, &input().room, Style::default()).svg;
    let image = svg
        .split('<')
        .find(|tag| tag.starts_with("rect") && tag.contains("class=\"image\""))
        .unwrap();
    assert!(image.contains("width=\"81\"") && image.contains("height=\"50.625\""), "{image}");
}

#[test]
fn a_large_plate_takes_several_sheets() {
    let sheets = templates(
        &plate("centre plate", PlateRole::Centre, 400.0, 600.0),
        0.0,
        375.0,
        Paper::Letter,
    );
    assert!(sheets.len() > 4);
    assert!(sheets[0].svg.contains(&format!("sheet 1 of {}", sheets.len())));
}

#[test]
fn input_and_output_pass_through_json() {
    let text = serde_json::to_string(&input()).unwrap();
    let back: SetOutInput = serde_json::from_str(&text).unwrap();
    assert_eq!(back, input());
    assert!(
        serde_json::from_str::<SetOutInput>(
            &text.replace("\"wall_width_mm\"", "\"wall_width_in\"")
        )
        .is_err()
    );
}

proptest! {
    /// Moving image and level line moves every number on the wall alike, and no dimension from the datum lines.
    #[test]
    fn dimensions_follow_the_image(right_mm in -800.0..800.0_f64, down_mm in 0.0..500.0_f64) {
        let base = with(|_| ()).unwrap();
        let moved = with(|input| {
            input.place.middle_from_wall_left_mm += right_mm;
            input.place.top_above_floor_mm -= down_mm;
        }).unwrap();
        for (a, b) in base.marks.iter().zip(&moved.marks) {
            prop_assert!((a.from_plumb_mm - b.from_plumb_mm).abs() < 1e-9 && (a.from_level_mm - b.from_level_mm).abs() < 1e-9);
            prop_assert!((b.from_wall_left_mm - a.from_wall_left_mm - right_mm).abs() < 1e-9);
            prop_assert!((b.above_floor_mm - a.above_floor_mm + down_mm).abs() < 1e-9);
        }
    }

    #[test]
    fn nothing_panics(v in prop::array::uniform8(prop_oneof![any::<f64>(), 10.0..5000.0_f64])) {
        let found = with(|input| {
            input.image = Image::mm(v[0], v[1]);
            input.place = ImagePlace { middle_from_wall_left_mm: v[2], top_above_floor_mm: v[3] };
            input.room.wall_width_mm = v[4];
            input.room.ceiling_mm = v[5];
            input.emitter = Some(EmitterPlace { above_top_mm: Some(v[6]), lower_edge_mm: Some(v[6] - v[0]), ..emitter() });
            input.level_line_mm = Some(v[7]);
            input.mount = None;
        });
        if let Ok(found) = found {
            prop_assert!(found.marks.iter().all(|mark| mark.from_plumb_mm.is_finite() && mark.from_level_mm.is_finite()));
        }
    }
}
