//! One pin table: the image's, the document's and the emulator's are the same.

use std::collections::BTreeMap;
use std::path::Path;

/// Name, use, function and pull of a pin.
type Use = (String, String, String, String);

fn source(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn between<'a>(text: &'a str, before: &str, after: &str) -> &'a str {
    let rest = text.split_once(before).unwrap_or_else(|| panic!("no `{before}` in `{text}`")).1;
    rest.split_once(after).unwrap_or_else(|| panic!("no `{after}` in `{rest}`")).0.trim()
}

fn of_the_image() -> BTreeMap<u8, Use> {
    let text = source("firmware/pico/src/pins.rs");
    let mut pins = BTreeMap::new();
    let mut use_for = String::new();
    for line in text.lines().map(str::trim) {
        if let Some(comment) = line.strip_prefix("/// ") {
            use_for = comment.to_owned();
        } else if line.starts_with("Gpio") {
            let number = between(line, "Gpio", " ").parse().unwrap();
            let (function, pull) = between(line, "aliases: {", ":").split_once(", ").unwrap();
            let function = match function {
                "FunctionSioInput" => "input",
                "FunctionSioOutput" => "output",
                "FunctionPwm" => "PWM",
                "FunctionSpi" => "SPI",
                "FunctionI2C" => "I2C",
                "FunctionNull" => "ADC",
                other => panic!("{other}"),
            };
            let pull = pull.strip_prefix("Pull").unwrap().to_lowercase();
            let name = between(line, "name:", ",").to_owned();
            let before = pins
                .insert(number, (name, std::mem::take(&mut use_for), function.to_owned(), pull));
            assert!(before.is_none(), "GPIO {number} twice");
        }
    }
    pins
}

fn of_the_document() -> BTreeMap<u8, (u8, Use)> {
    let text = source("hardware/pins.md");
    let rows =
        text.lines().filter(|line| line.starts_with("| ") && line.as_bytes()[2].is_ascii_digit());
    let mut pins = BTreeMap::new();
    for row in rows {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let [gpio, board, name, use_for, function, pull] = cells[..] else { panic!("{row}") };
        let entry = (name.to_owned(), use_for.to_owned(), function.to_owned(), pull.to_owned());
        let before = pins.insert(gpio.parse().unwrap(), (board.parse().unwrap(), entry));
        assert!(before.is_none(), "{row}");
    }
    pins
}

#[test]
fn the_document_says_what_the_image_does() {
    let image = of_the_image();
    let document = of_the_document();
    assert!(image.len() >= 10);
    let described: BTreeMap<u8, Use> =
        document.iter().map(|(gpio, (_, entry))| (*gpio, entry.clone())).collect();
    assert_eq!(described, image);
    // A 40-pin board: GPIO 0 at pin 1, a ground after GPIO 1 and after every fourth from there
    // (from memory).
    for (gpio, (board, _)) in document {
        let expected = match gpio {
            0..16 => gpio + 1 + (gpio + 2) / 4,
            26 => 31,
            _ => gpio + 5 + (gpio - 14) / 4,
        };
        assert_eq!(board, expected, "board pin of GPIO {gpio}");
    }
}

#[test]
fn the_emulator_is_wired_like_the_image() {
    let image = of_the_image();
    let text = source("firmware/emulator/chip/chip.mjs");
    let mut count = 0;
    for pair in between(&text, "export const Pin = {", "}").split(',') {
        let (name, gpio) = pair.split_once(':').unwrap();
        let gpio: u8 = gpio.trim().parse().unwrap();
        assert_eq!(
            image.get(&gpio).map(|entry| entry.0.as_str()),
            Some(name.trim()),
            "GPIO {gpio}"
        );
        count += 1;
    }
    assert!(count >= 7);
}
