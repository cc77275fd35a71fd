//! Which head, which version.

use crate::check::crc32;
use serde::{Deserialize, Serialize};

/// A version, as in "1.4.2".
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Version {
    /// Changes of meaning.
    pub major: u8,
    /// Additions.
    pub minor: u8,
    /// Mends.
    pub patch: u8,
}

impl core::fmt::Display for Version {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{}.{}.{}", self.major, self.minor, self.patch)
    }
}

/// The memory chip's 128-bit factory number. Shown short, as `SG-1A2B-3C4D`: its CRC-32 in
/// hexadecimal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SerialNumber(pub [u8; 16]);

impl core::fmt::Display for SerialNumber {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let short = crc32(&self.0);
        write!(f, "SG-{:04X}-{:04X}", short >> 16, short & 0xFFFF)
    }
}
