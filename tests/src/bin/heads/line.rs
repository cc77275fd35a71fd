//! One line of pixels by itself, from a seed, and what its scans come to.

use skimgauge_bench::noise::Noise;
use skimgauge_bench::part::pixel_line::{Driven, Line};
use skimgauge_bench::room::profile::{Beam, Light};
use skimgauge_head::pixel_line::{PixelLine, Polled, Taken};
use skimgauge_head::profile::doubt::Doubt;
use skimgauge_head::profile::line::Fingerprint;
use skimgauge_head::profile::{Seen, Wanted, look};
use skimgauge_shared::light::Trust;
use skimgauge_shared::pixels::{PIXELS, Pixels, Scan};
use skimgauge_shared::units::Microseconds;
use std::collections::BTreeMap;

/// How unequal the pixels still are once they have been compared: a guess, on the safe side of what
/// the table's steps leave (0.015 %), because pixels differ otherwise under the room's light than
/// under that of the comparison.
const RESIDUAL: f64 = 0.002;
/// Scans until the exposure has settled, and scans that make a reading.
const SETTLING: u32 = 70;
const SCANS: u32 = 64;
/// Fewer middles than this are no reading: the emitter pulses, and most scans lie between pulses.
const FEWEST: u32 = 12;

/// A head's line of pixels, its table, and chance for the rest.
pub(crate) fn eye(seed: u64) -> (Line, Pixels, Noise) {
    let mut line = Line::new(seed);
    let pixels = line.compared(RESIDUAL);
    (line, pixels, Noise::new(seed, 42))
}

/// A sheet somewhere on the line.
pub(crate) fn beam(line: &Line, noise: &mut Noise) -> Beam {
    Beam {
        middle_mm: line.first_mm + noise.uniform(0.5, 15.7),
        thickness_mm: noise.uniform(0.8, 3.0),
        order: [2.0, 2.0, 3.0, 4.0, 8.0][(noise.bits() % 5) as usize],
        // 0.2 V in the longest exposure to a quarter of the range in the shortest.
        volts_per_ms: 0.02 * (noise.unit() * 350f64.ln()).exp(),
        azimuth_deg: noise.uniform(0.0, 12.0),
        mirror: None,
    }
}

/// What a run of scans came to.
#[derive(Debug, Default)]
pub(crate) struct Outcome {
    /// Mean of the middles, once the exposure had settled, mm over the board face.
    pub middle_mm: f64,
    /// How many.
    pub middles: u32,
    trust: Option<Trust>,
    faults: BTreeMap<String, u32>,
}

impl Outcome {
    /// A gap may be read from it.
    pub(crate) fn sure(&self) -> bool {
        self.middles >= FEWEST && self.trust == Some(Trust::Sure)
    }

    /// What is said instead.
    pub(crate) fn said(&self) -> String {
        if self.middles >= FEWEST {
            return format!("doubtful: {:?}", self.trust.unwrap_or(Trust::NotYet));
        }
        self.faults.iter().max_by_key(|(_, n)| **n).map_or("-".to_owned(), |(name, _)| name.clone())
    }
}

/// Line, driver, table.
pub(crate) struct Bare {
    line: PixelLine<Driven>,
    pixels: Pixels,
    wanted: Wanted,
    now: Microseconds,
    before: Option<Fingerprint>,
    scan: Scan,
}

impl Bare {
    pub(crate) fn new(line: Line, pixels: Pixels, light: Light, wanted: Wanted) -> Self {
        let line = PixelLine::new(Driven::new(line, light), pixels.dark / 16, pixels.stop);
        Self { line, pixels, wanted, now: Microseconds(0), before: None, scan: [0; PIXELS] }
    }

    /// The next scan.
    fn next(&mut self) -> (Taken, Seen) {
        loop {
            self.now = self.now.max(self.line.next_deadline());
            self.line.pins().now = self.now;
            if let Polled::Scan(taken) = self.line.poll(self.now, &mut self.scan) {
                let seen =
                    look(&self.scan, taken.exposure, self.before, &self.pixels, &self.wanted);
                self.before = Some(seen.fingerprint);
                self.line.adjust(&taken, &seen);
                return (taken, seen);
            }
        }
    }

    /// Lets the exposure settle, then looks.
    pub(crate) fn run(&mut self) -> Outcome {
        let mut out = Outcome::default();
        let mut doubt = Doubt::new();
        let mut sum = 0.0;
        for k in 0..SETTLING + SCANS {
            let sheet = self.next().1.sheet;
            match sheet {
                _ if k < SETTLING => {}
                Ok(profile) => {
                    doubt.add(&profile);
                    sum += f64::from(profile.middle.0) / 256.0;
                    out.middles += 1;
                }
                Err(fault) => *out.faults.entry(format!("{fault:?}")).or_default() += 1,
            }
        }
        out.middle_mm = self.line.pins().line.height_mm(sum / f64::from(out.middles.max(1)));
        out.trust = Some(doubt.trust());
        out
    }
}
