//! The eye's line of pixels as both ends know it: its table, and a whole scan on request.

use crate::check::crc32;
use heapless::Vec;
use serde::{Deserialize, Serialize};

/// Pixels of the line.
pub const PIXELS: usize = 256;

/// One scan as the converter gave it: 12 bits a pixel.
pub type Scan = [u16; PIXELS];

/// How unequal the pixels are: found once, kept with the head's constants.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pixels {
    /// What a pixel reads in the dark, sixteenths of a code.
    pub dark: u16,
    /// Code at which a pixel is at its stop.
    pub stop: u16,
    /// How unequal the pixels still are after `gain`: standard deviation, 1/65 536.
    pub residual: u16,
    /// What is added to each pixel's light, 1/2048 of it; [`Pixels::BAD`]: replaced by its
    /// neighbours' mean.
    pub gain: [i8; PIXELS],
}

impl Pixels {
    /// The mark of a pixel that is known to be dead, stuck or covered.
    pub const BAD: i8 = i8::MIN;

    /// A line whose pixels nobody has compared: 3 % unequal (data sheets of such lines, from
    /// memory: 5 % to 10 % at most).
    pub const UNCOMPARED: Self = Self { dark: 0, stop: 3_475, residual: 1_966, gain: [0; PIXELS] };

    /// Bytes of a table, in the head's memory and on the wire.
    pub const BYTES: usize = 6 + PIXELS;

    /// The table as bytes: dark, stop, residual (little-endian), gains.
    pub fn to_bytes(&self) -> [u8; Self::BYTES] {
        let mut bytes = [0; Self::BYTES];
        for (to, word) in bytes.chunks_exact_mut(2).zip([self.dark, self.stop, self.residual]) {
            to.copy_from_slice(&word.to_le_bytes());
        }
        for (to, gain) in bytes.iter_mut().skip(6).zip(self.gain) {
            *to = gain as u8;
        }
        bytes
    }

    /// The table that these bytes are; `None`: no head's.
    pub fn from_bytes(bytes: &[u8; Self::BYTES]) -> Option<Self> {
        let [d, e, s, t, r, q, gains @ ..] = bytes;
        let word = |low: &u8, high: &u8| u16::from_le_bytes([*low, *high]);
        let mut table =
            Self { dark: word(d, e), stop: word(s, t), residual: word(r, q), gain: [0; PIXELS] };
        for (gain, byte) in table.gain.iter_mut().zip(gains) {
            *gain = *byte as i8;
        }
        table.plausible().then_some(table)
    }

    /// Within what a line of pixels can be.
    pub fn plausible(&self) -> bool {
        (1..=4_095).contains(&self.stop) && self.dark / 16 < self.stop
    }

    /// By this the constants name the table that belongs to them; never [`UNCOMPARED_DIGEST`].
    pub fn digest(&self) -> u32 {
        digest(&self.to_bytes())
    }
}

/// In the place of a digest: there is no table, [`Pixels::UNCOMPARED`] is in use.
pub const UNCOMPARED_DIGEST: u32 = 0;

/// The digest of a table's bytes.
pub fn digest(table: &[u8; Pixels::BYTES]) -> u32 {
    crc32(table).max(UNCOMPARED_DIGEST + 1)
}

/// Bytes of a table that go in one request.
pub const TABLE_PART: usize = 66;

/// Requests that a table takes.
pub const TABLE_PARTS: u8 = Pixels::BYTES.div_ceil(TABLE_PART) as u8;

/// Pixels of a scan that go in one message.
pub const PIECE: usize = 64;

/// Messages that a scan takes.
pub const PIECES: u8 = (PIXELS / PIECE) as u8;

/// Two pixels are three bytes.
const PIECE_BYTES: usize = PIECE / 2 * 3;

/// A quarter of a scan, as the converter gave it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Piece {
    /// Of the reading that was made of the scan.
    pub sequence: u8,
    /// Which quarter, from 0.
    pub piece: u8,
    /// 12 bits a pixel, two pixels in three bytes.
    packed: Vec<u8, PIECE_BYTES>,
}

