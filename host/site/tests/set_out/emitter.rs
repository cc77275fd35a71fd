//! The emitter on the wall: its light, its body, and what is said where one is not known.

use crate::{emitter, input, obstacle, with};
use skimgauge_quantity::Style;
use skimgauge_site::drawing::wall::wall_drawing;
use skimgauge_site::setout::EmitterPlace;
use skimgauge_site::setout::clearance::StopKind;

/// The light leaves 25 mm above the body's lower edge: marks, area, clearances, steps and drawing
/// all have to say so.
#[test]
fn the_emitters_body_and_its_light_are_two_places() {
    let found = with(|_| ()).unwrap();
    let mark = |name: &str| found.marks.iter().find(|mark| mark.name == name).unwrap();
    assert_eq!(mark("emitter left end, lower edge").from_level_mm, 55.0);
    assert_eq!(mark("emitter's light").from_level_mm, 80.0);
    let body = found.emitter_area.unwrap();
    assert_eq!((body.bottom_mm, body.top_mm), (2105.0, 2165.0));
    let light = found.emitter_light.unwrap();
    assert_eq!((light.above_floor_mm, light.above_lower_edge_mm), (2130.0, Some(25.0)));
    let clear = |to: &str| {
        found.clearances.iter().find(|c| c.from == "image's top" && c.to == to).unwrap().clear_mm
    };
    assert_eq!((clear("emitter"), clear("emitter's light")), (55.0, 80.0));
    let step = found.steps.iter().find(|step| step.title == "emitter").unwrap();
    let said = step.says.text(Style::default());
    assert!(said.contains("lower edge, 55 mm above the image's top edge"), "{said}");
    assert!(
        said.contains("light 80 mm above") && said.contains("25 mm above the lower edge"),
        "{said}"
    );
    assert!(found.assumed.is_empty());
    // On paper at 1 : 25 the body's lower edge is 1 mm under its light.
    let svg = wall_drawing(&found, &input().room, Style::default()).svg;
    let number = |tag: &str, key: &str| {
        tag.split(&format!(" {key}=\""))
            .nth(1)
            .unwrap()
            .split('"')
            .next()
            .unwrap()
            .parse::<f64>()
            .unwrap()
    };
    let body =
        svg.split('<').find(|tag| tag.starts_with("rect") && number(tag, "height") == 2.4).unwrap();
    let named = svg.split("its light").next().unwrap();
    let bar =
        named.rsplit('<').find(|tag| tag.starts_with("line") && tag.contains("firm")).unwrap();
    assert!((number(body, "y") + 2.4 - number(bar, "y1") - 1.0).abs() < 0.011, "{body} {bar}");
    // A rail beside the body, above its lower edge and below its light, stands in the light.
    let rail = obstacle("rail", 1200.0, 1700.0, 2110.0, 2120.0, 25.0);
    let shaded = with(|input| input.room.obstacles.push(rail)).unwrap();
    assert_eq!(shaded.stops[0].kind, StopKind::ShadesTheLight);
}

/// A job that says only where the light is, as jobs used to.
#[test]
fn a_lower_edge_that_is_not_said_is_assumed_and_said_to_be() {
    let old = EmitterPlace { lower_edge_mm: None, body_right_mm: None, ..emitter() };
    let found = with(|input| input.emitter = Some(old)).unwrap();
    assert!(
        found.assumed[0]
            .text(Style::default())
            .contains("lower edge is taken to be as high as the light"),
        "{:?}",
        found.assumed
    );
    assert!(found.assumed[0].text(Style::default()).contains("enter lower_edge in [emitter]"));
    assert!(
        found.marks.iter().any(|mark| mark.name == "emitter left end, lower edge (assumed)"
            && mark.from_level_mm == 80.0)
    );
    assert!(
        found
            .remarks
            .iter()
            .any(|remark| remark.text(Style::default()).contains("in the middle of its width"))
    );
    assert!(wall_drawing(&found, &input().room, Style::default()).svg.contains("ASSUMED"));
    let light = EmitterPlace { above_top_mm: Some(80.0), ..EmitterPlace::default() };
    let found = with(|input| input.emitter = Some(light)).unwrap();
    assert!(
        found.emitter_area.is_none()
            && found.marks.iter().any(|mark| mark.name == "emitter's light")
    );
    assert!(
        found
            .remarks
            .iter()
            .any(|remark| remark.text(Style::default()).contains("only its light is set out"))
    );
    let body = EmitterPlace { above_top_mm: None, ..emitter() };
    let found = with(|input| input.emitter = Some(body)).unwrap();
    assert!(found.emitter_light.is_none() && found.emitter_area.unwrap().bottom_mm == 2105.0);
    assert!(
        found
            .remarks
            .iter()
            .any(|remark| remark.text(Style::default()).contains("only its body is set out"))
    );
    let size = EmitterPlace { above_top_mm: None, lower_edge_mm: None, ..emitter() };
    let found = with(|input| input.emitter = Some(size)).unwrap();
    assert!(
        found
            .remarks
            .iter()
            .any(|remark| remark.text(Style::default()).contains("not where it hangs"))
    );
    let none = with(|input| input.emitter = Some(EmitterPlace::default())).unwrap();
    assert!(none.emitter_area.is_none() && none.emitter_light.is_none() && none.assumed.is_empty());
}

#[test]
fn a_light_outside_its_body_is_refused() {
    let off = |change: fn(&mut EmitterPlace)| {
        let mut place = emitter();
        change(&mut place);
        with(|input| input.emitter = Some(place)).unwrap_err()
    };
    assert!(
        off(|place| place.lower_edge_mm = Some(90.0))
            .contains("light would lie 10 mm below its body")
    );
    assert!(
        off(|place| place.lower_edge_mm = Some(15.0))
            .contains("light would lie 5 mm above its body")
    );
    assert!(
        off(|place| place.body_right_mm = Some(-130.0))
            .contains("light would lie 20 mm right of its body")
    );
    assert!(
        with(|input| input.emitter = Some(EmitterPlace { lower_edge_mm: Some(80.0), ..emitter() }))
            .is_ok()
    );
}
