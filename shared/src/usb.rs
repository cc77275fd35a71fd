//! Who a head is on the USB bus: both ends go by this, and it never changes while heads are out
//! that show it.

use crate::identity::SerialNumber;
use heapless::String;

/// Vendor and product number: those that pid.codes sets aside for tests. Heads that are sold need
/// their own.
pub const VENDOR: u16 = 0x1209;
/// See [`VENDOR`].
pub const PRODUCT: u16 = 0x0001;
/// Manufacturer string.
pub const MANUFACTURER: &str = "skimgauge";
/// Product string. Others use the test numbers too: it is what tells a head from them.
pub const NAME: &str = "skimgauge head";

/// The serial string: a head's number as 32 hexadecimal digits.
pub fn serial(number: &SerialNumber) -> String<32> {
    const DIGITS: &[u8; 16] = b"0123456789ABCDEF";
    let mut text = String::new();
    for byte in number.0 {
        for digit in [byte >> 4, byte & 15] {
            // Two digits for each of 16 bytes: there is room.
            let _ = text.push(char::from(DIGITS[usize::from(digit)]));
        }
    }
    text
}

/// Whether a port with these descriptors is a head's. The numbers alone never decide: others use
/// them too. Some systems do not tell the product string: then the serial number must be of a
/// head's form; some put underscores for its spaces.
pub fn is_head(vendor: u16, product: u16, name: Option<&str>, number: Option<&str>) -> bool {
    let same = |(a, b): (char, char)| a == b || (a == '_' && b == ' ');
    let holds = |name: &str| {
        name.char_indices().any(|(at, _)| {
            let rest = &name[at..];
            rest.chars().count() >= NAME.len() && rest.chars().zip(NAME.chars()).all(same)
        })
    };
    let is_number = |text: &str| {
        text.len() == 32 && text.bytes().all(|b| b.is_ascii_digit() || (b'A'..=b'F').contains(&b))
    };
    let named = match (name, number) {
        (Some(name), _) => holds(name),
        (None, Some(number)) => is_number(number),
        (None, None) => false,
    };
    (vendor, product) == (VENDOR, PRODUCT) && named
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_serial_string_is_the_number_in_order() {
        let number =
            SerialNumber([0, 1, 0x23, 0x45, 0x67, 0x89, 0xAB, 0xCD, 0xEF, 9, 9, 9, 9, 9, 9, 0xF0]);
        assert_eq!(serial(&number).as_str(), "000123456789ABCDEF090909090909F0");
    }

    #[test]
    fn no_device_is_a_head_by_its_numbers_alone() {
        const NUMBER: &str = "290C00112233445566778899AABBCCDD";
        for (number, is) in [
            (None, false),
            (Some(""), false),
            (Some(NUMBER), true),
            (Some(&NUMBER[1..]), false),
            (Some("E6614103E7452D2F"), false),
            (Some("290c00112233445566778899aabbccdd"), false),
        ] {
            assert_eq!(is_head(VENDOR, PRODUCT, None, number), is, "{number:?}");
        }
        // A name that is told decides, whatever the number looks like.
        assert!(!is_head(VENDOR, PRODUCT, Some("another head"), Some(NUMBER)));
        assert!(!is_head(VENDOR, PRODUCT + 1, None, Some(NUMBER)));
    }

    #[test]
    fn a_head_is_told_by_its_numbers_and_its_name() {
        for (name, is) in [
            (Some("skimgauge head"), true),
            (Some("skimgauge_head"), true),
            (Some("skimgauge skimgauge_head (1)"), true),
            (Some("skimgauge"), false),
            (Some("another head"), false),
            (Some("ein Kopf für skimgauge"), false),
            (Some(""), false),
        ] {
            assert_eq!(is_head(VENDOR, PRODUCT, name, None), is, "{name:?}");
            assert!(!is_head(VENDOR, PRODUCT + 1, name, None));
            assert!(!is_head(VENDOR + 1, PRODUCT, name, None));
        }
    }
}
