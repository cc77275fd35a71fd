//! What is wrong, in the words of the wiring: which part, which wire, where to measure. Names, pins
//! and limits are those of `hardware/`; a test there holds them to it.

use serde::{Serialize, Serializer};

/// A wire to the board: name, GPIO, board pin.
pub const PINS: &[(&str, u8, u8)] = &[
    ("sda", 4, 6),
    ("scl", 5, 7),
    ("ready", 6, 9),
    ("pixel_start", 7, 10),
    ("pixel_clock", 8, 11),
    ("laser_enable", 10, 14),
    ("buzzer", 12, 16),
    ("lamp", 13, 17),
    ("button", 14, 19),
    ("tilt_miso", 16, 21),
    ("tilt_select", 17, 22),
    ("tilt_clock", 18, 24),
    ("tilt_mosi", 19, 25),
    ("pixels", 26, 31),
];

/// A test point, and what the bring-up sheet allows there against TP3.
pub const POINTS: &[(&str, &str)] = &[
    ("TP1", "4.5 to 5.5 V"),
    ("TP2", "3.2 to 3.4 V"),
    ("TP4", "12 to 19 V"),
    ("TP5", "1 to 5 V"),
    ("TP6", "0.548 of TP5, 0.3 %"),
    ("TP7", "0.05 to 0.4 V"),
    ("TP8", "rises, 3.1 V at most"),
    ("TP9", "half of TP1, 1 %"),
    ("TP10", "3.1 V or more, moving"),
    ("TP11", "3.1 V or more, moving"),
    ("TP12", "TP1 less 0.2 V at most"),
    ("TP13", "pulses, mean 0.1 to 1.7 V"),
    ("TP14", "pulses, 0 to 3.3 V"),
];

/// A fault of the wiring.
#[derive(Debug, PartialEq, Eq)]
pub struct Wire {
    /// What it is, in a sentence.
    pub says: &'static str,
    /// Parts to look at, by their references in the schematic, the likeliest first.
    pub parts: &'static [&'static str],
    /// Wires, by their names in [`PINS`].
    pub pins: &'static [&'static str],
    /// Test points, by their names in [`POINTS`].
    pub points: &'static [&'static str],
}

impl Wire {
    /// Parts, wires with their pins, and what must be measured where.
    pub fn look(&self) -> String {
        let mut told = vec![self.parts.join(", ")];
        let pin = |name: &&str| {
            let pin = PINS.iter().find(|(known, ..)| known == name);
            pin.map_or_else(String::new, |(name, gpio, board)| {
                format!("{name} (GPIO {gpio}, board pin {board})")
            })
        };
        told.push(self.pins.iter().map(pin).collect::<Vec<_>>().join(", "));
        let point = |name: &&str| {
            let point = POINTS.iter().find(|(known, _)| known == name);
            point.map_or_else(String::new, |(name, limit)| format!("{name} to TP3: {limit}"))
        };
        told.push(self.points.iter().map(point).collect::<Vec<_>>().join("; "));
        told.retain(|part| !part.is_empty());
        told.join("; ")
    }
}

impl Serialize for Wire {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeStruct;
        let mut fields = serializer.serialize_struct("Wire", 5)?;
        fields.serialize_field("says", self.says)?;
        fields.serialize_field("parts", self.parts)?;
        fields.serialize_field("pins", self.pins)?;
        fields.serialize_field("points", self.points)?;
        fields.serialize_field("look", &self.look())?;
        fields.end()
    }
}

macro_rules! wires {
    ($($name:ident: $says:literal, $parts:expr, $pins:expr, $points:expr;)+) => {
        $(pub(super) const $name: &Wire =
            &Wire { says: $says, parts: &$parts, pins: &$pins, points: &$points };)+
        /// Every fault of the wiring that can be named.
        pub const WIRES: &[&Wire] = &[$($name),+];
    };
}