impl Piece {
    /// That quarter of a scan.
    pub fn of(scan: &Scan, sequence: u8, piece: u8) -> Self {
        let mut packed = Vec::new();
        let from = usize::from(piece) * PIECE;
        for pair in scan.get(from..from + PIECE).unwrap_or_default().chunks_exact(2) {
            let [a, b] = [pair[0] & 0x0FFF, pair[1] & 0x0FFF];
            // There is room for every pair.
            let _ = packed.extend_from_slice(&[a as u8, (a >> 8 | b << 4) as u8, (b >> 4) as u8]);
        }
        Self { sequence, piece, packed }
    }

    /// The pixels, from this quarter's first on; as many as there are.
    pub fn pixels(&self) -> impl Iterator<Item = u16> {
        self.packed.chunks_exact(3).flat_map(|three| {
            let [a, b, c] = [three[0], three[1], three[2]].map(u16::from);
            [a | (b & 0x0F) << 8, b >> 4 | c << 4]
        })
    }
}

/// Puts a scan together.
#[derive(Debug, Clone)]
pub struct Together {
    scan: Scan,
    sequence: u8,
    next: u8,
}

impl Default for Together {
    fn default() -> Self {
        Self { scan: [0; PIXELS], sequence: 0, next: 0 }
    }
}

impl Together {
    /// One more piece; the scan and its reading's number when it is whole. A lost piece loses the
    /// scan.
    pub fn add(&mut self, piece: &Piece) -> Option<(u8, &Scan)> {
        if piece.piece == 0 {
            (self.sequence, self.next) = (piece.sequence, 0);
        }
        let whole = piece.packed.len() == PIECE_BYTES && piece.piece < PIECES;
        if !whole || (piece.sequence, piece.piece) != (self.sequence, self.next) {
            self.next = u8::MAX;
            return None;
        }
        let from = usize::from(piece.piece) * PIECE;
        for (to, pixel) in self.scan.iter_mut().skip(from).zip(piece.pixels()) {
            *to = pixel;
        }
        self.next += 1;
        (self.next == PIECES).then_some((self.sequence, &self.scan))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scan() -> Scan {
        core::array::from_fn(|i| (i as u16 * 37) % 4_096)
    }

    #[test]
    fn a_scan_comes_back_from_its_pieces() {
        let mut together = Together::default();
        let mut came = Vec::<u8, 4>::new();
        for piece in 0..PIECES {
            let whole = together.add(&Piece::of(&scan(), 9, piece)).map(|(n, s)| (n, *s));
            assert_eq!(whole, (piece == PIECES - 1).then_some((9, scan())));
            came.push(piece).unwrap();
        }
        assert_eq!(came, [0, 1, 2, 3]);
    }

    #[test]
    fn a_lost_mixed_or_short_piece_gives_no_scan() {
        let of = |sequence, piece| Piece::of(&scan(), sequence, piece);
        let short = Piece { packed: Vec::from_slice(&[1; 93]).unwrap(), ..of(1, 3) };
        for pieces in [
            [of(1, 0), of(1, 2), of(1, 3), of(1, 3)],
            [of(1, 0), of(1, 1), of(2, 2), of(2, 3)],
            [of(1, 0), of(1, 1), of(1, 2), short],
            [of(1, 1), of(1, 2), of(1, 3), of(1, 3)],
            [of(1, 0), of(1, 1), of(1, 2), of(1, 9)],
        ] {
            let mut together = Together::default();
            assert!(pieces.iter().all(|piece| together.add(piece).is_none()));
            // The next one is whole again.
            assert!((0..PIECES).any(|piece| together.add(&of(3, piece)).is_some()));
        }
    }

    #[test]
    fn a_table_comes_back_from_its_bytes_and_is_known_by_them() {
        let mut table = Pixels { dark: 300, stop: 3_400, residual: 12, gain: [0; PIXELS] };
        for (i, gain) in table.gain.iter_mut().enumerate() {
            *gain = i as i8;
        }
        assert_eq!(Pixels::from_bytes(&table.to_bytes()), Some(table.clone()));
        let other = Pixels { gain: [1; PIXELS], ..table.clone() };
        assert!(table.digest() != other.digest() && table.digest() != UNCOMPARED_DIGEST);
        assert_eq!(Pixels::from_bytes(&[0xFF; Pixels::BYTES]), None);
        assert_eq!(Pixels::from_bytes(&[0; Pixels::BYTES]), None);
        assert_eq!(usize::from(TABLE_PARTS), 4);
    }
}
