//! The sheet of light as the emitter throws it: how thick it is and how strong, by distance and
//! direction.

/// The sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sheet {
    /// Thickness at the emitter, mm: four standard deviations of its profile (D4sigma, ISO
    /// 11146-1).
    pub thickness_mm: f64,
    /// Growth of the thickness, mm per metre.
    pub spread_mm_per_m: f64,
    /// Shape of its profile: `exp(-|z/a|^order)`; 2 is a bell, 8 nearly a flat top.
    pub order: f64,
    /// At its middle, straight down from the emitter at one metre, in an eye that faces it: V per
    /// ms.
    pub volts_at_1_m: f64,
    /// Share of this that the fan still has at [`FAN_EDGE_DEG`] from straight down: toward the
    /// board's upper corners.
    pub fan_at_edge: f64,
}

/// Where the light for a 94 inch board's upper corner leaves an emitter 75 mm above it, degrees
/// from straight down.
pub const FAN_EDGE_DEG: f64 = 86.0;

impl Sheet {
    /// Thickness at a distance from the emitter, mm.
    pub fn thickness_at_mm(&self, distance_mm: f64) -> f64 {
        self.thickness_mm + self.spread_mm_per_m * distance_mm / 1000.0
    }

    /// V per ms at a distance from the emitter and an angle from straight down. It falls as 1 /
    /// (distance + 0.6 m), a fan that seems to come from behind its window, and toward the fan's
    /// edges as a bell.
    pub fn volts_at(&self, distance_mm: f64, angle_deg: f64) -> f64 {
        let fan = self.fan_at_edge.max(0.0).powf((angle_deg / FAN_EDGE_DEG).powi(2));
        self.volts_at_1_m * 1600.0 / (distance_mm + 600.0) * fan
    }
}

#[cfg(test)]
mod tests {
    use super::Sheet;

    const SHEET: Sheet = Sheet {
        thickness_mm: 1.2,
        spread_mm_per_m: 0.4,
        order: 2.0,
        volts_at_1_m: 1.2,
        fan_at_edge: 0.3,
    };

    #[test]
    fn power_falls_and_thickness_grows_with_distance() {
        assert!((SHEET.volts_at(1000.0, 0.0) - 1.2).abs() < 1e-12);
        assert!(SHEET.volts_at(1600.0, 0.0) < SHEET.volts_at(200.0, 0.0));
        assert!((SHEET.thickness_at_mm(1500.0) - 1.8).abs() < 1e-12);
    }

    #[test]
    fn the_fan_is_weaker_to_the_sides_as_said() {
        let at = |angle_deg| SHEET.volts_at(1000.0, angle_deg);
        assert!((at(86.0) - 0.36).abs() < 1e-12 && (at(-86.0) - 0.36).abs() < 1e-12);
        assert!(at(0.0) > at(45.0) && at(45.0) > at(86.0));
    }
}
