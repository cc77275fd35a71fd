//! What the body's figures want of the printed parts, looked at on their meshes.
//!
//! The solids are made and checked by `hardware/body` with a tool; here the meshes that came out
//! are looked at anew, with other mathematics, from the figures alone.

use crate::figures::Body;
use crate::mesh::{Mesh, Point};

/// The printed parts.
pub const PRINTED: &[&str] =
    &["plate", "case", "lid", "eye", "pointer", "clip", "jaw", "gauge-frame"];

/// Where the clip's column stands: edge, azimuth from the eye, distance, turn of its lug toward the
/// board.
const PLACES: &[(&str, f64, f64)] =
    &[("top", 58.0, 0.0), ("left", 76.0, -90.0), ("right", 76.0, 90.0)];

/// Azimuth, from up, positive to the right.
fn azimuth_deg(p: Point) -> f64 {
    p[0].atan2(p[1]).to_degrees()
}

fn outward(azimuth_deg: f64) -> Point {
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    [sin, cos, 0.0]
}

/// The feet's places: the upper one first.
pub fn feet(body: &Body) -> [(f64, f64); 3] {
    let lower = -body.get("upper_foot") - body.get("stance_up");
    let half = body.get("stance_across") / 2.0;
    [(0.0, -body.get("upper_foot")), (-half, lower), (half, lower)]
}

/// The seats of the three balls: all at the height at which the balls touch the board together.
pub fn seats(body: &Body, plate: &Mesh) -> Vec<String> {
    let radius = body.get("foot_radius");
    let mut said = Vec::new();
    for (x, y) in feet(body) {
        let seat = |p: &Point| {
            let across = (p[0] - x).hypot(p[1] - y);
            (0.7..radius).contains(&across) && p[2] < 2.0 * radius + 1.0
        };
        let off = plate.corners().filter(seat).map(|p| {
            let [dx, dy, dz] = [p[0] - x, p[1] - y, p[2] - radius];
            ((dx * dx + dy * dy + dz * dz).sqrt() - radius, 1)
        });
        let (sum, count) = off.fold((0.0, 0), |(sum, count), (off, one)| (sum + off, count + one));
        if count < 12 {
            said.push(format!("the foot at ({x}, {y}) has no seat"));
        } else if (sum / f64::from(count) - 0.05).abs() > 0.03 {
            let off = sum / f64::from(count) - 0.05;
            said.push(format!("the foot at ({x}, {y}) is {off:.2} mm off: the three are no plane"));
        }
    }
    said
}

/// Nothing of the plate lower than the bridge within the swivel's range; nothing nearer the board
/// than half a ball.
pub fn bridge(body: &Body, plate: &Mesh) -> Vec<String> {
    let (range, low) = (body.get("swivel_range"), body.get("bridge_low"));
    let in_the_way = plate.corners().filter(|p| p[2] < low - 0.01 && azimuth_deg(*p).abs() < range);
    let mut said: Vec<String> =
        in_the_way.map(|p| format!("the plate stands in the light at {p:.1?}")).collect();
    let lowest = plate.corners().map(|p| p[2]).fold(f64::INFINITY, f64::min);
    if lowest < body.get("foot_radius") - 0.01 {
        said.push(format!("the plate comes down to {lowest:.2} mm"));
    }
    said.truncate(3);
    said
}

/// From every pixel straight out, and by what a person misses the emitter by: the way is free.
pub fn window(body: &Body, eye: &Mesh) -> Vec<String> {
    let (low, high) = (body.get("window_low"), body.get("window_high"));
    let mut said = Vec::new();
    for azimuth in [-body.get("pointing"), 0.0, body.get("pointing")] {
        for step in 0..=32 {
            let z = low + (high - low) * f64::from(step) / 32.0;
            if eye.met([0.0, 0.0, z], outward(azimuth)).is_some() {
                said.push(format!("the pixel at {z:.1} mm sees nothing at {azimuth} degrees"));
            }
        }
    }
    said.truncate(3);
    said
}

/// The laser's beam, and the way from its spot to the middle of its receiver.
pub fn laser(body: &Body, parts: &[(&str, &Mesh)]) -> Vec<String> {
    let (sin, cos) = body.get("spot_direction").to_radians().sin_cos();
    let (x, y) = (body.get("spot_to_eye") * sin, body.get("spot_to_eye") * cos);
    let height = body.get("laser_standoff");
    let mut said = Vec::new();
    for (what, aside) in [("beam", 0.0), ("receiver's view", body.get("receiver_from_spot"))] {
        let length = f64::hypot(aside, height);
        let along = [aside / length, 0.0, height / length];
        for (name, mesh) in parts {
            if mesh.met([x, y, 0.0], along).is_some_and(|met| met < length) {
                said.push(format!("{name} stands in the laser's {what}"));
            }
        }
    }
    said
}

