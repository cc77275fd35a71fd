//! The line of pixels and the converter behind it: charge, inequality, noise, codes; driven by
//! start pulses.

use crate::noise::Noise;
use crate::room::profile::Light;
use skimgauge_head::pixel_line::{Pins, Started};
use skimgauge_head::profile::{PIXELS, Pixels, Scan};
use skimgauge_shared::reading::Absence;
use skimgauge_shared::units::Microseconds;

/// From pixel to pixel, mm.
pub const PITCH_MM: f64 = 0.0635;
/// The converter's full scale, V, for 4096 codes.
pub const REFERENCE_V: f64 = 3.3;
/// Codes after which the RP2040's converter repeats itself for a while (its data sheet, erratum
/// RP2040-E11).
const WIDE_CODES: [f64; 4] = [512.0, 1_536.0, 2_560.0, 3_584.0];
/// How much wider these codes are, LSB; made up for over the 1024 codes around each (from memory).
const WIDER: f64 = 8.0;

/// What is wrong with a pixel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Broken {
    /// It gathers nothing.
    Dead,
    /// Always so many V.
    Stuck(f64),
    /// It gathers this share.
    Dim(f64),
}

/// One line, its own constants.
#[derive(Debug, Clone)]
pub struct Line {
    /// Each pixel's own response, 1 on the average.
    pub response: Vec<f64>,
    /// Output in the dark, V.
    pub dark_v: f64,
    /// Where a pixel stops, V.
    pub stop_v: f64,
    /// Noise of a pixel, V (standard deviation).
    pub noise_v: f64,
    /// Noise of the converter, codes (standard deviation).
    pub converter_noise: f64,
    /// The converter has its wide codes.
    pub bent: bool,
    /// Height of the first pixel's middle over the board face, mm. The last one is farther out.
    pub first_mm: f64,
    /// Pixels that are broken.
    pub broken: Vec<(usize, Broken)>,
    noise: Noise,
}

impl Line {
    /// The line of a seed: pixels 3 % unequal (standard deviation), 4 mV of noise, a converter of 1
    /// to 1.4 codes of noise.
    pub fn new(seed: u64) -> Self {
        let mut noise = Noise::new(seed, 41);
        Self {
            response: (0..PIXELS).map(|_| 1.0 + noise.normal(0.03).clamp(-0.06, 0.06)).collect(),
            dark_v: noise.uniform(0.03, 0.12),
            stop_v: 2.8,
            noise_v: 0.004,
            converter_noise: noise.uniform(1.0, 1.4),
            bent: true,
            first_mm: 0.4,
            broken: Vec::new(),
            noise,
        }
    }

    /// The table that a careful comparison of the pixels finds, to `residual` (standard deviation).
    /// Pixels that are broken now are marked as bad.
    pub fn compared(&mut self, residual: f64) -> Pixels {
        let mut pixels = Pixels { residual: (residual * 65_536.0) as u16, ..self.uncompared() };
        for (gain, response) in pixels.gain.iter_mut().zip(&self.response) {
            let found = response * (1.0 + self.noise.normal(residual));
            *gain = ((1.0 / found - 1.0) * 2_048.0).round().clamp(-127.0, 127.0) as i8;
        }
        for (i, _) in &self.broken {
            pixels.gain[*i] = Pixels::BAD;
        }
        pixels
    }

    /// The table of a line whose pixels nobody compared; level in the dark and stop are known.
    pub fn uncompared(&self) -> Pixels {
        let codes = |v: f64| v / REFERENCE_V * 4_096.0;
        Pixels {
            dark: (codes(self.dark_v) * 16.0) as u16,
            stop: codes(self.stop_v) as u16 - 16,
            ..Pixels::UNCOMPARED
        }
    }

    /// Height of a place along the line (pixels from the middle of the first one), mm.
    pub fn height_mm(&self, pixels: f64) -> f64 {
        self.first_mm + pixels * PITCH_MM
    }

    /// What the converter makes of an output that stands still, V.
    pub(crate) fn held(&mut self, v: f64) -> Scan {
        let exact = self.noise_v <= 0.0 && self.converter_noise <= 0.0;
        core::array::from_fn(|_| {
            let rms = if exact { 0.0 } else { self.noise.normal(self.converter_noise) };
            (v / REFERENCE_V * 4_096.0 + rms).round().clamp(0.0, 4_095.0) as u16
        })
    }

    /// A scan after an exposure.
    pub fn scan(&mut self, light: &Light, from_us: f64, to_us: f64) -> Scan {
        let exact = self.noise_v <= 0.0 && self.converter_noise <= 0.0;
        // Three places across each pixel, of the three-point rule (Simpson).
        let places: Vec<f64> =
            (0..=2 * PIXELS).map(|k| self.height_mm(k as f64 / 2.0 - 0.5)).collect();
        let volts = light.exposed(&places, from_us, to_us);
        let mut scan = [0; PIXELS];
        for (i, code) in scan.iter_mut().enumerate() {
            let mut gathered =
                (volts[2 * i] + 4.0 * volts[2 * i + 1] + volts[2 * i + 2]) / 6.0 * self.response[i];
            let mut v = None;
            for (_, broken) in self.broken.iter().filter(|(at, _)| *at == i) {
                match broken {
                    Broken::Dead => gathered = 0.0,
                    Broken::Dim(share) => gathered *= share,
                    Broken::Stuck(at) => v = Some(*at),
                }
            }
            let noise = if exact { 0.0 } else { self.noise.normal(self.noise_v) };
            let v = (v.unwrap_or(self.dark_v + gathered) + noise).min(self.stop_v);
            let rms = if exact { 0.0 } else { self.noise.normal(self.converter_noise) };
            let ideal = v / REFERENCE_V * 4_096.0 + rms;
            *code =
                if self.bent { converted(ideal) } else { ideal.floor().clamp(0.0, 4_095.0) as u16 };
        }
        scan
    }
}

