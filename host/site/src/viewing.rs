//! From where the image can be read. Rules of thumb, each with its source.

use serde::Serialize;

use skimgauge_model::Image;

/// One recommended distance from the image.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Viewing {
    /// What the distance is for.
    pub rule: &'static str,
    /// Distance from the image, mm.
    pub distance_mm: f64,
    /// Where the rule comes from.
    pub source: &'static str,
}

/// Distance at which the image's width fills `angle_deg` of view, mm. `angle_deg` in 0 to 180, ends
/// excluded.
pub fn filling_angle_mm(image: Image, angle_deg: f64) -> f64 {
    image.width.0 / 2.0 / (angle_deg.to_radians() / 2.0).tan()
}

/// Image height that lets a viewer at `farthest_mm` read elements which are `element_share` of that
/// height (0.03 for three percent): ANSI/AVIXA V202.01 basic decision making, image height =
/// farthest viewer / (200 x element height in percent / 100), mm.
pub fn height_for_farthest_mm(farthest_mm: f64, element_share: f64) -> f64 {
    farthest_mm / (200.0 * element_share)
}

/// The farthest useful viewer by the height rule and the nearest comfortable one by the angle rule.
pub fn distances(image: Image) -> [Viewing; 3] {
    [
        Viewing {
            rule: "nearest: the image fills 36 degrees",
            distance_mm: filling_angle_mm(image, 36.0),
            source: "soundandvision.com, custom installer: 1.54 widths",
        },
        Viewing {
            rule: "farthest for detailed work: 4 image heights",
            distance_mm: 4.0 * image.height.0,
            source: "soundandcommunications.com: 4 H",
        },
        Viewing {
            rule: "farthest for reading: 6 image heights",
            distance_mm: 6.0 * image.height.0,
            source: "soundandcommunications.com: 6 H",
        },
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published factors (soundandvision.com custom installer; tv-sizes.com) beside the exact ones
    /// computed with numpy.
    #[test]
    fn angle_rules_match_the_published_factors() {
        let image = Image::mm(1600.0, 900.0);
        let widths = |angle_deg| filling_angle_mm(image, angle_deg) / image.width.0;
        for (angle_deg, published, exact) in
            [(30.0, 1.9, 1.866_025), (36.0, 1.54, 1.538_842), (26.0, 2.2, 2.165_738)]
        {
            assert!((widths(angle_deg) - exact).abs() < 1e-6, "{angle_deg}");
            assert!((widths(angle_deg) - published).abs() < 0.05, "{angle_deg}");
        }
        let diagonals = filling_angle_mm(image, 40.0) / image.diagonal().0;
        assert!((diagonals - 1.197_317).abs() < 1e-6);
    }

    /// aetm.org page on the basic rule: height 1500 mm, farthest viewer 10 500 mm, elements of 3.5
    /// %.
    #[test]
    fn height_rule_matches_its_published_example() {
        assert!((height_for_farthest_mm(10_500.0, 0.035) - 1500.0).abs() < 1e-9);
    }
}
