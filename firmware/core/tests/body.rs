//! The body's figures, `hardware/body/params.toml`, are what the code reckons with.

use skimgauge_bench::part::pixel_line::{Line, PITCH_MM};
use skimgauge_head::pixel_line::{EXPOSURES_US, INTEGRATION_CLOCK, PERIOD};
use skimgauge_head::profile::{PITCH_NM, PIXELS};
use std::collections::BTreeMap;
use std::path::Path;
use toml::de::{DeTable, DeValue};

fn source(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(n) => n.as_str().parse().ok(),
        DeValue::Float(n) => n.as_str().parse().ok(),
        _ => None,
    }
}

/// The figures by name, and the two tables that are none.
struct Body {
    figures: BTreeMap<String, f64>,
    pins: BTreeMap<String, u8>,
    axes: BTreeMap<String, String>,
}

impl Body {
    fn read() -> Self {
        let text = source("hardware/body/params.toml");
        let tables = DeTable::parse(&text).unwrap_or_else(|error| panic!("{error}")).into_inner();
        let mut body =
            Self { figures: BTreeMap::new(), pins: BTreeMap::new(), axes: BTreeMap::new() };
        for (name, table) in tables {
            let name = name.into_inner().into_owned();
            let DeValue::Table(table) = table.into_inner() else { panic!("{name} is no table") };
            let said = |key: &str| table.get(key).map(|value| value.get_ref());
            match name.as_str() {
                "pins" => {
                    body.pins = table
                        .iter()
                        .map(|(k, v)| (k.to_string(), number(v.get_ref()).unwrap() as u8))
                        .collect();
                }
                "tilt_axes" => {
                    let text = |v: &DeValue<'_>| v.as_str().unwrap().to_owned();
                    body.axes =
                        table.iter().map(|(k, v)| (k.to_string(), text(v.get_ref()))).collect();
                }
                _ => {
                    let value = said("value")
                        .and_then(number)
                        .unwrap_or_else(|| panic!("{name} has no value"));
                    let tolerance = said("tolerance").and_then(number);
                    assert!(
                        tolerance.is_some_and(|t| (0.0..=20.0).contains(&t)),
                        "{name}: tolerance"
                    );
                    let words = |key: &str| said(key).and_then(|v| v.as_str()).map_or(0, str::len);
                    assert!(words("unit") >= 1 && words("why") >= 20, "{name}: unit, why");
                    assert_eq!(table.len(), 4, "{name}");
                    body.figures.insert(name, value);
                }
            }
        }
        body
    }

    fn get(&self, name: &str) -> f64 {
        *self.figures.get(name).unwrap_or_else(|| panic!("no {name}"))
    }
}

#[test]
fn the_line_is_the_one_that_the_code_reckons_with() {
    let body = Body::read();
    assert_eq!(body.get("pixel_pitch") * 1e3, f64::from(PITCH_NM));
    assert_eq!(body.get("pixel_pitch") * 1e-3, PITCH_MM);
    assert_eq!(body.get("pixels"), PIXELS as f64);
    assert_eq!(body.get("integration_clock"), f64::from(INTEGRATION_CLOCK));
    assert_eq!(
        (body.get("exposure_least"), body.get("exposure_most")),
        (EXPOSURES_US.0.into(), EXPOSURES_US.1.into())
    );
    assert!((body.get("scans") - 1e6 / PERIOD.0 as f64).abs() < 0.01);
    let line = Line::new(0);
    assert_eq!(body.get("window_low"), line.first_mm);
    assert!((body.get("window_high") - line.height_mm(PIXELS as f64 - 1.0)).abs() < 0.001);
    // A read and a flush fit beside the longest exposure.
    assert!(
        body.get("exposure_most") + PIXELS as f64 * body.get("read_clock") + 75.0 < PERIOD.0 as f64
    );
}

/// The simulated head is the body that the figures describe.
#[test]
fn the_simulation_has_the_same_body() {
    use skimgauge_bench::head;
    let body = Body::read();
    for (name, simulated) in [
        ("spot_to_eye", head::SPOT_TO_EYE_MM),
        ("stance_across", head::STANCE_ACROSS_MM),
        ("stance_up", head::STANCE_UP_MM),
        ("upper_foot", head::UPPER_FOOT_MM),
        ("swivel_play", head::SWIVEL_PLAY_MM),
        ("swivel_range", head::SWIVEL_RANGE_DEG),
        ("window_width", head::SLIT_WIDTH_MM),
        ("slit_depth", head::SLIT_DEPTH_MM),
        ("laser_standoff", head::LASER_STANDOFF_MM),
        ("window_low", head::WINDOW_LOW_MM),
    ] {
        assert_eq!(body.get(name), simulated, "{name}");
    }
    let gauge = skimgauge_bench::room::gauge::Gauge::default();
    assert_eq!(
        (body.get("gauge_low"), body.get("gauge_high"), body.get("gauge_slit")),
        (gauge.low_mm, gauge.high_mm, gauge.slit_mm)
    );
    assert_eq!(body.get("gauge_apart"), gauge.apart_mm);
}

#[test]
fn the_bodys_sums_hold() {
    let body = Body::read();
    // Lean by 2 mrad, as the figures' reasons have it.
    let lean = 0.08 / body.get("stance_up");
    assert!((lean - 0.002).abs() < 1e-9 && body.get("spot_to_eye") * lean <= 0.021);
    assert!(body.get("bridge_low") > body.get("window_high") + 1.0);
    assert!(body.get("bridge_leg") - 10.0 > body.get("swivel_range"));
    // The azimuth from the top corner of the default room's board.
    let plan = skimgauge_bench::room::Plan::default();
    let azimuth_deg = (plan.width_mm / 2.0).atan2(plan.emitter_y_mm).to_degrees();
    assert!(
        (azimuth_deg - 86.0).abs() < 0.5
            && azimuth_deg + body.get("pointing") <= body.get("swivel_range")
    );
}

#[test]
fn the_pins_are_the_images_and_no_two_are_the_same() {
    let body = Body::read();
    let text = source("firmware/pico/src/pins.rs");
    for line in text.lines().map(str::trim).filter(|line| line.starts_with("Gpio")) {
        let (gpio, rest) = line.trim_start_matches("Gpio").split_once(' ').unwrap();
        let name = rest.split_once("name: ").unwrap().1.split(',').next().unwrap();
        assert_eq!(body.pins.get(name), Some(&gpio.parse().unwrap()), "{name}");
    }
    let mut seen: Vec<u8> = body.pins.values().copied().collect();
    seen.sort_unstable();
    seen.dedup();
    assert_eq!(seen.len(), body.pins.len());
    // RP2040 data sheet: the converter's inputs; GPIO15 is the USB erratum's; a PWM slice has two
    // neighbouring pins.
    assert!((26..=29).contains(&body.pins["pixels"]) && !seen.contains(&15));
    assert_ne!(body.pins["pixel_clock"] / 2 % 8, body.pins["buzzer"] / 2 % 8);
}

#[test]
fn the_inclinometers_axes_are_the_drivers() {
    let body = Body::read();
    let driver = source("firmware/core/src/part/inclinometer.rs");
    let said =
        format!("X points {}, its Y {}, its Z {}", body.axes["x"], body.axes["y"], body.axes["z"]);
    assert!(driver.contains(&said), "{said}");
}
