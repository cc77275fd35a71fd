//! The sheet of light: how thick it is, how strong, and what of it the two cells of an eye catch.

/// The sheet. Its profile along the normal is a raised cosine; its thickness, at the feet of the
/// profile, grows with the distance from the emitter and its power falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sheet {
    /// Thickness at the emitter, mm.
    pub thickness_mm: f64,
    /// Growth of the thickness, mm per metre.
    pub spread_mm_per_m: f64,
    /// What both cells together give at one metre when they catch all of the sheet, V.
    pub volts_at_1_m: f64,
}

impl Sheet {
    /// Thickness at a distance from the emitter, mm.
    pub fn thickness_at_mm(&self, distance_mm: f64) -> f64 {
        self.thickness_mm + self.spread_mm_per_m * distance_mm / 1000.0
    }

    /// Volts for the whole sheet at a distance from the emitter. It falls as 1 / (distance + 0.6
    /// m): a fan that seems to come from behind its window.
    pub fn volts_at(&self, distance_mm: f64) -> f64 {
        self.volts_at_1_m * 1600.0 / (distance_mm + 600.0)
    }

    /// Shares of the sheet that fall on the outer and inner cell (each `cell_mm` high, meeting at
    /// the eye's centre), with the sheet's middle `offset_mm` outside the eye's centre, which
    /// itself is `eye_mm` above the board face. What lies behind the face is lost.
    pub fn shares(
        &self,
        distance_mm: f64,
        offset_mm: f64,
        cell_mm: f64,
        eye_mm: f64,
    ) -> (f64, f64) {
        let thickness_mm = self.thickness_at_mm(distance_mm);
        let below = |z_mm: f64| raised_cosine_below((z_mm - offset_mm) / thickness_mm);
        let face_mm = -eye_mm;
        let between =
            |low_mm: f64, high_mm: f64| (below(high_mm) - below(low_mm.max(face_mm))).max(0.0);
        (between(0.0, cell_mm), between(-cell_mm, 0.0))
    }
}

/// Integral of a raised cosine of base 1 and area 1 from its left foot to `u`.
fn raised_cosine_below(u: f64) -> f64 {
    if u <= -0.5 {
        0.0
    } else if u >= 0.5 {
        1.0
    } else {
        0.5 + u + (core::f64::consts::TAU * u).sin() / core::f64::consts::TAU
    }
}

#[cfg(test)]
mod tests {
    use super::Sheet;

    const SHEET: Sheet = Sheet { thickness_mm: 3.0, spread_mm_per_m: 1.0, volts_at_1_m: 1.2 };

    fn ratio(offset_mm: f64, cell_mm: f64) -> f64 {
        let (outer, inner) = SHEET.shares(1000.0, offset_mm, cell_mm, 10.0);
        (outer - inner) / (outer + inner)
    }

    /// The integral against a sum over thin slices of the profile.
    #[test]
    fn shares_are_the_integrals_of_the_profile() {
        let (cell_mm, offset_mm, thickness_mm) = (1.5, 0.4, 4.0);
        let slice_mm = 1e-4;
        let sum = |low_mm: f64| {
            (0..(cell_mm / slice_mm) as usize)
                .map(|k| {
                    let z_mm: f64 = low_mm + (k as f64 + 0.5) * slice_mm - offset_mm;
                    (1.0 + (core::f64::consts::TAU * z_mm / thickness_mm).cos()) / thickness_mm
                        * slice_mm
                })
                .sum::<f64>()
        };
        let (outer, inner) = SHEET.shares(1000.0, offset_mm, cell_mm, 10.0);
        assert!((outer - sum(0.0)).abs() < 1e-6 && (inner - sum(-cell_mm)).abs() < 1e-6);
    }

    #[test]
    fn ratio_is_odd_rises_and_saturates() {
        let mut last = -2.0;
        for k in -40..=40 {
            let offset_mm = f64::from(k) * 0.05;
            let r = ratio(offset_mm, 4.0);
            assert!((r + ratio(-offset_mm, 4.0)).abs() < 1e-12);
            assert!(r >= last && (-1.0..=1.0).contains(&r));
            last = r;
        }
        assert!((ratio(2.0, 4.0) - 1.0).abs() < 1e-12);
        // Near the middle, with cells that catch all: r = 4 e / thickness.
        assert!((ratio(0.01, 4.0) / 0.01 - 4.0 / 4.0).abs() < 1e-3);
    }

    #[test]
    fn board_face_cuts_the_sheet() {
        let (outer, inner) = SHEET.shares(1000.0, 0.0, 4.0, 0.0);
        assert!((outer - 0.5).abs() < 1e-12 && inner == 0.0);
        assert_eq!(SHEET.shares(1000.0, -3.0, 4.0, 0.0), (0.0, 0.0));
    }

    #[test]
    fn power_falls_and_thickness_grows_with_distance() {
        assert!((SHEET.volts_at(1000.0) - 1.2).abs() < 1e-12);
        assert!(SHEET.volts_at(1600.0) < SHEET.volts_at(200.0));
        assert!((SHEET.thickness_at_mm(1500.0) - 4.5).abs() < 1e-12);
    }
}
