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
/// hexadecimal; of a simulated head as `SIM-1A2B-3C4D`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SerialNumber(pub [u8; 16]);

impl SerialNumber {
    /// The numbers of simulated heads begin so; those of memory chips with their maker's code, which
    /// is another.
    pub const SIMULATED: [u8; 4] = *b"SIM\0";
    /// Shown, they begin so: whoever has a number as text alone knows them by that.
    pub const SHOWN_SIMULATED: &str = "SIM-";

    /// Whether it is a simulated head's.
    pub fn is_simulated(&self) -> bool {
        self.0.starts_with(&Self::SIMULATED)
    }
}

impl core::fmt::Display for SerialNumber {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let short = crc32(&self.0);
        let begins = if self.is_simulated() { Self::SHOWN_SIMULATED } else { "SG-" };
        write!(f, "{begins}{:04X}-{:04X}", short >> 16, short & 0xFFFF)
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::SerialNumber;
    use std::string::ToString;

    #[test]
    fn a_simulated_head_is_told_by_its_number() {
        let real = SerialNumber([0x29; 16]);
        let mut simulated = real;
        simulated.0[..4].copy_from_slice(&SerialNumber::SIMULATED);
        assert!(!real.is_simulated() && real.to_string().starts_with("SG-"));
        assert!(simulated.is_simulated() && simulated.to_string().starts_with("SIM-"));
    }
}
