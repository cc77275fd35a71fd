//! What the memory keeps: constants and the pixels' table, two places for each.
//!
//! New constants go to the place that does not hold those in use, and count only when their
//! checksum, the last thing written, fits. A new table goes to the place that does not hold the one
//! in use, before the constants that name it by its digest. Power cut at any moment leaves the old
//! ones or the new ones, never half.

use crate::part::memory::{Memory, PAGE, Silent};
use embedded_hal::i2c::I2c;
use heapless::Vec;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::check::crc32;
use skimgauge_shared::message::{CalibrationCheck, SerialNumber};
use skimgauge_shared::pixels::{Pixels, TABLE_PART, TABLE_PARTS, UNCOMPARED_DIGEST, digest};
use skimgauge_shared::units::Microseconds;

/// Room for the constants' place: a whole number of pages.
const PLACE: usize = 128;
const PLACES: [u16; 2] = [0x000, 0x100];
/// A table takes nine pages.
const TABLES: [u16; 2] = [0x200, 0x400];
/// Constants of protocol 1's heads began with `SK`: they are nobody's any more.
const MAGIC: [u8; 2] = *b"S2";
/// Magic, length, generation.
const HEADER: usize = 2 + 1 + 4;

/// A page takes the chip up to 5 ms; beyond this it is not answering.
const PAGE_LIMIT: Microseconds = Microseconds(15_000);
const LOOK_AGAIN: Microseconds = Microseconds(1_000);

/// What a place holds.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Found {
    Nothing,
    Damaged,
    Whole(u32, Calibration),
}

/// What the memory held when the head started.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Loaded {
    /// Whether `calibration` is the head's own or nominal.
    pub(crate) check: CalibrationCheck,
    /// The constants to use.
    pub(crate) calibration: Calibration,
    /// The factory number, if the memory answers.
    pub(crate) serial: Option<SerialNumber>,
}

/// Where a write stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Writing {
    /// Nothing is being written.
    Idle,
    /// Under way.
    Busy,
    /// Written and read back the same.
    Verified,
    /// It did not come to that.
    Failed(Failure),
}

/// Why a write failed. The calibration in use is untouched.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Failure {
    /// No answer from the memory.
    Silent,
    /// What was read back differs.
    Differs,
}

struct Write {
    image: Vec<u8, PLACE>,
    place: usize,
    generation: u32,
    /// Where the table goes first, if it goes.
    table: Option<usize>,
    /// The table is through.
    table_done: bool,
    page: usize,
    /// Pages are written; they are being read back.
    reading: bool,
    /// The page before must be done by then.
    until: Microseconds,
}

/// The places, and a write under way.
pub(crate) struct Store<I2C> {
    memory: Memory<I2C>,
    /// The place in use and its generation.
    current: Option<(usize, u32)>,
    /// The place of the table in use, and its digest.
    table_in_use: Option<(usize, u32)>,
    /// A table's bytes: the one in use, or those staged.
    table: [u8; Pixels::BYTES],
    /// A bit for each part that was staged.
    staged: u8,
    write: Option<Write>,
    next_at: Microseconds,
}

impl<I2C: I2c> Store<I2C> {
    /// Nothing read yet.
    pub(crate) fn new(memory: Memory<I2C>) -> Self {
        Self {
            memory,
            current: None,
            table_in_use: None,
            table: [0; Pixels::BYTES],
            staged: 0,
            write: None,
            next_at: Microseconds(0),
        }
    }

    /// Reads the factory number, the constants and their table; the newer whole ones win.
    pub(crate) fn load(&mut self) -> Loaded {
        // No number, no calibration: constants of an unknown head are nobody's.
        let Ok(serial) = self.memory.serial() else {
            let nobody = SerialNumber([0; 16]);
            return Loaded {
                check: CalibrationCheck::Unreadable,
                calibration: Calibration::nominal(nobody),
                serial: None,
            };
        };
        let nominal = |check| Loaded {
            check,
            calibration: Calibration::nominal(serial),
            serial: Some(serial),
        };
        let (Ok(first), Ok(second)) = (self.read_place(0), self.read_place(1)) else {
            return nominal(CalibrationCheck::Unreadable);
        };
        let damaged = [&first, &second].contains(&&Found::Damaged);
        let newest = match (first, second) {
            (Found::Whole(a, first), Found::Whole(b, second)) => {
                // Generations count up and may wrap.
                Some(if b.wrapping_sub(a) < u32::MAX / 2 { (1, b, second) } else { (0, a, first) })
            }
            (Found::Whole(a, first), _) => Some((0, a, first)),
            (_, Found::Whole(b, second)) => Some((1, b, second)),
            _ => None,
        };
        let Some((place, generation, calibration)) = newest else {
            return nominal(if damaged {
                CalibrationCheck::Damaged
            } else {
                CalibrationCheck::Missing
            });
        };
        self.current = Some((place, generation));
        if calibration.head != serial {
            return nominal(CalibrationCheck::OtherHead);
        }
        // Constants were found with their table: without it they are as good as damaged.
        match self.load_table(calibration.pixels) {
            Ok(true) => Loaded { check: CalibrationCheck::Good, calibration, serial: Some(serial) },
            Ok(false) => nominal(CalibrationCheck::Damaged),
            Err(Silent) => nominal(CalibrationCheck::Unreadable),
        }
    }

