//! The line of pixels: its table, and whether every pixel is alive.

use super::{PIXELS, Pixels, Scan};

/// More known bad pixels than this, and the line is bad.
const MOST_BAD: usize = 4;

/// The pixels that a table calls bad, as far as they can be bridged.
#[derive(Default)]
struct Bad {
    at: [u8; MOST_BAD],
    /// All of them.
    count: usize,
}

impl Bad {
    fn add(&mut self, at: usize) {
        if let Some(place) = self.at.get_mut(self.count) {
            *place = at as u8;
        }
        self.count += 1;
    }

    fn all(&self) -> &[u8] {
        self.at.get(..self.count).unwrap_or(&[])
    }

    /// Few, no two side by side, none at an end.
    fn can_be_bridged(&self) -> bool {
        let at = self.all();
        at.len() == self.count
            && at.windows(2).all(|pair| pair[1] - pair[0] > 1)
            && at.iter().all(|at| (1..u8::MAX).contains(at))
    }
}

/// A scan with its pixels made equal, sixteenths of a code, and what comes of one pass over it.
pub struct Lit {
    pixels: [u16; PIXELS],
    /// Of all pixels before each one: any span's sum is a difference. 256 * 65 535 < 2^24.
    sums: [u32; PIXELS + 1],
    /// The brightest of the 128 pairs of neighbours, by the darker of the two, as the converter gave
    /// it: a single stuck pixel does not set the exposure.
    pub brightest: u16,
    /// To hold the next scan against.
    pub fingerprint: Fingerprint,
    /// Not more bad pixels than can be bridged: few, no two side by side, none at an end.
    pub usable: bool,
}

impl Lit {
    /// A dark line, for [`Self::fill`].
    pub fn dark() -> Self {
        Self {
            pixels: [0; PIXELS],
            sums: [0; PIXELS + 1],
            brightest: 0,
            fingerprint: Fingerprint::BEGIN,
            usable: true,
        }
    }

    /// Makes the pixels of a scan equal. Of a code its lower 12 bits count: a converter's whole.
    pub fn new(scan: &Scan, table: &Pixels) -> Self {
        let mut lit = Self::dark();
        lit.fill(scan, table);
        lit
    }

    /// As [`Self::new`], in place of what was there.
    pub fn fill(&mut self, scan: &Scan, table: &Pixels) {
        self.brightest = brightest(scan);
        self.fingerprint = fingerprint(scan);
        make_equal(&mut self.pixels, scan, &table.gain, i32::from(table.dark));
        let bad = bad(&table.gain);
        for at in bad.all() {
            let at = usize::from(*at);
            let [left, right] = [at.saturating_sub(1), (at + 1).min(PIXELS - 1)];
            self.pixels[at] = self.pixels[left].midpoint(self.pixels[right]);
        }
        self.usable = bad.can_be_bridged();
        add_up(&mut self.sums, &self.pixels);
    }

    /// A pixel; beyond an end the last one.
    #[inline]
    pub fn at(&self, i: i32) -> i32 {
        // The mask spares the check that would panic.
        i32::from(self.pixels[i.clamp(0, PIXELS as i32 - 1) as usize & (PIXELS - 1)])
    }

    /// Sum of the pixels before one; beyond an end of the line there are none.
    #[inline]
    pub fn before(&self, i: i32) -> i32 {
        self.sums.get(i.clamp(0, PIXELS as i32) as usize).copied().unwrap_or(0) as i32
    }

    /// Sum of the pixels of a span, which is clipped to the line.
    #[inline]
    pub fn sum(&self, from: i32, to: i32) -> i32 {
        (self.before(to + 1) - self.before(from)).max(0)
    }

    /// For each pixel the sum of all before it, and at last the sum of all.
    pub fn sums(&self) -> &[u32; PIXELS + 1] {
        &self.sums
    }

    /// Of those the ones from one pixel to another, both included, as far as there are.
    pub fn sums_between(&self, from: i32, to: i32) -> &[u32] {
        let from = from.clamp(0, PIXELS as i32);
        self.sums.get(from as usize..=to.clamp(from, PIXELS as i32) as usize).unwrap_or(&[])
    }

    /// The pixels from one to another, both included, as far as there are.
    #[inline]
    pub fn pixels(&self, from: i32, to: i32) -> &[u16] {
        let from = from.clamp(0, PIXELS as i32);
        self.pixels.get(from as usize..(to + 1).clamp(from, PIXELS as i32) as usize).unwrap_or(&[])
    }
}

// Each pass a function of its own: together they need more registers than the head's core has.

#[inline(never)]
fn fingerprint(scan: &Scan) -> Fingerprint {
    scan.iter().fold(Fingerprint::BEGIN, |print, code| print.and(*code))
}

#[inline(never)]
fn brightest(scan: &Scan) -> u16 {
    let mut brightest = 0;
    for [a, b] in scan.as_chunks::<2>().0 {
        if *a > brightest && *b > brightest {
            brightest = *a.min(b);
        }
    }
    brightest
}

#[inline(never)]
fn make_equal(pixels: &mut [u16; PIXELS], scan: &Scan, gain: &[i8; PIXELS], dark: i32) {
    for ((to, code), gain) in pixels.iter_mut().zip(scan).zip(gain) {
        let raw = i32::from(*code << 4);
        // A half is added before the last place goes.
        let more = ((((raw - dark) * i32::from(*gain)) >> 10) + 1) >> 1;
        // Beyond what sixteen bits hold: an end of it.
        *to = (raw + more).clamp(0, 65_535) as u16;
    }
}

fn bad(gain: &[i8; PIXELS]) -> Bad {
    let mut bad = Bad::default();
    if gain.contains(&Pixels::BAD) {
        for (i, _) in gain.iter().enumerate().filter(|(_, gain)| **gain == Pixels::BAD) {
            bad.add(i);
        }
    }
    bad
}

#[inline(never)]
fn add_up(sums: &mut [u32; PIXELS + 1], pixels: &[u16; PIXELS]) {
    let mut sum = 0;
    for (to, y) in sums.iter_mut().skip(1).zip(pixels) {
        sum += u32::from(*y);
        *to = sum;
    }
}

/// A number that differs between any two scans that live pixels gave (chance of a false match 2^-32:
/// one scan in a year and a half); it always does where they differ in one pixel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fingerprint(u32);

impl Fingerprint {
    const BEGIN: Self = Self(0x811C_9DC5);

    /// FNV-1a over whole codes.
    #[inline]
    fn and(self, code: u16) -> Self {
        Self((self.0 ^ u32::from(code)).wrapping_mul(16_777_619))
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
#[inline(never)]
pub fn health(lit: &Lit, pixels: &Pixels) -> Health {
    // A bad pixel and the sheet's edges count for no more than this: 96 codes.
    const MOST: i32 = 6 * 16 * 96;
    let (mut total, mut most) = (0, 0);
    for [a, b, c, d, e] in lit.pixels.array_windows::<5>() {
        let (a, b, c, d, e) =
            (i32::from(*a), i32::from(*b), i32::from(*c), i32::from(*d), i32::from(*e));
        let mut beyond = 6 * c - 4 * (b + d) + (a + e);
        if beyond < 0 {
            beyond = -beyond;
        }
        if beyond > most {
            most = beyond;
        }
        if beyond > MOST {
            beyond = MOST;
        }
        total += beyond;
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
    for (i, near) in (2..).zip(lit.pixels.windows(5)) {
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
