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
    /// What is added to each pixel's light, 1/2048 of it; [`Pixels::BAD`]: replaced by its
    /// neighbours' mean.
    pub gain: [i8; PIXELS],
}

impl Pixels {
    /// The mark of a pixel that is known to be dead, stuck or covered.
    pub const BAD: i8 = i8::MIN;

    /// More known bad pixels than this, and the line is bad.
    const MOST_BAD: usize = 4;

    /// A line whose pixels nobody has compared: 3 % unequal (data sheets of such lines, from
    /// memory: 5 % to 10 % at most).
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
        let mut lit = Self([0; PIXELS]);
        let dark = i32::from(pixels.dark);
        for ((to, code), gain) in lit.0.iter_mut().zip(scan).zip(&pixels.gain) {
            let raw = i32::from(*code.min(&4_095)) * 16;
            let more = ((raw - dark) * i32::from(*gain) + 1_024) >> 11;
            *to = (raw + more).clamp(0, 65_535) as u16;
        }
        for (i, gain) in (0..).zip(&pixels.gain) {
            if *gain == Pixels::BAD {
                lit.0[i as usize & (PIXELS - 1)] = ((lit.at(i - 1) + lit.at(i + 1)) / 2) as u16;
            }
        }
        lit
    }

    /// All of them.
    pub fn all(&self) -> &[u16; PIXELS] {
        &self.0
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

/// The brightest of all pairs of neighbours, by the darker of the two: a single stuck pixel does
/// not set the exposure.
pub fn brightest(scan: &Scan) -> u16 {
    scan.windows(2).map(|pair| pair[0].min(pair[1])).max().unwrap_or(0)
}

/// Two sums that differ between any two scans that live pixels gave (chance of a false match
/// 2^-64).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fingerprint(u32, u32);

impl Fingerprint {
    /// Of a scan.
    pub fn of(scan: &Scan) -> Self {
        // FNV-1a over whole codes, once with its own prime and once with another odd number; no
        // carries between the two.
        scan.iter().fold(Self(0x811C_9DC5, 0x9E37_79B9), |Self(a, b), code| {
            let code = u32::from(*code);
            Self(
                (a ^ code).wrapping_mul(16_777_619),
                (b ^ code).wrapping_mul(0x85EB_CA6B).rotate_left(13),
            )
        })
    }
}

/// How a line's pixels are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Health {
    /// Scatter from pixel to pixel (noise, inequality that is left), standard deviation,
    /// sixteenths of a code.
    pub scatter: i32,
    /// The pixel that stands out most, if one does.
    pub stands_out: Option<u8>,
}

/// Six times what a pixel has beyond the cubic through two neighbours on either side.
#[inline]
fn beyond_neighbours(near: &[u16]) -> i32 {
    let &[a, b, c, d, e] = near else { return 0 };
    6 * i32::from(c) - 4 * (i32::from(b) + i32::from(d)) + i32::from(a) + i32::from(e)
}

/// Holds every pixel against its four neighbours. The thinnest sheet's edge, two pixels wide, is
/// within a fifth of its height of that; a pixel beyond half of what its neighbours differ, beyond
/// eight times the line's scatter, and beyond what pixels are unequal by, is no light.
/// A dead pixel where there is no light looks like any other, and does no harm there.
pub fn health(lit: &Lit, pixels: &Pixels) -> Health {
    // A bad pixel and the sheet's edges count for no more than this: 96 codes.
    const MOST: i32 = 6 * 16 * 96;
    let (mut total, mut most) = (0, 0);
    for near in lit.0.windows(5) {
        let beyond = beyond_neighbours(near).abs();
        total += beyond.min(MOST);
        most = most.max(beyond);
    }
    // Mean size / 6; for normal scatter of standard deviation 1 that is 0.798 * sqrt(36 + 32 + 2) /
    // 6 = 1.113.
    let scatter = (total / 1_683).max(4);
    let least = 48 * scatter + 6 * 64;
    Health { scatter, stands_out: if most > least { worst(lit, pixels, least) } else { None } }
}

/// The pixel that is farthest beyond its neighbours, if it is so beyond what they and inequality
/// allow over `least`.
fn worst(lit: &Lit, pixels: &Pixels, least: i32) -> Option<u8> {
    let mut most = 0;
    let mut found = None;
    for (i, near) in (2..).zip(lit.0.windows(5)) {
        let beyond = beyond_neighbours(near).abs();
        let &[a, b, _, d, e] = near else { continue };
        // The neighbours of a bad pixel stand out too, but less.
        if beyond <= least || beyond <= most {
            continue;
        }
        let spread = i32::from(a.max(b).max(d).max(e)) - i32::from(a.min(b).min(d).min(e));
        // Of the neighbours' mean light; five standard deviations of a pixel and its neighbours
        // together (1.4 of one).
        let light = (u32::from(a) + u32::from(b) + u32::from(d) + u32::from(e)) / 4;
        let light = light.saturating_sub(u32::from(pixels.dark));
        let unequal = ((light * u32::from(pixels.residual)) >> 16) as i32;
        if beyond > least + 3 * spread + 42 * unequal {
            most = beyond;
            found = Some(i);
        }
    }
    found
}
