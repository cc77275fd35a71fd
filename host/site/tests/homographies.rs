//! Homographies and quadrilateral facts against 40-digit values that OpenCV 5.0.0 and scikit-image
//! 0.26.0 agree with.

use skimgauge_site::square::homography::Homography;
use skimgauge_site::square::quadrilateral::{Corner, Quadrilateral};

fn rows() -> Vec<(String, Vec<f64>)> {
    include_str!("data/homography.csv")
        .lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| {
            let (name, rest) = line.split_once(',').unwrap();
            (name.to_owned(), rest.split(',').map(|field| field.parse().unwrap()).collect())
        })
        .collect()
}

fn corners(v: &[f64]) -> [(f64, f64); 4] {
    [(v[2], v[3]), (v[4], v[5]), (v[6], v[7]), (v[8], v[9])]
}

#[test]
fn coefficients_agree() {
    let rows = rows();
    assert_eq!(rows.len(), 2);
    for (name, v) in rows {
        let Homography(h) = Homography::of_rectangle(v[0], v[1], corners(&v)).unwrap();
        for (found, expected) in h.as_flattened().iter().zip(v[10..18].iter()) {
            assert!((found - expected).abs() < 1e-12, "{name}: {found} {expected}");
        }
        assert_eq!(h[2][2], 1.0);
    }
}

#[test]
fn the_middle_goes_where_the_diagonals_cross() {
    for ((_, v), (x, y)) in
        rows().into_iter().zip([(792.979_440_720_276, 457.063_178_414_159), (1015.0, 630.0)])
    {
        let map = Homography::of_rectangle(v[0], v[1], corners(&v)).unwrap();
        let (found_x, found_y) = map.apply(v[0] / 2.0, v[1] / 2.0).unwrap();
        assert!((found_x - x).hypot(found_y - y) < 1e-9);
    }
}

#[test]
fn sides_diagonals_angles_and_area_agree() {
    for (name, v) in rows() {
        let quad = Quadrilateral(corners(&v).map(|(x_mm, y)| Corner { x_mm, y_mm: -y }));
        for (found, expected) in quad.spans_mm().into_iter().zip(v[18..24].iter()) {
            assert!((found - expected).abs() < 1e-6, "{name}");
        }
        for (found, expected) in quad.angles_deg().into_iter().zip(v[24..28].iter()) {
            assert!((found - expected).abs() < 1e-8, "{name}");
        }
        assert!((quad.area_mm2() - v[28]).abs() < 1e-6, "{name}");
    }
}
