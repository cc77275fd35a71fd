//! The gauge in front of the eye: two walls that stand on the face, each with a slit at each of two
//! heights, in line, so that only light along the face comes through; with its own lamp behind
//! them, or lit by the emitter's sheet.

use super::profile::Beam;

/// Which slits are open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Slits {
    /// Those near the face.
    Low,
    /// Those farther out.
    High,
    /// All.
    Both,
}

/// The gauge; its figures are those of `hardware/body/params.toml`, its heights the true ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gauge {
    /// Middle of the lower slits over the face, mm.
    pub low_mm: f64,
    /// Middle of the upper slits, mm.
    pub high_mm: f64,
    /// Height of a slit, mm.
    pub slit_mm: f64,
    /// Between the two walls, mm.
    pub apart_mm: f64,
    /// From the nearer wall to the pixels, mm.
    pub behind_mm: f64,
    /// Which are open.
    pub open: Slits,
    /// What its lamp gives the eye in a millisecond, V; `None`: lit by the emitter.
    pub lamp_v: Option<f64>,
}

impl Default for Gauge {
    fn default() -> Self {
        Self {
            low_mm: 3.0,
            high_mm: 9.0,
            slit_mm: 0.3,
            apart_mm: 40.0,
            behind_mm: 15.0,
            open: Slits::Low,
            lamp_v: Some(1.0),
        }
    }
}

/// A slit's light is nearly as bright everywhere and ends at once.
const ORDER: f64 = 6.0;

impl Gauge {
    /// Heights of the slits that are open, mm.
    pub fn heights_mm(&self) -> Vec<f64> {
        match self.open {
            Slits::Low => vec![self.low_mm],
            Slits::High => vec![self.high_mm],
            Slits::Both => vec![self.low_mm, self.high_mm],
        }
    }

    /// The lamp's light at the eye. A point at the eye sees the lamp where the far slit shows
    /// through the near one: all of it within half a slit of their line, and none beyond
    /// `slit (apart + 2 behind) / (2 apart)`.
    pub fn lamplit(&self) -> Vec<Beam> {
        let Some(volts_per_ms) = self.lamp_v else { return Vec::new() };
        let flat_mm = self.slit_mm / 2.0;
        let foot_mm = self.slit_mm * (self.apart_mm + 2.0 * self.behind_mm) / (2.0 * self.apart_mm);
        // Variance of a trapezoid: (foot^2 + flat^2) / 6.
        let thickness_mm = 4.0 * ((flat_mm.powi(2) + foot_mm.powi(2)) / 6.0).sqrt();
        let of = |middle_mm| beam(middle_mm, thickness_mm, volts_per_ms);
        self.heights_mm().into_iter().map(of).collect()
    }

    /// What comes through of a sheet that stands at `sheet.middle_mm` over the face and rises by
    /// `slope` (mm per mm) toward the eye: of each slit what the two have in common along the
    /// sheet's own direction, as bright as the sheet is there.
    pub fn sheetlit(&self, sheet: &Beam, slope: f64) -> Vec<Beam> {
        let open_mm = self.slit_mm - slope.abs() * self.apart_mm;
        if self.lamp_v.is_some() || open_mm <= 0.0 {
            return Vec::new();
        }
        let bright = sheet.profile();
        let through = |slit_mm: f64| {
            // Nine places across; the middle is that of the light, not of the slit.
            let near_mm = slit_mm + slope * self.apart_mm / 2.0;
            let places = (-4..=4).map(|k| near_mm + open_mm * f64::from(k) / 9.0);
            let (whole, moment) = places
                .map(|z_mm| (bright(z_mm), z_mm))
                .fold((0.0, 0.0), |(sum, moment), (v, z_mm)| (sum + v, moment + v * z_mm));
            (whole > 0.0).then(|| {
                let middle_mm = moment / whole + slope * self.behind_mm;
                let volts_per_ms = whole / 9.0;
                beam(middle_mm, open_mm * 4.0 / 12f64.sqrt(), volts_per_ms)
            })
        };
        self.heights_mm().into_iter().filter_map(through).collect()
    }
}

fn beam(middle_mm: f64, thickness_mm: f64, volts_per_ms: f64) -> Beam {
    Beam { middle_mm, thickness_mm, order: ORDER, volts_per_ms, azimuth_deg: 0.0, mirror: None }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lamps_light_stands_at_the_slits_that_are_open() {
        let at = |open| {
            let lit = Gauge { open, ..Gauge::default() }.lamplit();
            lit.iter().map(|beam| beam.middle_mm).collect::<Vec<_>>()
        };
        assert_eq!(at(Slits::Low), [3.0]);
        assert_eq!(at(Slits::High), [9.0]);
        assert_eq!(at(Slits::Both), [3.0, 9.0]);
        // By rays from 300 places of the far slit through 300 of the near one.
        let gauge = Gauge::default();
        let (mut n, mut square) = (0.0, 0.0);
        for far in 0..300 {
            for near in 0..300 {
                let z = |k: i32| gauge.slit_mm * ((f64::from(k) + 0.5) / 300.0 - 0.5);
                let at_mm = z(near) + (z(near) - z(far)) * gauge.behind_mm / gauge.apart_mm;
                n += 1.0;
                square += at_mm * at_mm;
            }
        }
        let by_rays_mm = 4.0 * f64::sqrt(square / n);
        assert!((gauge.lamplit()[0].thickness_mm - by_rays_mm).abs() < 1e-3);
    }

    /// Two slits let a sloping sheet through where they overlap along it.
    #[test]
    fn a_sloping_sheet_comes_through_narrower_and_off() {
        let sheet = Beam { middle_mm: 3.0, ..beam(3.0, 20.0, 1.0) };
        let gauge = Gauge { lamp_v: None, ..Gauge::default() };
        let straight = gauge.sheetlit(&sheet, 0.0);
        assert!((straight[0].middle_mm - 3.0).abs() < 1e-6);
        let sloping = gauge.sheetlit(&sheet, 0.005);
        assert!((sloping[0].middle_mm - 3.0 - 0.005 * (20.0 + 15.0)).abs() < 1e-3);
        assert!((sloping[0].thickness_mm / straight[0].thickness_mm - 1.0 / 3.0).abs() < 1e-6);
        assert!(gauge.sheetlit(&sheet, 0.008).is_empty());
    }

    /// Where the slit cuts a sheet's flank, its brighter side counts more.
    #[test]
    fn a_slit_on_a_sheets_flank_reads_toward_its_middle() {
        let sheet = Beam { order: 2.0, ..beam(2.5, 1.5, 1.0) };
        let gauge = Gauge { lamp_v: None, ..Gauge::default() };
        let lit = gauge.sheetlit(&sheet, 0.0);
        // d ln I / dz = -0.5 / 0.375^2 at half a millimetre; times slit^2 / 12.
        let off_mm: f64 = lit[0].middle_mm - 3.0;
        assert!((off_mm + 0.5 / 0.375f64.powi(2) * 0.09 / 12.0).abs() < 0.004, "{off_mm}");
    }
}
