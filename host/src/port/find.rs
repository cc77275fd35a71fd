//! Which ports there are, and which of them are heads.
//!
//! A head is told by its USB identity before anything is sent to it: a stranger's port is never written to unasked.

use serialport::{SerialPortInfo, SerialPortType};
use skimgauge_shared::message::SerialNumber;

/// USB vendor and product number of a head: the open test numbers of pid.codes, until the head has its own.
pub const USB_IDENTITY: (u16, u16) = (0x1209, 0x0001);
/// The product's name in its USB descriptor.
pub const USB_PRODUCT: &str = "skimgauge head";

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
    let found = serialport::available_ports().map_err(|error| error.to_string())?;
    let mut ports: Vec<Port> = found.into_iter().map(Port::from).collect();
    ports.sort_by(|a, b| b.is_head.cmp(&a.is_head).then_with(|| a.name.cmp(&b.name)));
    Ok(ports)
}

/// The port on which USB shows the head with this serial number, if it shows there.
pub fn port_of(serial: Option<SerialNumber>) -> Option<String> {
    let wanted = usb_serial(&serial?);
    let port = ports().ok()?.into_iter().find(|port| port.is_head && port.usb_serial.as_deref() == Some(&wanted))?;
    Some(port.name)
}

/// The serial number as USB shows it: 32 hexadecimal digits.
pub fn usb_serial(serial: &SerialNumber) -> String {
    serial.0.iter().map(|byte| format!("{byte:02X}")).collect()
}

impl From<SerialPortInfo> for Port {
    fn from(info: SerialPortInfo) -> Self {
        let SerialPortType::UsbPort(usb) = info.port_type else {
            return Self { name: info.port_name, is_head: false, product: None, usb_serial: None };
        };
        let named = usb.product.as_deref().is_none_or(|product| product.replace('_', " ").contains(USB_PRODUCT));
        Self {
            name: info.port_name,
            is_head: (usb.vid, usb.pid) == USB_IDENTITY && named,
            product: usb.product,
            usb_serial: usb.serial_number,
        }
    }
}
