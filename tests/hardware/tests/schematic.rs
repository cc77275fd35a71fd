//! The schematic against pins, drivers and sums; and each kind of fault, put in on purpose.

use skimgauge_hardware::figures::{Body, Ratings};
use skimgauge_hardware::interval::written;
use skimgauge_hardware::netlist::Netlist;
use skimgauge_hardware::{pins, source, sums};

fn netlist() -> Netlist {
    Netlist::parse(&source("hardware/schematic/head.xml")).unwrap()
}

fn body() -> Body {
    Body::parse(&source("hardware/body/params.toml")).unwrap()
}

fn pin_faults(netlist: &Netlist, document: &str, image: &str) -> Vec<String> {
    pins::faults(&body().pins, netlist, document, image)
}

fn files() -> (String, String) {
    (source("hardware/pins.md"), source("firmware/pico/src/pins.rs"))
}

#[test]
fn every_pin_is_where_parameters_document_and_image_have_it() {
    let (document, image) = files();
    assert_eq!(pin_faults(&netlist(), &document, &image), Vec::<String>::new());
    // Said, not failed: the schematic is ahead of the image.
    let later = pins::not_named_yet(&body().pins, &image);
    if !later.is_empty() {
        println!("the image does not name yet: {}", later.join(", "));
    }
    assert!(
        later.iter().all(|name| name.starts_with("pixel") || name == "laser_enable"),
        "{later:?}"
    );
}

#[test]
fn every_part_is_joined_as_its_driver_needs_it() {
    assert_eq!(pins::joints(&netlist()), Vec::<String>::new());
}

#[test]
fn a_swapped_pin_is_found() {
    let (document, image) = files();
    let swap = |text: &str, a: &str, b: &str| text.replace(a, "\0").replace(b, a).replace('\0', b);
    let xml = source("hardware/schematic/head.xml");
    for (a, b) in [("\"sda\"", "\"scl\""), ("\"pixel_start\"", "\"pixel_clock\"")] {
        let swapped =
            Netlist::parse(&swap(&xml, &format!("name={a}"), &format!("name={b}"))).unwrap();
        assert!(pin_faults(&swapped, &document, &image).len() >= 2, "{a}");
    }
    let swapped = Netlist::parse(&swap(&xml, "name=\"eye_start\"", "name=\"eye_clock\"")).unwrap();
    assert_eq!(pins::joints(&swapped).len(), 4);
    let said = pin_faults(&netlist(), &document.replace("| 5 | 7 | scl", "| 5 | 9 | scl"), &image);
    assert!(said.len() == 1 && said[0].contains("pins.md has GPIO 5, board pin 9"), "{said:?}");
    let said = pin_faults(&netlist(), &document, &image.replace("Gpio12 {", "Gpio11 {"));
    assert!(said.len() == 1 && said[0].contains("the image has it at 11"), "{said:?}");
    let said = pin_faults(&netlist(), &document, &image.replace("name: lamp", "name: lantern"));
    assert!(said.len() == 1 && said[0].contains("names lantern"), "{said:?}");
}

fn all_sums(netlist: &Netlist) -> Vec<sums::Sum> {
    sums::all(netlist, &Ratings::parse(&source("hardware/ratings.toml")).unwrap()).unwrap()
}

#[test]
fn every_sum_holds_and_the_document_says_it() {
    let sums = all_sums(&netlist());
    assert!(sums.len() > 20);
    let broken: Vec<_> = sums.iter().filter(|sum| !sum.holds()).collect();
    assert!(broken.is_empty(), "{broken:#?}");
    assert_eq!(source("hardware/sums.md"), sums::document(&sums), "run --bin sums");
}

#[test]
fn a_wrong_value_is_found_by_its_sum() {
    for (part, value, sum) in [
        ("R16", "27 k, 0.1 %", "stand_off over the sensor's range"),
        ("R16", "13.7 k, 1 %", "stand_off, spot lost"),
        ("R14", "270, 1 %", "stand_off over 4 mA to 20 mA"),
        ("R15", "1.21 k, 0.1 %", "into the 3.3 V rail, output on 15 V"),
        ("R23", "3.9 k, 1 %", "pixels, output at its supply"),
        ("R22", "15 k, 1 %", "pixels settle to 1 %"),
        ("R3", "10 k, 1 %", "rise of the I2C bus"),
        ("R3", "680, 1 %", "current into a pulled-down bus"),
        ("R5", "1 k, 1 %", "supply, halved"),
        ("R26", "100, 5 %", "lamp"),
        ("R27", "10 k, 5 %", "base of Q3"),
        ("R28", "22, 5 %", "heat in R28, buzzer stuck on"),
        ("R18", "330, 5 %", "current from USB"),
        ("C13", "470 nF, 5 %", "stand_off settles to 1 in 2^15"),
        ("C10", "1 nF, 10 %", "inrush when the laser is let on"),
        ("C20", "22 uF, 10 %", "capacitors at the plug"),
        ("R11", "1 M, 5 %", "laser_enable with no image"),
    ] {
        let mut wrong = netlist();
        wrong.parts.get_mut(part).unwrap().value = value.to_owned();
        let sums = all_sums(&wrong);
        let found = sums.iter().find(|found| found.name == sum);
        let found = found.unwrap_or_else(|| panic!("{sum}"));
        assert!(!found.holds(), "{part} = {value}: {found:?}");
    }
    let mut missing = netlist();
    missing.parts.remove("R17");
    let ratings = Ratings::parse(&source("hardware/ratings.toml")).unwrap();
    assert_eq!(sums::all(&missing, &ratings).unwrap_err(), "the schematic has no R17");
}

/// The worked divider of any handbook: 10 k over 20 k at 3 V gives 2 V; 1 % parts make it 1.987 V
/// to 2.013 V, reckoned by hand.
#[test]
fn values_are_read_as_they_are_written() {
    let (a, b) = (written("10 k, 1 %").unwrap(), written("20 k, 1 %, 0.5 W").unwrap());
    let node = skimgauge_hardware::interval::corners([a, b], |[a, b]| 3.0 * b / (a + b));
    assert!((node.low - 1.98662).abs() < 1e-4 && (node.high - 2.01329).abs() < 1e-4, "{node}");
    let c = written("4.7 uF, 10 %, 50 V").unwrap();
    assert!((c.low - 4.23e-6).abs() < 1e-12 && (c.high - 5.17e-6).abs() < 1e-12);
    for nonsense in ["", "k", "10 k", "10 q, 1 %", "ten, 1 %"] {
        assert!(written(nonsense).is_err(), "{nonsense}");
    }
}

/// USB's descriptor asks for what the sums allow for.
#[test]
fn the_image_asks_the_host_for_the_current_that_the_head_takes() {
    let sums = all_sums(&netlist());
    let current = sums.iter().find(|sum| sum.name == "current from USB").unwrap();
    let link = source("firmware/pico/src/link.rs");
    let asked = link.split_once(".max_power(").unwrap().1.split(')').next().unwrap();
    let asked: f64 = asked.parse().unwrap();
    assert!(current.comes_to.high <= asked && asked <= 500.0, "{asked} mA: {current:?}");
}
