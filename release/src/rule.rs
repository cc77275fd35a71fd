//! The rule by which Linux lets whoever sits at the computer open a head's port.

use crate::Paper;
use skimgauge::head::rule::RULE;
use skimgauge_shared::usb::{NAME, PRODUCT, VENDOR};

/// The rule, named as the program looks for it.
///
/// Its number is below 73: the rule that gives a device to whoever sits at the computer
/// (`73-seat-late.rules` of systemd) comes after every tag. A modem's manager would try every new
/// port for a modem, and keep a head's busy for half a minute: it is told not to, by the names that
/// ModemManager's manual gives (`ID_MM_DEVICE_IGNORE` on the device, `ID_MM_PORT_IGNORE` on the port).
pub fn paper() -> Paper {
    let head = |key: &str| {
        format!(
            "{key}{{idVendor}}==\"{VENDOR:04x}\", {key}{{idProduct}}==\"{PRODUCT:04x}\", {key}{{product}}==\"{NAME}\""
        )
    };
    let text = format!(
        "# Whoever sits at this computer may open the port of a skimgauge head. A head that was plugged in\n\
         # before this file came is to be unplugged and plugged in again.\n\
         SUBSYSTEM==\"usb\", ENV{{DEVTYPE}}==\"usb_device\", {}, ENV{{ID_MM_DEVICE_IGNORE}}=\"1\"\n\
         SUBSYSTEM==\"tty\", {}, TAG+=\"uaccess\", ENV{{ID_MM_PORT_IGNORE}}=\"1\"\n",
        head("ATTR"),
        head("ATTRS")
    );
    Paper { path: format!("udev/{RULE}"), bytes: text.into_bytes() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_knows_a_head_by_what_usb_shows_of_it() {
        let text = String::from_utf8(paper().bytes).unwrap();
        let rules: Vec<&str> = text.lines().filter(|line| !line.starts_with('#')).collect();
        assert_eq!(rules.len(), 2);
        for rule in rules {
            // Four lower-case digits each: so sysfs shows them (Linux, drivers/usb/core/sysfs.c).
            assert!(rule.contains(&format!("{{idVendor}}==\"{VENDOR:04x}\"")), "{rule}");
            assert!(rule.contains(&format!("{{idProduct}}==\"{PRODUCT:04x}\"")), "{rule}");
            assert!(rule.contains("{product}==\"skimgauge head\""), "{rule}");
        }
        assert!(text.contains("TAG+=\"uaccess\""));
        assert!(RULE < "73-seat-late.rules");
    }
}
