//! The leaf beside the head: how often a head that reads wrong at one of five stations is
//! contradicted, and how often a good one is.

use skimgauge_model::{Image, Station, Verdict};
use skimgauge_proof::finger::{Display, Finger, Hand, Setting, begun};
use skimgauge_proof::judge::judge;
use skimgauge_proof::leaf::Leaf;
use skimgauge_proof::limits::{Limits, Tool};
use skimgauge_proof::plan::Ask;
use skimgauge_proof::raw::{Asked, Gap, HeadGap, Window};
use skimgauge_quantity::Mm;

const IMAGE: Image = Image::mm(2025.0, 1265.6);

/// Five stations; leaves from 0.5 to 5 mm every `step` mm; the head off by `wrong` mm at the third.
fn laid(seed: u64, step: f64, wrong: f64, shift: f64) -> Leaf {
    let (limits, tool) = (Limits::default(), Tool::Finger);
    let names = ["top left", "top right", "centre", "bottom left", "bottom right"];
    let stations: Vec<Station> = names
        .iter()
        .map(|name| Station { name: (*name).to_owned(), at: IMAGE.place(name).unwrap() })
        .collect();
    let mut finger = Finger::new(Display::default(), Hand::with(tool), seed);
    let depth_mm = 0.2 + 0.6 * finger.even();
    let gaps: Vec<f64> = stations.iter().map(|_| 2.0 + 1.5 * finger.even()).collect();
    finger.display.depth_mm = depth_mm;
    finger.display.gaps_mm =
        stations.iter().zip(&gaps).map(|(s, gap)| (s.name.clone(), *gap)).collect();
    let mut proof = begun(IMAGE, tool, limits, Gap::Within);
    for (at, (station, gap)) in stations.iter().zip(&gaps).enumerate() {
        let off = if at == 2 { wrong } else { 0.0 };
        let read = gap + shift + off + 0.1 * finger.normal();
        proof.gaps.push(HeadGap { station: station.name.clone(), gap: Mm(read), u: Mm(0.1) });
    }
    let setting =
        Setting { image: IMAGE, inset: limits.inset, window: Window::full(1920.0, 1200.0) };
    let mut now_ms = 0.0;
    for station in &stations {
        for number in 1..=(5.0 / step) as u32 {
            let ask = Ask::Leaf {
                station: station.name.clone(),
                x: station.at.x,
                y: station.at.y,
                thickness: Mm(f64::from(number) * step),
            };
            let answer = finger.answers(&ask, &setting, now_ms);
            proof.asked.push(Asked {
                ask,
                from_ms: now_ms,
                to_ms: answer.to_ms,
                came: answer.came,
                contacts: answer.contacts,
            });
            now_ms = answer.to_ms;
        }
    }
    judge(&proof).unwrap().leaf.unwrap()
}

fn contradicted(step: f64, wrong: f64, shift: f64) -> f64 {
    let all = 200;
    let is = |seed: &u64| laid(*seed, step, wrong, shift).agrees == Verdict::Outside;
    (0..all).filter(is).count() as f64 / all as f64
}

#[test]
fn a_wrong_station_is_contradicted_a_good_head_is_not() {
    let good = contradicted(0.5, 0.0, 0.0);
    assert!(good <= 0.03, "false alarms {good}");
    let one = contradicted(0.5, 1.0, 0.0);
    assert!((0.25..=0.9).contains(&one), "1 mm wrong at one of five, 0.5 mm leaves: {one}");
    let more = contradicted(0.5, 1.5, 0.0);
    assert!(more >= 0.9, "1.5 mm wrong: {more}");
    let coarse = contradicted(1.0, 1.0, 0.0);
    assert!(coarse < one, "1 mm leaves tell less: {coarse}");
}

#[test]
fn a_shift_that_all_stations_share_is_not_seen() {
    assert!(contradicted(0.5, 0.0, 0.8) <= 0.05);
}

#[test]
fn the_station_that_is_wrong_is_named() {
    let named = (0..50u64)
        .map(|seed| laid(seed, 0.5, 2.0, 0.0))
        .filter(|leaf| leaf.contradicted.contains(&"centre".to_owned()))
        .count();
    assert!(named >= 48, "{named} of 50");
}