wires! {
    MEMORY_SILENT:
        "The memory does not answer at 50h and 58h: it is missing, or its A0 to A2 are not at ground.",
        ["U4"], ["sda", "scl"], ["TP10", "TP11"];
    BUS_SILENT:
        "Neither converter nor memory answers: sda and scl are swapped or cut, or their pull-ups are missing.",
        ["U2", "U4", "R3", "R4"], ["sda", "scl"], ["TP10", "TP11"];
    BUS_STUCK:
        "A wire of the I2C bus is held low: a short to ground, or a chip that holds it down.",
        ["U2", "U4", "R3", "R4"], ["sda", "scl"], ["TP10", "TP11"];
    CONVERTER_SILENT:
        "The converter does not answer at 48h, or its ready wire never falls.",
        ["U2"], ["ready", "sda", "scl"], ["TP10", "TP11", "TP2"];
    CONVERTER_FROZEN:
        "The converter gives the same code again and again, to the last digit.",
        ["U2"], ["ready"], ["TP2", "TP6"];
    TILT_SILENT:
        "The inclinometer does not answer: it has no supply, or its data wire is cut.",
        ["U3"], ["tilt_miso", "tilt_select"], ["TP2"];
    TILT_FRAMES:
        "The inclinometer's answers fail their check: two of its SPI wires are swapped, or one is loose.",
        ["U3"], ["tilt_miso", "tilt_mosi", "tilt_clock", "tilt_select"], [];
    TILT_SELF_TEST:
        "The inclinometer's own test fails: one of its own capacitors, its supply, or the part itself.",
        ["U3", "C5", "C6", "C7"], [], ["TP2"];
    TILT_FROZEN:
        "The inclinometer's angles do not move.",
        ["U3"], ["tilt_clock"], ["TP2"];
    TILT_LYING:
        "Gravity is not along the inclinometer's Z: it lies in another plane. Its arrows: X right, Y into the board, Z up.",
        ["U3"], [], [];
    TILT_X:
        "Level counts the wrong way: the inclinometer's X points left. Its arrows: X right, Y into the board, Z up.",
        ["U3"], [], [];
    TILT_Y:
        "Lean counts the wrong way: the inclinometer's Y points out of the board. Its arrows: X right, Y into the board, Z up.",
        ["U3"], [], [];
    TILT_SWAPPED:
        "Level and lean are swapped: the inclinometer is turned by a quarter, X lies where Y should. Its arrows: X right, Y into the board, Z up.",
        ["U3"], [], [];
    SPOT_LOST:
        "The laser sensor sees no spot, on white paper: it is dark, or its output is above 5.4 V.",
        ["J2", "Q1", "Q2", "R10", "U5"], ["laser_enable"], ["TP12", "TP4", "TP5"];
    STAND_OFF_RANGE:
        "The laser sensor's output is below what it gives in range: its wire is off, or JP1 is bridged for a sensor of 1 V to 5 V.",
        ["J2", "JP1", "R14", "R15", "R17"], [], ["TP5", "TP6"];
    STAND_OFF_VALUE:
        "The stand-off is not what the body was set to: its divider, the bridge for 4 mA to 20 mA, or the sensor's place.",
        ["R15", "R16", "R17", "JP1", "R14"], [], ["TP5", "TP6"];
    STAND_OFF_NOISE:
        "The stand-off is not steady: a loose wire, the sensor's lead beside the buzzer's, or no ground between sensor and converter.",
        ["J2", "C13", "R17", "U5"], [], ["TP4", "TP5", "TP6"];
    STAND_OFF_HELD:
        "The stand-off does not move when the head is lifted: the sensor holds its last value, or its output is not at J2.",
        ["J2", "R15", "R17"], [], ["TP5", "TP6"];
    STAND_OFF_FALLS:
        "The stand-off falls when the head is lifted, with constants of its own: the sensor's slope is not what the zero says.",
        ["J2"], [], ["TP5"];
    EYE_FLAT:
        "The pixels give the same value all along the line, in any light: no clock, no start, or no 5 V at the eye.",
        ["J3", "U6", "R20", "R21", "R24", "FB1"], ["pixel_clock", "pixel_start", "pixels"], ["TP13", "TP14", "TP7"];
    EYE_FROZEN:
        "The pixels give the same scan again and again: no start, or the eye's plug.",
        ["J3", "U6", "R20", "R24"], ["pixel_start", "pixels"], ["TP14", "TP7"];
    EYE_SILENT:
        "No scan comes from the pixels.",
        ["J3", "U6", "R20", "R21", "R24"], ["pixel_clock", "pixel_start", "pixels"], ["TP13", "TP14", "TP7"];
    EYE_AT_STOP:
        "The pixels stand high in the dark: the output is stuck, or its divider is open at ground.",
        ["R23", "R24", "U6", "J3"], ["pixels"], ["TP7", "TP8"];
    EYE_LOW:
        "The pixels stand too low in the dark: no 5 V at the eye, its DIS not at ground, or the plug.",
        ["J3", "FB1", "R22", "R24", "U6"], ["pixels"], ["TP7"];
    EYE_PIXELS:
        "Pixels are dead, stuck or covered: dirt on the slit or the filter, or the line itself.",
        ["U6"], [], ["TP7"];
    EYE_BLIND:
        "No light is seen: the filter is for another wavelength, the slit is covered, or the lamp has no infrared.",
        ["U6", "R24"], ["pixels"], ["TP7", "TP8"];
    EYE_UPSIDE_DOWN:
        "The pixels are upside down: pixel 1 is to be at the board.",
        ["U6"], [], [];
    SUPPLY_LOW:
        "The supply is low: the cable, the fuse, or the computer's port.",
        ["F1", "J1"], [], ["TP1"];
    SUPPLY_HIGH:
        "The supply is high, or its divider is not two alike.",
        ["R5", "R6", "J1"], [], ["TP1", "TP9"];
    SUPPLY_DIVIDER:
        "The supply reads half or nothing while the head runs: its divider.",
        ["R5", "R6"], [], ["TP9", "TP1"];
    RESTARTS:
        "The head restarted or was gone: the supply sags, or the cable is loose at its strap.",
        ["F1", "J1"], [], ["TP1"];
    BUTTON:
        "The button is not heard: its wire is off, or touches ground all the time. 3.3 V at its pin let go, 0 V pressed.",
        ["SW1", "R25"], ["button"], [];
    LAMP:
        "The lamp stays dark: it is the wrong way round, or its wire is off.",
        ["D5", "R26"], ["lamp"], [];
    BUZZER:
        "The buzzer is silent: its wire is off, or its transistor is the wrong way round.",
        ["BZ1", "R27", "R28", "Q3", "D6"], ["buzzer"], [];
    CONSTANTS_DAMAGED:
        "The constants in the memory are damaged. Zero the head; damaged again, it is the memory or its wires.",
        ["U4"], ["sda", "scl"], ["TP10", "TP11", "TP2"];
    CONSTANTS_OTHER:
        "The constants in the memory are another head's: the memory was taken from it. Zero this head.",
        ["U4"], [], [];
}
