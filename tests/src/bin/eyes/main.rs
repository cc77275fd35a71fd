//! Simulated eyes, seeded.

mod stand;

use skimgauge_bench::noise::Noise;
use skimgauge_bench::part::pixel_line::Line;
use skimgauge_bench::room::profile::{Light, Shine};
use stand::{Kind, Outcome, Stand};
use std::collections::BTreeMap;

const SETTLING: u32 = 70;
const SCANS: u32 = 64;

fn eye(seed: u64) -> (Line, skimgauge_head::profile::line::Pixels, Noise) {
    let mut line = Line::new(seed);
    let pixels = line.compared(0.002);
    (line, pixels, Noise::new(seed, 42))
}

fn off(seed: u64, kind: Kind) -> Outcome {
    let (line, pixels, mut noise) = eye(seed);
    let room = kind.light(&mut noise);
    Stand::new(line, pixels, Light { beam: None, shine: Shine::STEADY, room }).run(SETTLING, SCANS)
}

fn on(seed: u64, kind: Kind) -> (Outcome, f64, Light) {
    let (line, pixels, mut noise) = eye(seed);
    let room = kind.light(&mut noise);
    let beam = stand::beam(&line, &mut noise);
    let light = Light { beam: Some(beam), shine: stand::shine(&mut noise), room };
    let mut stand = Stand::new(line, pixels, light.clone());
    let out = stand.run(SETTLING, SCANS);
    let error = (stand.height_mm(out.middle) - beam.middle_mm) * 1e3;
    (out, error, light)
}

fn mirrored(seed: u64) -> (Outcome, f64, f64, f64) {
    let (line, pixels, mut noise) = eye(seed);
    let room = skimgauge_bench::room::profile::RoomLight {
        slope: noise.uniform(-1.0, 1.0),
        curve: noise.uniform(-0.5, 0.5),
        ..skimgauge_bench::room::profile::RoomLight::even(noise.uniform(0.0, 0.3))
    };
    let mut beam = stand::beam(&line, &mut noise);
    beam.middle_mm = noise.uniform(2.0, 14.0);
    beam.volts_per_ms = noise.uniform(0.2, 5.0);
    let clear = noise.uniform(0.03, 1.2);
    beam.mirror = Some(stand::mirror(&beam, clear, &mut noise));
    let apart = 8.0 * clear;
    let strength = beam.mirror.unwrap().strength();
    let light = Light { beam: Some(beam), shine: Shine::STEADY, room };
    if std::env::var("DBG").is_ok() {
        println!("{light:?}");
    }
    let mut stand = Stand::new(line, pixels, light);
    stand.wanted =
        skimgauge_head::profile::Wanted::of(skimgauge_shared::units::Micrometres::from_mm(beam.thickness_mm));
    let out = stand.run(SETTLING, SCANS);
    let error = (stand.height_mm(out.middle) - beam.middle_mm) * 1e3;
    (out, error, apart, strength)
}

fn main() {
    if let Ok(m) = std::env::var("MIRROR1") {
        let (o, e, a, s) = mirrored(m.parse().unwrap());
        println!("{e} {a} {s} {:?}", o.faults);
        return;
    }
    if std::env::var("MIRROR").is_ok() {
        let edges = [0.0, 0.5, 1.0, 1.3, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];
        let mut rows = vec![(0, 0, 0, 0, 0f64, BTreeMap::<String, u32>::new()); edges.len()];
        for seed in 0..3000 {
            let (out, error, apart, strength) = mirrored(seed);
            let row = &mut rows[edges.iter().rposition(|e| apart >= *e).unwrap()];
            row.0 += 1;
            if !out.sure() {
                row.1 += 1;
                let name =
                    if out.middles >= 12 { format!("{:?}", out.trust) } else { out.commonest_fault().to_owned() };
                *row.5.entry(name).or_default() += 1;
            } else if error.abs() <= 20.0 {
                row.2 += 1;
                row.4 = row.4.max(error.abs())
            } else {
                row.3 += 1;
                if apart > 3.0 {
                    println!("   wrong {seed} {error:.1} um, {apart:.2} sigma, strength {strength:.2}");
                }
            }
        }
        for (e, r) in edges.iter().zip(rows) {
            println!(
                "{e:>4} sigma on: {} named/doubtful {}, right {} (worst {:.1}), wrong {} {:?}",
                r.0, r.1, r.2, r.4, r.3, r.5
            );
        }
        return;
    }
    let mut a = std::env::args().skip(1).filter_map(|a| a.parse::<u64>().ok());
    let n = a.next().unwrap_or(500);
    if let Ok(one) = std::env::var("ONE") {
        let (kind, seed) = one.split_once(' ').unwrap();
        let kind = Kind::ALL[kind.parse::<usize>().unwrap()];
        let seed = seed.parse().unwrap();
        if std::env::var("OFF").is_ok() {
            let o = off(seed, kind);
            println!("{:?}", o.faults);
        } else {
            let (o, e, l) = on(seed, kind);
            println!("{e} {:?} {:?} {l:?}", o.faults, o.trust);
        }
        return;
    }
    for kind in Kind::ALL {
        let mut faults: BTreeMap<String, u32> = BTreeMap::new();
        let (mut ever, mut scans, mut heads) = (0, 0, 0);
        for seed in 0..n {
            let out = off(seed, kind);
            ever += out.ever;
            scans += out.all_scans;
            heads += u32::from(out.ever > 0);
            if out.ever > 0 {
                println!("  FALSE seed {seed} {} of {}", out.ever, out.all_scans);
            }
            *faults.entry(out.commonest_fault().to_owned()).or_default() += 1;
        }
        println!("off, {}: {ever} middles in {scans} scans, {heads} heads of {n}; {faults:?}", kind.name());
    }
    for kind in Kind::ALL {
        let mut faults: BTreeMap<String, u32> = BTreeMap::new();
        let (mut sure, mut wrong, mut doubtful) = (Vec::new(), 0, 0);
        for seed in 0..n {
            let (out, error, light) = on(seed, kind);
            if out.sure() {
                sure.push(error.abs());
                if error.abs() > 20.0 {
                    wrong += 1;
                    println!("  WRONG {kind:?} seed {seed}: {error:.1} um {light:?}");
                }
            } else if out.middles >= 12 {
                doubtful += 1;
                *faults.entry(format!("{:?}", out.trust)).or_default() += 1;
            } else {
                if std::env::var("LIST").is_ok() {
                    println!("  NONE {kind:?} {seed} {} {light:?}", out.commonest_fault());
                }
                *faults.entry(out.commonest_fault().to_owned()).or_default() += 1;
            }
        }
        sure.sort_by(f64::total_cmp);
        let q = |q: f64| sure.get(((sure.len() as f64 - 1.0) * q) as usize).copied().unwrap_or(f64::NAN);
        println!(
            "on, {}: sure {} (median {:.1}, 95% {:.1}, worst {:.1} um; {wrong} beyond 20), doubtful {doubtful}; {faults:?}",
            kind.name(),
            sure.len(),
            q(0.5),
            q(0.95),
            q(1.0)
        );
    }
}
