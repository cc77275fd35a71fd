//! The calibration's two places in the memory.
//!
//! A new calibration goes to the place that does not hold the one in use, and counts only when its
//! checksum, the last thing written, fits. Power cut at any moment leaves the old one or the new
//! one, never half.

use crate::part::memory::{Memory, PAGE, Silent};
use embedded_hal::i2c::I2c;
use heapless::Vec;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::check::crc32;
use skimgauge_shared::message::{CalibrationCheck, SerialNumber};
use skimgauge_shared::units::Microseconds;

/// Room for one place: a whole number of pages.
const PLACE: usize = 128;
const PLACES: [u16; 2] = [0x000, 0x100];
const MAGIC: [u8; 2] = *b"SK";
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
    page: usize,
    /// The page before must be done by then.
    until: Microseconds,
}

/// The two places, and a write under way.
pub(crate) struct Store<I2C> {
    memory: Memory<I2C>,
    /// The place in use and its generation.
    current: Option<(usize, u32)>,
    write: Option<Write>,
    next_at: Microseconds,
}

impl<I2C: I2c> Store<I2C> {
    /// Nothing read yet.
    pub(crate) fn new(memory: Memory<I2C>) -> Self {
        Self { memory, current: None, write: None, next_at: Microseconds(0) }
    }

    /// Reads the factory number and both places; the newer whole calibration wins.
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
        Loaded { check: CalibrationCheck::Good, calibration, serial: Some(serial) }
    }

    /// Begins to write. `false`: another write is under way.
    pub(crate) fn begin(&mut self, calibration: &Calibration, now: Microseconds) -> bool {
        if self.write.is_some() {
            return false;
        }
        let (place, generation) = match self.current {
            Some((place, generation)) => (1 - place, generation.wrapping_add(1)),
            None => (0, 1),
        };
        let Some(image) = image(calibration, generation) else { return false };
        self.write =
            Some(Write { image, place, generation, page: 0, until: now.after(PAGE_LIMIT) });
        self.next_at = now;
        true
    }

    /// When [`Self::step`] has something to do.
    pub(crate) fn next_deadline(&self) -> Option<Microseconds> {
        self.write.as_ref().map(|_| self.next_at)
    }

    /// Carries a write further. `Verified` and `Failed` are said once.
    pub(crate) fn step(&mut self, now: Microseconds) -> Writing {
        let Some(write) = &mut self.write else { return Writing::Idle };
        if now < self.next_at {
            return Writing::Busy;
        }
        self.next_at = now.after(LOOK_AGAIN);
        let base = PLACES[write.place];
        let outcome = match write.image.chunks(PAGE).nth(write.page) {
            Some(page) => {
                let address = base + (write.page * PAGE) as u16;
                self.memory.write_page(address, page).map(|()| {
                    write.page += 1;
                    write.until = now.after(PAGE_LIMIT);
                    None
                })
            }
            None => {
                let mut back = [0; PLACE];
                let back = &mut back[..write.image.len()];
                self.memory.read(base, back).map(|()| Some(back == write.image.as_slice()))
            }
        };
        match outcome {
            Ok(None) => Writing::Busy,
            Ok(Some(true)) => {
                self.current = Some((write.place, write.generation));
                self.write = None;
                Writing::Verified
            }
            Ok(Some(false)) => self.give_up(Failure::Differs),
            Err(Silent) if now > write.until => self.give_up(Failure::Silent),
            Err(Silent) => Writing::Busy,
        }
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
    // Erased memory reads FFh; new memory may read 00h.
    if bytes.iter().all(|b| *b == 0xFF) || bytes.iter().all(|b| *b == 0) {
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
}