    /// The table in use; `None`: nobody has compared the pixels.
    pub(crate) fn table(&self) -> Option<Pixels> {
        self.table_in_use.and_then(|_| Pixels::from_bytes(&self.table))
    }

    /// Holds a part of a table; its checksum. `None`: no such part, or it does not fit.
    pub(crate) fn stage_part(&mut self, part: u8, bytes: &[u8]) -> Option<u32> {
        let place = self.table.chunks_mut(TABLE_PART).nth(usize::from(part))?;
        if place.len() != bytes.len() {
            return None;
        }
        place.copy_from_slice(bytes);
        self.staged |= 1 << part;
        Some(crc32(bytes))
    }

    /// Begins to write. `false`: the table that the constants name is neither in use nor held.
    pub(crate) fn begin(&mut self, calibration: &Calibration, now: Microseconds) -> bool {
        let wanted = calibration.pixels;
        let there = wanted == UNCOMPARED_DIGEST
            || self.table_in_use.is_some_and(|(_, in_use)| in_use == wanted);
        let table = (!there).then(|| self.table_in_use.map_or(0, |(place, _)| 1 - place));
        if !there && !self.holds(wanted) {
            return false;
        }
        let (place, generation) = match self.current {
            Some((place, generation)) => (1 - place, generation.wrapping_add(1)),
            None => (0, 1),
        };
        let Some(image) = image(calibration, generation) else { return false };
        self.write = Some(Write {
            image,
            place,
            generation,
            table,
            table_done: table.is_none(),
            page: 0,
            reading: false,
            until: now.after(PAGE_LIMIT),
        });
        self.next_at = now;
        true
    }

    /// Whether the staged table is whole, a line's, and has this digest.
    fn holds(&self, wanted: u32) -> bool {
        self.staged == (1 << TABLE_PARTS) - 1
            && digest(&self.table) == wanted
            && Pixels::from_bytes(&self.table).is_some()
    }

    /// When [`Self::step`] has something to do.
    pub(crate) fn next_deadline(&self) -> Option<Microseconds> {
        self.write.as_ref().map(|_| self.next_at)
    }

    /// Carries a write further, a page at a time. `Verified` and `Failed` are said once.
    pub(crate) fn step(&mut self, now: Microseconds) -> Writing {
        let Some(write) = &mut self.write else { return Writing::Idle };
        if now < self.next_at {
            return Writing::Busy;
        }
        self.next_at = now.after(LOOK_AGAIN);
        let (base, bytes) = match write.table {
            Some(table) if !write.table_done => (TABLES[table], &self.table[..]),
            _ => (PLACES[write.place], &write.image[..]),
        };
        let address = base + (write.page * PAGE) as u16;
        let outcome = match (bytes.chunks(PAGE).nth(write.page), write.reading) {
            (Some(page), false) => self.memory.write_page(address, page).map(|()| true),
            (Some(page), true) => {
                let mut back = [0; PAGE];
                let back = &mut back[..page.len()];
                self.memory.read(address, back).map(|()| back == page)
            }
            (None, false) => {
                (write.reading, write.page) = (true, 0);
                return Writing::Busy;
            }
            (None, true) if write.table_done => return self.written(),
            (None, true) => {
                (write.table_done, write.reading, write.page) = (true, false, 0);
                write.until = now.after(PAGE_LIMIT);
                return Writing::Busy;
            }
        };
        match outcome {
            Ok(true) => {
                write.page += 1;
                write.until = now.after(PAGE_LIMIT);
                Writing::Busy
            }
            Ok(false) => self.give_up(Failure::Differs),
            Err(Silent) if now > write.until => self.give_up(Failure::Silent),
            Err(Silent) => Writing::Busy,
        }
    }

    fn written(&mut self) -> Writing {
        if let Some(write) = self.write.take() {
            self.current = Some((write.place, write.generation));
            if let Some(table) = write.table {
                self.table_in_use = Some((table, digest(&self.table)));
            }
            self.staged = 0;
        }
        Writing::Verified
    }