/// The light of sheets over every height of the window reaches the eye past the clip, at every edge
/// from every azimuth that it can come from there.
pub fn clip(body: &Body, clip: &Mesh) -> Vec<String> {
    let (range, pointing) = (body.get("swivel_range"), body.get("pointing"));
    let (top, side) = (body.get("leg_top"), body.get("bridge_leg"));
    let mut said = Vec::new();
    for (edge, distance, turn) in PLACES {
        let (azimuth, from, to) = match *edge {
            "top" => (-top, -body.get("emitter_side") - pointing, range),
            "left" => (-side, -pointing, range),
            _ => (side, -range, pointing),
        };
        let [x, y, _] = outward(azimuth).map(|way| way * distance);
        let clip = clip.turned(*turn, [x, y, 0.0]);
        let mut at = from;
        while at <= to {
            let z = [body.get("window_low"), body.get("sheet_highest"), body.get("window_high")];
            for z in z {
                if clip.met([0.0, 0.0, z], outward(at)).is_some() {
                    said.push(format!(
                        "at the {edge} edge the clip stands in the light from {at} degrees"
                    ));
                }
            }
            at += 1.0;
        }
    }
    said.truncate(3);
    said
}

/// What is bought goes where it must: a name, a ray's beginning, its way, and how far it must be
/// free.
type Way = (&'static str, Point, Point, f64);

/// Rays about an axis, at a radius.
fn about(name: &'static str, [x, y, z]: Point, radius: f64, up: f64, free: f64) -> Vec<Way> {
    let ray = |n: i32| {
        let (sin, cos) = (f64::from(n) * std::f64::consts::FRAC_PI_6).sin_cos();
        (name, [x + radius * cos, y + radius * sin, z], [0.0, 0.0, up], free)
    };
    (0..12).map(ray).collect()
}

fn free(mesh: &Mesh, ways: &[Way]) -> Vec<String> {
    let blocked = ways.iter().filter_map(|(name, from, along, free)| {
        let met = mesh.met(*from, *along)?;
        (met < *free).then(|| format!("{name}: met after {met:.1} of {free:.1} mm"))
    });
    blocked.take(3).collect()
}

/// The plate lets the heads of the case's screws pass its legs: cylinder heads of 5.5 mm.
pub fn screws(body: &Body, plate: &Mesh) -> Vec<String> {
    let seat = body.get("bridge_low") + 2.4;
    let places = [(-33.2, -29.0), (33.2, -29.0), (-33.2, -67.0), (33.2, -67.0)];
    let ways =
        places.map(|(x, y)| about("a case screw's head", [x, y, -1.0], 2.8, 1.0, seat + 1.0));
    free(plate, &ways.concat())
}

/// The head of the clip and the jaw's tongue take an M4 insert, 5.6 mm outside and 8.1 mm long.
pub fn inserts(body: &Body, clip: &Mesh, jaw: &Mesh) -> Vec<String> {
    let arm =
        body.get("laser_standoff") + body.get("sensor_tall") + 2.0 + body.get("spring_height");
    let screw = -body.get("jaw_screw");
    let mut said = free(clip, &about("the clip's insert", [0.0, 0.0, arm + 5.0], 2.8, -1.0, 13.1));
    said.extend(free(jaw, &about("the jaw's insert", [0.0, screw, 11.0], 2.8, -1.0, 13.1)));
    said
}

/// The cable's plug reaches its socket: a moulding of 12.35 by 6.5 mm (USB Type-C), the socket's
/// middle over four spacers, perfboard and carrier.
pub fn plug(body: &Body, case: &Mesh) -> Vec<String> {
    let top = body.get("bridge_low") + body.get("plate_thickness");
    let middle = top + 4.0 + 1.6 + 1.6 + 1.6;
    let back = -body.get("upper_foot") - body.get("stance_up") - 12.0;
    let corner = |x: f64, z: f64| {
        ("the cable's plug", [x * 6.18, back - 25.0, middle + z * 3.25], [0.0, 1.0, 0.0], 27.0)
    };
    let across = [-1.0, -0.5, 0.0, 0.5, 1.0];
    let ways: Vec<Way> = across.iter().flat_map(|x| across.map(|z| corner(*x, z))).collect();
    free(case, &ways)
}

/// The pixel line goes into the eye whole: beside the wires' bore, where a wider package stands.
pub fn line(body: &Body, eye: &Mesh) -> Vec<String> {
    let (rim, length) = (body.get("eye_bottom"), body.made("line_length").high);
    let ray = |x: f64| ("the pixel line", [x, -0.6, -1.0], [0.0, 0.0, 1.0], rim + length + 1.0);
    free(eye, &[-4.0, -3.0, 3.0, 4.0].map(ray))
}
