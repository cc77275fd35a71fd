//! Which ports there are, and which of them are heads.
//!
//! A head is told by its USB identity before anything is sent to it: a stranger's port is never
//! written to unasked.

use serialport::{SerialPortInfo, SerialPortType};
use skimgauge_shared::identity::SerialNumber;
use skimgauge_shared::usb;
use skimgauge_system::port;

/// A port of this computer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Port {
    /// As the system names it.
    pub name: String,
    /// Its USB identity is a head's.
    pub is_head: bool,
    /// What its USB descriptor says, for people.
    pub product: Option<String>,
    /// The serial number in its USB descriptor.
    pub usb_serial: Option<String>,
}

/// All ports, heads first.
///
/// # Errors
/// The system cannot list its ports; its own words.
pub fn ports() -> Result<Vec<Port>, String> {
    // Without it (as in a container) the library panics.
    const PORTS: &str = "/sys/class/tty";
    if cfg!(target_os = "linux") && !std::path::Path::new(PORTS).is_dir() {
        return Err(format!("there is no {PORTS} here"));
    }
    let found = serialport::available_ports().map_err(|error| error.to_string())?;
    let mut ports: Vec<Port> = found.into_iter().map(Port::from).collect();
    // COM9 before COM10, ttyACM9 before ttyACM10.
    let order = |port: &Port| (!port.is_head, port.name.len(), port.name.clone());
    ports.sort_by_cached_key(order);
    Ok(ports)
}

/// The port on which USB shows the head with this serial number, if it shows there.
pub fn port_of(serial: Option<SerialNumber>) -> Option<String> {
    let wanted = usb::serial(&serial?);
    let port = ports()
        .ok()?
        .into_iter()
        .find(|port| port.is_head && port.usb_serial.as_deref() == Some(&wanted))?;
    Some(port.name)
}

impl From<SerialPortInfo> for Port {
    fn from(info: SerialPortInfo) -> Self {
        Self::new(info, port::tells_what_devices_say())
    }
}

impl Port {
    /// A port that the system lists, which names a device as it says itself, or as its driver does.
    fn new(info: SerialPortInfo, as_it_says: bool) -> Self {
        let SerialPortType::UsbPort(found) = info.port_type else {
            return Self { name: info.port_name, is_head: false, product: None, usb_serial: None };
        };
        let said = found.product.as_deref().filter(|_| as_it_says);
        let number = found.serial_number.as_deref();
        Self {
            name: info.port_name,
            is_head: usb::is_head(found.vid, found.pid, said, number),
            product: found.product,
            usb_serial: found.serial_number,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serialport::UsbPortInfo;

    /// Another maker's device with the very same numbers is listed, and never asked: see `ports`,
    /// which asks those that are heads.
    #[test]
    fn a_stranger_with_a_heads_numbers_is_no_head() {
        let port = |product: Option<&str>, serial: Option<&str>, as_it_says| {
            let info = SerialPortInfo {
                port_name: "/dev/ttyACM0".to_owned(),
                port_type: SerialPortType::UsbPort(UsbPortInfo {
                    vid: usb::VENDOR,
                    pid: usb::PRODUCT,
                    serial_number: serial.map(str::to_owned),
                    manufacturer: Some("a hobbyist".to_owned()),
                    product: product.map(str::to_owned),
                }),
            };
            Port::new(info, as_it_says)
        };
        let number = "290C00112233445566778899AABBCCDD";
        assert!(port(Some(usb::NAME), Some(number), true).is_head);
        assert!(port(None, Some(number), true).is_head);
        assert!(!port(Some("a lamp dimmer"), Some(number), true).is_head);
        assert!(!port(None, None, true).is_head && !port(None, Some("0001"), true).is_head);
        // What Windows calls every serial port says nothing of the device.
        let driver = Some("USB Serial Device (COM3)");
        assert!(port(driver, Some(number), false).is_head);
        assert!(!port(driver, Some("6&A694CA9&0&0000"), false).is_head);
        assert!(!port(Some(usb::NAME), None, false).is_head);
        let unknown = SerialPortInfo {
            port_name: "/dev/ttyS0".to_owned(),
            port_type: SerialPortType::Unknown,
        };
        assert!(!Port::from(unknown).is_head);
    }
}
