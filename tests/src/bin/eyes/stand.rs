//! One eye in one room, from a seed, and what its scans come to.

use skimgauge_bench::noise::Noise;
use skimgauge_bench::part::pixel_line::{Driven, Line};
use skimgauge_bench::room::profile::{Beam, Edge, Light, Mirror, RoomLight, Shine};
use skimgauge_head::part::pixel_line::{PixelLine, Polled, Taken};
use skimgauge_head::profile::doubt::{Doubt, Trust};
use skimgauge_head::profile::line::{Fingerprint, Pixels};
use skimgauge_head::profile::{Fault, PIXELS, Scan, Seen, Wanted, look};
use skimgauge_shared::units::Microseconds;
use std::collections::BTreeMap;

/// What the room's light is like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Slope and curve over the whole line.
    Smooth,
    /// One shadow's edge, or several that all go the same way.
    Stepped,
    /// Smooth, and flickering at twice the mains' frequency.
    Flickering,
    /// Both.
    SteppedFlickering,
}

impl Kind {
    pub const ALL: [Self; 4] = [Self::Smooth, Self::Stepped, Self::Flickering, Self::SteppedFlickering];

    pub fn name(self) -> &'static str {
        match self {
            Self::Smooth => "smooth",
            Self::Stepped => "stepped",
            Self::Flickering => "flickering",
            Self::SteppedFlickering => "stepped, flickering",
        }
    }

    /// Room light of 0 V to 2 V a millisecond.
    pub fn light(self, noise: &mut Noise) -> RoomLight {
        let mut room = RoomLight {
            slope: noise.uniform(-1.0, 1.0),
            curve: noise.uniform(-0.5, 0.5),
            ..RoomLight::even(noise.uniform(0.0, 2.0))
        };
        if matches!(self, Self::Stepped | Self::SteppedFlickering) {
            let sign = if noise.chance(0.5) { 1.0 } else { -1.0 };
            for _ in 0..1 + noise.bits() % 3 {
                let change = sign * noise.uniform(0.02, 0.8);
                room.edges.push(Edge { at_mm: noise.uniform(-1.0, 18.0), change, blur_mm: noise.uniform(0.02, 3.0) });
            }
        }
        if matches!(self, Self::Flickering | Self::SteppedFlickering) {
            room.flicker_hz = if noise.chance(0.5) { 100.0 } else { 120.0 } + noise.normal(0.05);
            room.flicker = noise.uniform(0.05, 1.0);
            room.phase = noise.unit();
        }
        room
    }
}

/// A sheet somewhere on the line.
pub fn beam(line: &Line, noise: &mut Noise) -> Beam {
    Beam {
        middle_mm: line.first_mm + noise.uniform(0.5, 15.7),
        thickness_mm: noise.uniform(0.8, 3.0),
        order: [2.0, 2.0, 3.0, 4.0, 8.0][(noise.bits() % 5) as usize],
        // 0.2 V in the longest exposure to a quarter of the range in the shortest.
        volts_per_ms: 0.02 * (noise.unit() * 350f64.ln()).exp(),
        azimuth_deg: noise.uniform(0.0, 25.0),
        mirror: None,
    }
}

/// A glossy board that rises into the sheet so far that `clear` thicknesses are left between its face and the sheet's middle.
pub fn mirror(beam: &Beam, clear: f64, noise: &mut Noise) -> Mirror {
    Mirror {
        rise_mm: beam.middle_mm - clear * beam.thickness_mm,
        gloss: noise.uniform(0.02, 1.0),
        grazing_mrad: noise.uniform(0.5, 20.0),
    }
}

/// How the emitter shines: half of them steadily.
pub fn shine(noise: &mut Noise) -> Shine {
    if noise.chance(0.5) {
        return Shine::STEADY;
    }
    let hz = 100.0 * (noise.unit() * 20f64.ln()).exp();
    Shine { hz, duty: noise.uniform(0.1, 1.0), phase: noise.unit(), ..Shine::STEADY }
}

/// What a run of scans came to.
#[derive(Debug, Default)]
pub struct Outcome {
    /// Middles seen, pixels: mean of those after the exposure had settled, and how many.
    pub middle: f64,
    pub middles: u32,
    /// Scans after it had settled.
    pub scans: u32,
    /// Middles in all scans, settling included.
    pub ever: u32,
    pub all_scans: u32,
    pub trust: Option<Trust>,
    pub faults: BTreeMap<String, u32>,
    /// Middle of each scan after settling, with its time.
    pub each: Vec<(f64, f64)>,
    /// Room light of each scan, in codes, with its time.
    pub room: Vec<(f64, f64)>,
}

impl Outcome {
    /// A gap may be read from it.
    pub fn sure(&self) -> bool {
        self.middles >= 12 && self.trust == Some(Trust::Sure)
    }

    pub fn commonest_fault(&self) -> &str {
        self.faults.iter().max_by_key(|(_, n)| **n).map_or("-", |(name, _)| name)
    }
}

/// An eye: line, driver, table.
pub struct Stand {
    line: PixelLine<Driven>,
    pixels: Pixels,
    pub wanted: Wanted,
    now: Microseconds,
    before: Option<Fingerprint>,
    scan: Scan,
}

impl Stand {
    pub fn new(line: Line, pixels: Pixels, light: Light) -> Self {
        let line = PixelLine::new(Driven::new(line, light), pixels.dark / 16, pixels.stop);
        Self { line, pixels, wanted: Wanted::ANY, now: Microseconds(0), before: None, scan: [0; PIXELS] }
    }

    pub fn height_mm(&mut self, pixels: f64) -> f64 {
        self.line.pins().line.height_mm(pixels)
    }

    /// The next scan.
    pub fn next(&mut self) -> (Taken, Seen) {
        loop {
            self.now = self.now.max(self.line.next_deadline());
            self.line.pins().now = self.now;
            if let Polled::Scan(taken) = self.line.poll(self.now, &mut self.scan) {
                let seen = look(&self.scan, taken.exposure, self.before, &self.pixels, &self.wanted);
                self.before = Some(seen.fingerprint);
                self.line.adjust(&taken, &seen);
                return (taken, seen);
            }
        }
    }

    /// Lets the exposure settle, then looks.
    pub fn run(&mut self, settling: u32, scans: u32) -> Outcome {
        let mut out = Outcome::default();
        let mut doubt = Doubt::new();
        let mut sum = 0.0;
        for k in 0..settling + scans {
            let (taken, seen) = self.next();
            out.all_scans += 1;
            out.ever += u32::from(seen.sheet.is_ok());
            if std::env::var("DBG").is_ok() {
                println!("    {k} {taken:?} {:?} room {} br {}", seen.sheet, seen.room.0 / 16, seen.brightest);
            }
            if k < settling {
                continue;
            }
            out.scans += 1;
            let at_s = taken.middle.seconds();
            out.room.push((at_s, f64::from(seen.room.0) / 16.0));
            match seen.sheet {
                Ok(profile) => {
                    doubt.add(&profile);
                    let middle = f64::from(profile.middle.0) / 256.0;
                    sum += middle;
                    out.middles += 1;
                    out.each.push((at_s, middle));
                }
                Err(fault) => *out.faults.entry(format!("{fault:?}")).or_default() += 1,
            }
        }
        out.middle = sum / f64::from(out.middles.max(1));
        out.trust = Some(doubt.trust());
        out
    }
}

/// Whether a fault says that there is no sheet, or none to be seen for the room's light.
pub fn says_none(fault: Fault) -> bool {
    matches!(fault, Fault::NoLight | Fault::TooMuchRoomLight | Fault::TooMuchLight)
}