/// The converter's code for a voltage in ideal codes.
fn converted(ideal: f64) -> u16 {
    // Within 512 codes either side of a wide one the others are a little narrower, so that the ends
    // agree.
    let centre = WIDE_CODES
        .iter()
        .copied()
        .min_by(|a, b| (a - ideal).abs().total_cmp(&(b - ideal).abs()))
        .unwrap_or(0.0);
    let off = ideal - centre;
    let seen = if off.abs() <= WIDER / 2.0 {
        0.0
    } else {
        off.signum() * (off.abs() - WIDER / 2.0) * 512.0 / (512.0 - WIDER / 2.0)
    };
    (centre + seen).floor().clamp(0.0, 4_095.0) as u16
}

/// Which exposure a scan is of: start pulses over time.
#[derive(Debug, Clone)]
pub(crate) struct Gathering {
    /// The clock with which the pixels begin to gather.
    integration_clock: u32,
    since_us: f64,
    /// Of the scan that is being read: its exposure, and when the read began.
    read: Option<(f64, f64, Microseconds)>,
}

impl Gathering {
    /// At rest since time zero.
    pub(crate) fn new() -> Self {
        let integration_clock = skimgauge_head::pixel_line::INTEGRATION_CLOCK;
        Self { integration_clock, since_us: 0.0, read: None }
    }

    /// A start pulse now, its clocks as fast as they may be.
    pub(crate) fn flush(&mut self, now: Microseconds) -> Started {
        self.start(now, FLUSH_CLOCK_NS).1
    }

    /// A start pulse now that is read.
    pub(crate) fn read(&mut self, now: Microseconds) -> Started {
        let (since_us, started) = self.start(now, READ_CLOCK_NS);
        self.read = Some((since_us, now.0 as f64, now));
        started
    }

    /// The exposure, us, of a read that is through; once.
    pub(crate) fn through(&mut self, now: Microseconds) -> Option<(f64, f64)> {
        const READ_US: u64 = PIXELS as u64 * READ_CLOCK_NS as u64 / 1_000;
        let through = |(_, _, at): &mut (f64, f64, Microseconds)| now.since(*at).0 >= READ_US;
        self.read.take_if(through).map(|(from_us, to_us, _)| (from_us, to_us))
    }

    /// What was gathered is held, and gathering begins anew with the family's clock.
    fn start(&mut self, now: Microseconds, clock_ns: u32) -> (f64, Started) {
        let before_us = self.since_us;
        self.since_us = now.0 as f64
            + f64::from(READ_CLOCK_NS + (self.integration_clock - 1) * clock_ns) * 1e-3;
        (before_us, Started { at: now, first_clock_ns: READ_CLOCK_NS, clock_ns })
    }
}

/// The line at its pins, under a clock that is set from outside.
#[derive(Debug, Clone)]
pub struct Driven {
    /// The line.
    pub line: Line,
    /// What falls on it.
    pub light: Light,
    /// Now.
    pub now: Microseconds,
    /// The line is unplugged: no samples come.
    pub silent: bool,
    /// How long the pixels of the last scan gathered light, us.
    pub gathered_us: f64,
    gathering: Gathering,
}

/// A clock of a read and of a flush, ns.
const READ_CLOCK_NS: u32 = 4_000;
const FLUSH_CLOCK_NS: u32 = 256;

impl Driven {
    /// At rest since time zero.
    pub fn new(line: Line, light: Light) -> Self {
        Self {
            line,
            light,
            now: Microseconds(0),
            silent: false,
            gathered_us: 0.0,
            gathering: Gathering::new(),
        }
    }

    /// The clock with which its pixels begin to gather.
    pub fn set_integration_clock(&mut self, clock: u32) {
        self.gathering.integration_clock = clock;
    }
}

impl Pins for Driven {
    fn flush(&mut self) -> Result<Started, Absence> {
        Ok(self.gathering.flush(self.now))
    }

    fn read(&mut self) -> Result<Started, Absence> {
        Ok(self.gathering.read(self.now))
    }

    fn samples(&mut self, into: &mut Scan) -> Result<bool, Absence> {
        if self.silent {
            return Ok(false);
        }
        let Some((from_us, to_us)) = self.gathering.through(self.now) else { return Ok(false) };
        self.gathered_us = to_us - from_us;
        *into = self.line.scan(&self.light, from_us, to_us);
        Ok(true)
    }
}

#[cfg(test)]
mod tests {
    use super::converted;

    /// Codes never fall as the voltage rises, and the four wide ones are as wide as said.
    #[test]
    fn the_converter_is_monotonic_with_four_wide_codes() {
        let mut width = vec![0_u32; 4_096];
        let mut last = 0;
        for k in 0..40_960_u32 {
            let code = converted(f64::from(k) * 0.1);
            assert!(code >= last);
            last = code;
            width[usize::from(code)] += 1;
        }
        let wide: Vec<usize> = (0..4_095).filter(|c| width[*c] > 30).collect();
        assert_eq!(wide, [512, 1_536, 2_560, 3_584]);
        assert!(width[512].abs_diff(90) <= 2, "{}", width[512]);
    }
}