    fn give_up(&mut self, failure: Failure) -> Writing {
        self.write = None;
        Writing::Failed(failure)
    }

    fn read_place(&mut self, place: usize) -> Result<Found, Silent> {
        let mut bytes = [0; PLACE];
        self.memory.read(PLACES[place], &mut bytes)?;
        Ok(parse(&bytes))
    }

    /// Looks for the table that constants name. Whether it is there.
    fn load_table(&mut self, wanted: u32) -> Result<bool, Silent> {
        if wanted == UNCOMPARED_DIGEST {
            return Ok(true);
        }
        for (place, address) in TABLES.into_iter().enumerate() {
            self.memory.read(address, &mut self.table)?;
            if digest(&self.table) == wanted && Pixels::from_bytes(&self.table).is_some() {
                self.table_in_use = Some((place, wanted));
                return Ok(true);
            }
        }
        Ok(false)
    }
}

fn image(calibration: &Calibration, generation: u32) -> Option<Vec<u8, PLACE>> {
    let mut body = [0; PLACE];
    let body = postcard::to_slice(calibration, &mut body).ok()?;
    let mut image = Vec::new();
    image.extend_from_slice(&MAGIC).ok()?;
    image.push(body.len() as u8).ok()?;
    image.extend_from_slice(&generation.to_le_bytes()).ok()?;
    image.extend_from_slice(body).ok()?;
    let check = crc32(&image);
    image.extend_from_slice(&check.to_le_bytes()).ok()?;
    Some(image)
}

fn parse(bytes: &[u8; PLACE]) -> Found {
    // Erased memory reads FFh; new memory may read 00h; and there may be what an older head kept.
    if bytes[..2] == *b"SK" || bytes.iter().all(|b| *b == 0xFF) || bytes.iter().all(|b| *b == 0) {
        return Found::Nothing;
    }
    parse_image(bytes).unwrap_or(Found::Damaged)
}

fn parse_image(bytes: &[u8]) -> Option<Found> {
    let length = usize::from(*bytes.get(2)?);
    let end = HEADER + length;
    let check = bytes.get(end..end + 4)?.first_chunk::<4>()?;
    if bytes[..2] != MAGIC || crc32(&bytes[..end]) != u32::from_le_bytes(*check) {
        return None;
    }
    let generation = u32::from_le_bytes(*bytes.get(3..HEADER)?.first_chunk()?);
    let (calibration, rest) = postcard::take_from_bytes::<Calibration>(&bytes[HEADER..end]).ok()?;
    (rest.is_empty() && calibration.plausible()).then_some(Found::Whole(generation, calibration))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_calibration_fits_its_place() {
        let mut calibration = Calibration::nominal(SerialNumber([0xFF; 16]));
        calibration.by = heapless::String::try_from("0123456789abcdef").unwrap();
        calibration.stand_off.curvature_fm_per_code2 = i32::MIN;
        calibration.stand_off.temperature_nm_per_k = i32::MIN;
        calibration.stand_off.slope_pm_per_code = i32::MIN;
        calibration.stand_off.origin.0 = i32::MIN;
        calibration.stand_off.slope_u.0 = i32::MIN;
        calibration.stand_off.lowest = i16::MIN;
        calibration.stand_off.highest = i16::MIN;
        calibration.stand_off.lost = skimgauge_shared::calibration::Lost::From(i16::MIN);
        calibration.pixels = u32::MAX;
        calibration.zero_u.0 = i32::MIN;
        calibration.zero.0 = i32::MIN;
        calibration.tilt_offset.level.0 = i32::MIN;
        calibration.tilt_offset.lean.0 = i32::MIN;
        assert!(image(&calibration, u32::MAX).is_some());
    }

    #[test]
    fn any_single_wrong_byte_is_damage() {
        let calibration = Calibration::nominal(SerialNumber([3; 16]));
        let image = image(&calibration, 9).unwrap();
        let mut place = [0xFF; PLACE];
        place[..image.len()].copy_from_slice(&image);
        assert_eq!(parse(&place), Found::Whole(9, calibration));
        for at in 0..image.len() {
            let mut wrong = place;
            wrong[at] ^= 0x10;
            assert_eq!(parse(&wrong), Found::Damaged, "byte {at}");
        }
    }

    #[test]
    fn what_an_older_head_kept_is_nothing() {
        let mut place = [0x55; PLACE];
        place[..2].copy_from_slice(b"SK");
        assert_eq!(parse(&place), Found::Nothing);
    }
}
