//! One pin table: the body's parameters, the schematic, the document and the image.

use crate::netlist::Netlist;
use std::collections::BTreeMap;

/// GPIO and name, of whatever states them.
pub type Pins = BTreeMap<String, u8>;

/// What `firmware/pico/src/pins.rs` names.
pub fn of_the_image(text: &str) -> Pins {
    let mut pins = Pins::new();
    for line in text.lines().map(str::trim) {
        let Some((gpio, rest)) = line.strip_prefix("Gpio").and_then(|rest| rest.split_once(' '))
        else {
            continue;
        };
        let name = rest.split_once("name:").and_then(|(_, rest)| rest.split(',').next());
        if let (Ok(gpio), Some(name)) = (gpio.parse(), name) {
            pins.insert(name.trim().to_owned(), gpio);
        }
    }
    pins
}

/// What `hardware/pins.md` says: name, GPIO and board pin. Rows that begin with `GPIO` are of pins
/// that the image does not name yet.
pub fn of_the_document(text: &str) -> BTreeMap<String, (u8, u8)> {
    let mut pins = BTreeMap::new();
    for row in text.lines().filter(|line| line.starts_with('|')) {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let [gpio, board, name, ..] = cells[..] else { continue };
        let gpio = gpio.strip_prefix("GPIO ").unwrap_or(gpio);
        if let (Ok(gpio), Ok(board)) = (gpio.parse(), board.parse()) {
            pins.insert(name.to_owned(), (gpio, board));
        }
    }
    pins
}

/// Where a GPIO is on a 40-pin board of the Pico's outline: GPIO 0 at pin 1, a ground after GPIO 1
/// and after every fourth from there; beyond GPIO 22 the other functions come between (from memory).
pub fn board_pin(gpio: u8) -> u8 {
    match gpio {
        0..16 => gpio + 1 + (gpio + 2) / 4,
        16..23 => gpio + 5 + (gpio - 14) / 4,
        26 => 31,
        27 => 32,
        _ => 34,
    }
}

/// Everything in which they disagree.
pub fn faults(wanted: &Pins, netlist: &Netlist, document: &str, image: &str) -> Vec<String> {
    let mut said = Vec::new();
    let documented = of_the_document(document);
    let image = of_the_image(image);
    let board = match netlist.only("RP2040_BOARD") {
        Ok(board) => board.to_owned(),
        Err(error) => return vec![error],
    };
    for (name, gpio) in wanted {
        let pin = board_pin(*gpio);
        match netlist.net_of(&board, &pin.to_string()) {
            Some(net) if net == name => (),
            net => said.push(format!(
                "{name} is GPIO {gpio}, board pin {pin}: in the schematic that pin is on {}",
                net.unwrap_or("nothing")
            )),
        }
        match documented.get(name) {
            Some((g, p)) if (g, *p) == (gpio, pin) => (),
            Some((g, p)) => said.push(format!(
                "{name} is GPIO {gpio}, board pin {pin}: pins.md has GPIO {g}, board pin {p}"
            )),
            None => said.push(format!("pins.md has no {name}")),
        }
        if image.get(name).is_some_and(|of_the_image| of_the_image != gpio) {
            said.push(format!("{name} is GPIO {gpio}: the image has it at {}", image[name]));
        }
    }
    for name in image.keys() {
        if !wanted.contains_key(name) {
            said.push(format!("the image names {name}: params.toml does not"));
        }
    }
    for name in documented.keys() {
        if !wanted.contains_key(name) {
            said.push(format!("pins.md names {name}: params.toml does not"));
        }
    }
    said
}

/// Pins that are set aside and that the image does not name yet.
pub fn not_named_yet(wanted: &Pins, image: &str) -> Vec<String> {
    let image = of_the_image(image);
    wanted.keys().filter(|name| !image.contains_key(*name)).cloned().collect()
}

/// Joints that make each part what the drivers take it for: part kind, pin number, net.
const JOINTS: &[(&str, &str, &str)] = &[
    ("RP2040_BOARD", "40", "+5V"),
    ("RP2040_BOARD", "36", "+3V3"),
    ("RP2040_BOARD", "TP2", "usb_dm"),
    ("RP2040_BOARD", "TP3", "usb_dp"),
    // ADS1115: 48h, stand-off at AIN0, the halved supply at AIN3.
    ("ADS1115", "1", "GND"),
    ("ADS1115", "2", "ready"),
    ("ADS1115", "4", "stand_off"),
    ("ADS1115", "5", "GND"),
    ("ADS1115", "6", "GND"),
    ("ADS1115", "7", "supply_half"),
    ("ADS1115", "8", "+3V3"),
    ("ADS1115", "9", "sda"),
    ("ADS1115", "10", "scl"),
    // 24CS32: 50h and 58h, written to.
    ("24CS32", "1", "GND"),
    ("24CS32", "2", "GND"),
    ("24CS32", "3", "GND"),
    ("24CS32", "5", "sda"),
    ("24CS32", "6", "scl"),
    ("24CS32", "7", "GND"),
    ("24CS32", "8", "+3V3"),
    ("SCL3300", "4", "+3V3"),
    ("SCL3300", "5", "tilt_select"),
    ("SCL3300", "6", "tilt_miso"),
    ("SCL3300", "7", "tilt_mosi"),
    ("SCL3300", "8", "tilt_clock"),
    ("SCL3300", "9", "+3V3"),
    ("LASER_SENSOR", "1", "+15V"),
    ("LASER_SENSOR", "2", "GND"),
    ("PIXEL_LINE", "VCC", "eye_5v"),
    ("PIXEL_LINE", "SI", "eye_start"),
    ("PIXEL_LINE", "CLK", "eye_clock"),
    ("PIXEL_LINE", "AO", "eye_out"),
    ("PIXEL_LINE", "DIS", "GND"),
    ("PIXEL_LINE", "GND", "GND"),
    ("PIXEL_LINE", "AGND", "GND"),
    ("EYE_PLUG", "1", "eye_5v"),
    ("EYE_PLUG", "2", "GND"),
    ("EYE_PLUG", "3", "eye_start"),
    ("EYE_PLUG", "4", "eye_clock"),
    ("EYE_PLUG", "5", "GND"),
    ("EYE_PLUG", "6", "eye_out"),
];

/// Joints that are not as the drivers need them.
pub fn joints(netlist: &Netlist) -> Vec<String> {
    let mut said = Vec::new();
    for (kind, pin, net) in JOINTS {
        match netlist.only(kind) {
            Ok(part) => {
                let is = netlist.net_of(part, pin).unwrap_or("nothing");
                if is != *net {
                    said.push(format!("{part} ({kind}) pin {pin} is on {is}, not on {net}"));
                }
            }
            Err(error) => said.push(error),
        }
    }
    said
}
