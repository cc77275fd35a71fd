//! Contrast after WCAG 2.2, level AA, computed from the colours that the page's style really has.
//!
//! Relative luminance and contrast ratio: WCAG 2.2, definitions "relative luminance" and "contrast
//! ratio"; thresholds 4.5 for text (1.4.3) and 3 for graphics that carry meaning (1.4.11). W3C, Web
//! Content Accessibility Guidelines 2.2, 2023.

mod common;

use std::collections::HashMap;

use skimgauge_drawing::palette;
use skimgauge_handover::{Options, page};

type Rgb = [f64; 3];

fn rgb(hex: &str) -> Rgb {
    let hex = hex.strip_prefix('#').unwrap();
    [0, 2, 4].map(|at| f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0)
}

fn luminance(colour: Rgb) -> f64 {
    let linear =
        colour.map(|c| if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) });
    0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
}

fn contrast(a: Rgb, b: Rgb) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// What shows where one colour lies over another.
fn over(top: Rgb, opacity: f64, ground: Rgb) -> Rgb {
    std::array::from_fn(|at| top[at] * opacity + ground[at] * (1.0 - opacity))
}

/// The custom properties of the page's style: light, and dark.
fn themes() -> [HashMap<String, Rgb>; 2] {
    let page = page(&common::empty_read(), &Options::default());
    let style = &page[page.find("<style>").unwrap()..page.find("</style>").unwrap()];
    let (light, dark) = style.split_once("prefers-color-scheme:dark").expect("a dark theme");
    [light, dark].map(|part| {
        let list = &part[part.find(":root{").unwrap()..];
        let list = &list[..list.find('}').unwrap()];
        list.split(';')
            .filter_map(|one| one.rsplit_once("--").unwrap_or(("", one)).1.split_once(':'))
            .filter(|(_, value)| value.starts_with('#'))
            .map(|(name, value)| (name.to_owned(), rgb(value)))
            .collect()
    })
}

/// WCAG 2.2: black on white is 21; the technique's own example grey #767676 on white is 4.54 (from
/// memory).
#[test]
fn the_formula_gives_known_ratios() {
    assert!((contrast(rgb("#000000"), rgb("#ffffff")) - 21.0).abs() < 1e-9);
    assert!((contrast(rgb("#767676"), rgb("#ffffff")) - 4.54).abs() < 0.005);
}

#[test]
fn every_colour_of_the_list_is_in_the_style() {
    let [light, dark] = themes();
    for colour in palette::ALL {
        assert_eq!(light.get(colour.name), Some(&rgb(colour.light)), "{}", colour.name);
        assert_eq!(dark.get(colour.name), Some(&rgb(colour.dark)), "{}", colour.name);
    }
}

#[test]
fn texts_can_be_read() {
    for (theme, name) in themes().iter().zip(["light", "dark"]) {
        for ground in ["paper", "panel"] {
            for ink in ["ink", "soft", "beam", "within", "outside", "unsure"] {
                let ratio = contrast(theme[ink], theme[ground]);
                assert!(ratio >= 4.5, "{name}: {ink} on {ground} is {ratio:.2}");
            }
        }
        // Numbers on the map stand on a ground of paper that lets a little of the map through.
        for gap in palette::GAPS {
            let ground = over(theme["paper"], 0.88, theme[gap.name]);
            for ink in ["ink", "soft"] {
                let ratio = contrast(theme[ink], ground);
                assert!(ratio >= 4.5, "{name}: {ink} on the map's {} is {ratio:.2}", gap.name);
            }
        }
    }
}

#[test]
fn what_carries_meaning_can_be_seen() {
    for (theme, name) in themes().iter().zip(["light", "dark"]) {
        for (line, ground) in [
            ("ink", "paper"),
            ("beam", "panel"),
            ("within", "paper"),
            ("outside", "paper"),
            ("unsure", "paper"),
        ] {
            let ratio = contrast(theme[line], theme[ground]);
            assert!(ratio >= 3.0, "{name}: {line} on {ground} is {ratio:.2}");
        }
        // The band's end and the ring of the deciding place run over every colour of the map.
        for gap in palette::GAPS {
            let ratio = contrast(theme["ink"], theme[gap.name]);
            assert!(ratio >= 3.0, "{name}: ink on {} is {ratio:.2}", gap.name);
        }
    }
}

/// Protanopia, deuteranopia and tritanopia after Machado, Oliveira and Fernandes (2009), severity
/// 1.0; matrices from memory. For each, the map's two ends and the verdicts' colours stay apart by
/// more than the eye's least difference many times over.
#[test]
fn the_ends_of_the_map_stay_apart_for_the_colour_blind() {
    let kinds = [
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ],
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ],
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ],
    ];
    let linear = |c: f64| if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) };
    let seen = |kind: &[[f64; 3]; 3], colour: Rgb| -> Rgb {
        let colour = colour.map(linear);
        std::array::from_fn(|row| {
            (0..3).map(|at| kind[row][at] * colour[at]).sum::<f64>().clamp(0.0, 1.0)
        })
    };
    for theme in &themes() {
        for kind in &kinds {
            for (a, b) in [("gap0", "gap6"), ("gap1", "gap5")] {
                let (a, b) = (lab(seen(kind, theme[a])), lab(seen(kind, theme[b])));
                let apart = (0..3).map(|at| (a[at] - b[at]).powi(2)).sum::<f64>().sqrt();
                assert!(apart > 15.0, "{apart:.1}");
            }
        }
    }
}

/// CIELAB (CIE 15, D65) of linear sRGB.
fn lab(linear: Rgb) -> [f64; 3] {
    let [r, g, b] = linear;
    let xyz = [
        (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505,
        0.2126 * r + 0.7152 * g + 0.0722 * b,
        (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089,
    ];
    let [x, y, z] = xyz
        .map(|t| if t > 216.0 / 24389.0 { t.cbrt() } else { (24389.0 / 27.0 * t + 16.0) / 116.0 });
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}
