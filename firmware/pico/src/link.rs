//! The USB serial link: who the head is on the bus, and bytes both ways.

use heapless::Vec;
use rp2040_hal::usb::UsbBus;
use skimgauge_shared::usb;
use usb_device::bus::UsbBusAllocator;
use usb_device::device::{
    StringDescriptors, UsbDevice, UsbDeviceBuilder, UsbDeviceState, UsbVidPid,
};
use usbd_serial::{CdcAcmClass, USB_CLASS_CDC};

/// A full-speed bulk packet.
pub(crate) const PACKET: usize = 64;

/// Bytes that wait for their packet.
const WAITING: usize = 4 * PACKET;

/// The link.
pub(crate) struct Link<'a> {
    device: UsbDevice<'a, UsbBus>,
    serial: CdcAcmClass<'a, UsbBus>,
    waiting: Vec<u8, WAITING>,
    /// The packet before was full, so the host waits for more until an empty one comes.
    unfinished: bool,
}

impl<'a> Link<'a> {
    /// On the bus, as the head with this number.
    pub(crate) fn new(bus: &'a UsbBusAllocator<UsbBus>, number: &'a str) -> Option<Self> {
        let serial = CdcAcmClass::new(bus, PACKET as u16);
        let strings =
            StringDescriptors::default().manufacturer(usb::MANUFACTURER).product(usb::NAME);
        let strings = if number.is_empty() { strings } else { strings.serial_number(number) };
        let device = UsbDeviceBuilder::new(bus, UsbVidPid(usb::VENDOR, usb::PRODUCT))
            .strings(&[strings])
            .ok()?
            .max_packet_size_0(PACKET as u8)
            .ok()?
            // What `hardware/sums.md` comes to, laser and buzzer on.
            .max_power(400)
            .ok()?
            .device_class(USB_CLASS_CDC)
            .build();
        Some(Self { device, serial, waiting: Vec::new(), unfinished: false })
    }

    /// Serves the bus. The bytes that came, if any.
    pub(crate) fn serve<'b>(&mut self, packet: &'b mut [u8; PACKET]) -> &'b [u8] {
        self.device.poll(&mut [&mut self.serial]);
        if !self.heard() {
            self.waiting.clear();
            self.unfinished = false;
        }
        self.push();
        match self.serial.read_packet(packet) {
            Ok(length) => &packet[..length],
            Err(_) => &[],
        }
    }

    /// A host has found the head: it has given it an address, or opened its port.
    pub(crate) fn is_found(&self) -> bool {
        matches!(self.device.state(), UsbDeviceState::Addressed | UsbDeviceState::Configured)
            || self.serial.dtr()
    }

    /// A host has configured the head and is awake. Its own idea of that may be lost (see [`Self::heard`]): an open port
    /// says the same.
    pub(crate) fn is_configured(&self) -> bool {
        self.device.state() == UsbDeviceState::Configured || self.heard()
    }

    /// The bus is at rest: the computer sleeps.
    fn is_suspended(&self) -> bool {
        self.device.state() == UsbDeviceState::Suspend
    }

    /// Bytes that can be sent now; `None`: nobody has opened the port.
    pub(crate) fn room(&self) -> Option<usize> {
        self.heard().then(|| WAITING - self.waiting.len())
    }

    /// Sends; what is beyond the room is dropped.
    pub(crate) fn send(&mut self, bytes: &[u8]) {
        let _ =
            self.waiting.extend_from_slice(&bytes[..bytes.len().min(WAITING - self.waiting.len())]);
        self.push();
    }

    /// Somebody has opened the port. A host opens only what it has configured, and a reset of the bus closes it; the
    /// device's own idea of being configured is not asked, as it is lost when the answer to the host's "your address is"
    /// and its next request are served together (`usb-device` 0.3.2).
    fn heard(&self) -> bool {
        !self.is_suspended() && self.serial.dtr()
    }

    fn push(&mut self) {
        while !self.waiting.is_empty() || self.unfinished {
            let length = self.waiting.len().min(PACKET);
            if self.serial.write_packet(&self.waiting[..length]).is_err() {
                return;
            }
            self.waiting.copy_within(length.., 0);
            self.waiting.truncate(self.waiting.len() - length);
            self.unfinished = length == PACKET;
        }
    }
}
