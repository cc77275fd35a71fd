//! The printed parts' meshes against the body's figures; and each kind of fault, put in on purpose.

use skimgauge_hardware::figures::Body;
use skimgauge_hardware::mesh::Mesh;
use skimgauge_hardware::{bytes, shape, source};

fn body() -> Body {
    Body::parse(&source("hardware/body/params.toml")).unwrap()
}

fn mesh(name: &str) -> Mesh {
    Mesh::parse(&bytes(&format!("hardware/body/out/{name}.stl"))).unwrap()
}

const NOTHING: Vec<String> = Vec::new();

/// A wall across a part: two triangles.
fn walled(mesh: &Mesh, y: f64, half: f64, low: f64, high: f64) -> Mesh {
    let [a, b, c, d] = [[-half, y, low], [half, y, low], [half, y, high], [-half, y, high]];
    let mut walled = mesh.clone();
    walled.0.extend([[a, b, c], [a, c, d]]);
    walled
}

#[test]
fn every_printed_part_is_one_closed_surface() {
    for name in shape::PRINTED {
        let mut mesh = mesh(name);
        assert!(mesh.is_closed() && mesh.volume() > 300.0, "{name}: {}", mesh.volume());
        mesh.0.pop();
        assert!(!mesh.is_closed(), "{name}: a hole was not found");
    }
    // A tetrahedron's volume, a sixth of its box; inside out it is less than nothing.
    let corners = [[0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let face = |a: usize, b: usize, c: usize| [corners[a], corners[b], corners[c]];
    let solid = Mesh(vec![face(0, 2, 1), face(0, 1, 3), face(0, 3, 2), face(1, 2, 3)]);
    assert!(solid.is_closed() && (solid.volume() - 1.0 / 6.0).abs() < 1e-12);
    assert!(Mesh::parse(&[0; 100]).is_err() && Mesh::parse(b"solid").is_err());
}

#[test]
fn three_feet_make_the_plane_of_the_board_and_one_that_does_not_is_found() {
    let (body, plate) = (body(), mesh("plate"));
    assert_eq!(shape::seats(&body, &plate), NOTHING);
    let (x, y) = shape::feet(&body)[1];
    let mut sunk = plate.clone();
    for p in sunk.0.iter_mut().flatten() {
        if (p[0] - x).hypot(p[1] - y) < 3.2 && p[2] < 8.0 {
            p[2] += 0.3;
        }
    }
    let said = shape::seats(&body, &sunk);
    assert!(said.len() == 1 && said[0].contains("no plane"), "{said:?}");
}

#[test]
fn nothing_but_the_eye_is_low_where_the_light_comes_from() {
    let (mut body, plate) = (body(), mesh("plate"));
    assert_eq!(shape::bridge(&body, &plate), NOTHING);
    assert!(!shape::bridge(&body, &walled(&plate, 20.0, 5.0, 10.0, 18.0)).is_empty());
    body.figures.get_mut("swivel_range").unwrap().value = 170.0;
    assert!(!shape::bridge(&body, &plate).is_empty(), "the legs were not found");
}

#[test]
fn every_pixel_sees_out_and_a_closed_window_is_found() {
    let (body, eye) = (body(), mesh("eye"));
    assert_eq!(shape::window(&body, &eye), NOTHING);
    assert!(!shape::window(&body, &walled(&eye, 5.0, 2.0, 0.0, 18.0)).is_empty());
    // A slit too low for the lowest pixels.
    assert!(!shape::window(&body, &walled(&eye, 5.0, 2.0, 0.0, 0.6)).is_empty());
}

#[test]
fn the_laser_sees_its_spot_and_a_part_in_its_way_is_found() {
    let (body, [plate, case, eye]) = (body(), ["plate", "case", "eye"].map(mesh));
    for azimuth in (-100..=100).step_by(10) {
        let eye = eye.turned(f64::from(azimuth), [0.0; 3]);
        assert_eq!(
            shape::laser(&body, &[("plate", &plate), ("case", &case), ("eye", &eye)]),
            NOTHING
        );
    }
    let shut = plate.turned(180.0, [0.0, -20.0, 0.0]);
    assert!(!shape::laser(&body, &[("plate", &shut)]).is_empty());
}

#[test]
fn the_clip_is_out_of_the_light_at_every_edge_and_one_in_it_is_found() {
    let (mut body, clip) = (body(), mesh("clip"));
    assert_eq!(shape::clip(&body, &clip), NOTHING);
    body.figures.get_mut("leg_top").unwrap().value = 40.0;
    let said = shape::clip(&body, &clip);
    assert!(said[0].contains("top edge"), "{said:?}");
    body.figures.get_mut("bridge_leg").unwrap().value = 95.0;
    body.figures.get_mut("leg_top").unwrap().value = 62.0;
    body.figures.get_mut("pointing").unwrap().value = 90.0;
    assert!(!shape::clip(&body, &clip).is_empty());
}

#[test]
fn what_is_bought_goes_where_it_must_and_what_stands_in_its_way_is_found() {
    let (body, [plate, clip, jaw, case, eye]) =
        (body(), ["plate", "clip", "jaw", "case", "eye"].map(mesh));
    assert_eq!(shape::screws(&body, &plate), NOTHING);
    assert_eq!(shape::inserts(&body, &clip, &jaw), NOTHING);
    assert_eq!(shape::plug(&body, &case), NOTHING);
    assert_eq!(shape::line(&body, &eye), NOTHING);
    let moved = |mesh: &Mesh, by| mesh.turned(0.0, by);
    assert!(!shape::screws(&body, &moved(&plate, [1.0, 0.0, 0.0])).is_empty());
    assert!(!shape::inserts(&body, &moved(&clip, [0.0, 0.0, 1.0]), &jaw).is_empty());
    assert!(!shape::inserts(&body, &clip, &moved(&jaw, [0.0, 0.0, 1.0])).is_empty());
    assert!(!shape::plug(&body, &moved(&case, [0.0, 0.0, 3.0])).is_empty());
    assert!(!shape::line(&body, &moved(&eye, [0.0, 0.0, -0.5])).is_empty());
}

/// Sums of the figures that the parts rest on: their sources are in params.toml.
#[test]
fn the_figures_agree_with_each_other() {
    let body = body();
    let get = |name| body.get(name);
    // The turning eye leaves the beam its room; the lowest pixel is over the eye's lower rim.
    assert!(get("spot_to_eye") - get("eye_radius") - get("beam_radius") >= 1.0);
    assert!(body.made("eye_bottom").low > 0.0 && get("eye_bottom") < get("window_low"));
    // The eye sees twice what a person misses the emitter by.
    let half = (get("window_width") / 2.0 / get("slit_depth")).atan().to_degrees();
    assert!(half >= 1.9 * get("pointing"), "{half}");
    // The jaw's screw covers the holes' pitch; both slits of the gauge lie whole in the window.
    assert!(get("screw_travel") > get("jaw_pitch") + 2.0);
    let margin = 1.8 - 0.4;
    assert!(get("gauge_low") - get("gauge_slit") / 2.0 > get("window_low") + margin);
    assert!(get("gauge_high") + get("gauge_slit") / 2.0 < get("window_high") - margin);
    // The spring presses as the figure says, and the arm is stiff beside it: a beam held at one end.
    let press = get("spring_rate") * (get("spring_free") - get("spring_height"));
    assert!((press - get("press")).abs() < 0.1, "{press} N");
    let off = body.figures["spring_height"].tolerance + body.figures["spring_free"].tolerance;
    assert!(off * get("spring_rate") <= body.figures["press"].tolerance);
    let screw = press * (127.0 - get("lug_reach")) / (get("lug_reach") - get("jaw_screw"));
    assert!(screw < 70.0, "{screw} N");
    let inertia = get("arm_width") * get("arm_thickness").powi(3) / 12.0;
    let bend = press * f64::powi(127.0, 3) / (3.0 * 70e3 * inertia);
    assert!(bend < 2.0, "{bend} mm");
}

/// What the host takes the head to see is what the body lets it see.
#[test]
fn the_gaps_that_the_host_takes_to_be_seen_lie_on_the_bodys_line_of_pixels() {
    use skimgauge_metrology::assess::{EYE, MEASURABLE, TABLED, seen};
    let body = body();
    let figure = |name: &str| body.figures[name].value;
    assert_eq!(EYE.low.0, figure("window_low"));
    assert_eq!(EYE.high.0, figure("window_high"));
    // `window.md`, which is held to the code's own look at such sheets: from the first pixel, mm.
    for (sheet_mm, from_mm, to_mm) in [(0.8, 0.86, 15.32), (1.5, 1.40, 14.80), (3.0, 2.92, 13.22)] {
        let seen = seen(EYE.low.0, sheet_mm);
        let (low_mm, high_mm) = (seen.low.0 - EYE.low.0, seen.high.0 - EYE.low.0);
        assert!((from_mm..from_mm + 0.1).contains(&low_mm), "{sheet_mm}: {low_mm}");
        assert!((to_mm - 0.1..to_mm).contains(&high_mm), "{sheet_mm}: {high_mm}");
    }
    assert!(TABLED.contains(MEASURABLE.low) && TABLED.contains(MEASURABLE.high));
}
