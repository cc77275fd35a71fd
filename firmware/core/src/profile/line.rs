//! The line of pixels: its table, and whether every pixel is alive.

use super::{PIXELS, Scan};

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
    /// What is added to each pixel's light, 1/2048 of it; [`Pixels::BAD`]: replaced by its neighbours' mean.
    pub gain: [i8; PIXELS],
}

impl Pixels {
    /// The mark of a pixel that is known to be dead, stuck or covered.
    pub const BAD: i8 = i8::MIN;

    /// More known bad pixels than this, and the line is bad.
    const MOST_BAD: usize = 4;

    /// A line whose pixels nobody has compared: 3 % unequal (data sheets of such lines, from memory: 5 % to 10 % at most).
    pub const UNCOMPARED: Self = Self { dark: 0, stop: 3_475, residual: 1_966, gain: [0; PIXELS] };

    /// Not more bad pixels than can be bridged: few, no two side by side, none at an end.
    pub fn usable(&self) -> bool {
        let bad = |gain: &i8| *gain == Self::BAD;
        self.gain.iter().filter(|gain| bad(gain)).count() <= Self::MOST_BAD
            && !self.gain.windows(2).any(|pair| pair.iter().all(bad))
            && !bad(&self.gain[0])
            && !bad(&self.gain[PIXELS - 1])
    }
}

/// A scan with its pixels made equal, sixteenths of a code.
pub struct Lit([u16; PIXELS]);

impl Lit {
    /// Makes the pixels equal. Codes beyond 12 bits count as 12 bits' highest.
    pub fn new(scan: &Scan, pixels: &Pixels) -> Self {
        let mut lit = [0; PIXELS];
        let dark = i32::from(pixels.dark);
        for ((to, code), gain) in lit.iter_mut().zip(scan).zip(&pixels.gain) {
            let raw = i32::from(*code.min(&4_095)) * 16;
            let more = ((raw - dark) * i32::from(*gain) + 1_024) >> 11;
            *to = (raw + more).clamp(0, 65_535) as u16;
        }
        let mut lit = Self(lit);
        for (i, gain) in (0..).zip(&pixels.gain) {
            if *gain == Pixels::BAD {
                lit.0[i as usize & (PIXELS - 1)] = ((lit.at(i - 1) + lit.at(i + 1)) / 2) as u16;
            }
        }
        lit
    }

    /// A pixel; beyond an end the last one.
    #[inline]
    pub fn at(&self, i: i32) -> i32 {
        // The mask spares the check that would panic.
        i32::from(self.0[i.clamp(0, PIXELS as i32 - 1) as usize & (PIXELS - 1)])
    }

    /// Sum of the pixels of a span, which is clipped to the line.
    pub fn sum(&self, from: i32, to: i32) -> i32 {
        self.pixels(from, to).iter().map(|y| i32::from(*y)).sum()
    }

    /// The pixels from one to another, both included, as far as there are.
    #[inline]
    pub fn pixels(&self, from: i32, to: i32) -> &[u16] {
        let from = from.clamp(0, PIXELS as i32);
        self.0.get(from as usize..(to + 1).clamp(from, PIXELS as i32) as usize).unwrap_or(&[])
    }
}

/// The brightest of all pairs of neighbours, by the darker of the two: a single stuck pixel does not set the exposure.
pub fn brightest(scan: &Scan) -> u16 {
    scan.windows(2).map(|pair| pair[0].min(pair[1])).max().unwrap_or(0)
}

/// Two sums that differ between any two scans that live pixels gave (chance of a false match 2^-64).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fingerprint(u32, u32);

impl Fingerprint {
    /// Of a scan.
    pub fn of(scan: &Scan) -> Self {
        // FNV-1a over whole codes, once with its own prime and once with another odd number; no carries between the two.
        scan.iter().fold(Self(0x811C_9DC5, 0x9E37_79B9), |Self(a, b), code| {
            let code = u32::from(*code);
            Self((a ^ code).wrapping_mul(16_777_619), (b ^ code).wrapping_mul(0x85EB_CA6B).rotate_left(13))
        })
    }
}

/// How a line's pixels are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Health {
    /// Scatter from pixel to pixel (noise, inequality that is left), standard deviation, sixteenths of a code.
    pub scatter: i32,
    /// The pixel that stands out most, if one does.
    pub stands_out: Option<u8>,
}

/// Six times what a pixel has beyond the cubic through two neighbours on either side.
fn beyond_neighbours(near: [i32; 5]) -> i32 {
    let [a, b, c, d, e] = near;
    6 * c - 4 * (b + d) + (a + e)
}

/// Holds every pixel against its four neighbours. The thinnest sheet's edge, two pixels wide, is within a fifth of its
/// height of that; a pixel beyond half of what its neighbours differ, beyond eight times the line's scatter, and beyond what
/// pixels are unequal by, is no light.
/// A dead pixel where there is no light looks like any other, and does no harm there.
pub fn health(lit: &Lit, pixels: &Pixels) -> Health {
    // A bad pixel and the sheet's edges count for no more than this: 96 codes.
    const MOST: i32 = 6 * 16 * 96;
    let five = |i: i32| [lit.at(i - 2), lit.at(i - 1), lit.at(i), lit.at(i + 1), lit.at(i + 2)];
    let last = PIXELS as i32 - 2;
    let total: i32 = (2..last).map(|i| beyond_neighbours(five(i)).abs().min(MOST)).sum();
    // Mean size / 6; for normal scatter of standard deviation 1 that is 0.798 * sqrt(36 + 32 + 2) / 6 = 1.113.
    let scatter = (total / 1_683).max(4);
    let mut worst = 0;
    let mut stands_out = None;
    for i in 2..last {
        let near = five(i);
        let [a, b, _, d, e] = near;
        let spread = a.max(b).max(d).max(e) - a.min(b).min(d).min(e);
        // Of the neighbours' mean light; five standard deviations of a pixel and its neighbours together (1.4 of one).
        let light = ((a + b + d + e) / 4 - i32::from(pixels.dark)).max(0);
        let unequal = ((light as u32 * u32::from(pixels.residual)) >> 16) as i32;
        let beyond = beyond_neighbours(near).abs();
        // The neighbours of a bad pixel stand out too, but less.
        if beyond > 3 * spread + 48 * scatter + 42 * unequal + 6 * 64 && beyond > worst {
            worst = beyond;
            stands_out = Some(i as u8);
        }
    }
    Health { scatter, stands_out }
}
