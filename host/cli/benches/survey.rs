//! How long a survey of ten thousand points takes, part by part and whole: flatness, form, band,
//! map, where to look next.
//!
//! `cargo bench -p skimgauge --bench survey`; with `-- --json` the points and answers are printed
//! for `metrology/benches/scipy_side_by_side.py`.

use skimgauge::survey::Survey;
use skimgauge::tables;
use skimgauge_jobfile::Job;
use skimgauge_metrology::flatness::{HeightAt, form::form, least_squares, zone};
use skimgauge_site::survey::Surveyed;
use skimgauge_tables::Against;
use std::hint::black_box;
use std::time::Instant;

const ACROSS: usize = 125;
const DOWN: usize = 80;
const GOES: usize = 20;

/// A number between minus one and one that depends on `k` alone, without pattern.
fn scatter(k: usize) -> f64 {
    let mixed = (k as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    (mixed >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

/// A leaning, bowed, twisted and rough board.
fn surveyed(width_mm: f64, height_mm: f64) -> Vec<Surveyed> {
    (0..ACROSS * DOWN)
        .map(|k| {
            let across = 2.0 * (k % ACROSS) as f64 / (ACROSS - 1) as f64 - 1.0;
            let down = 1.0 - 2.0 * (k / ACROSS) as f64 / (DOWN - 1) as f64;
            let smooth = 3.0 + 0.6 * across - 1.1 * down + 0.7 * (1.0 - across * across)
                - 0.3 * (1.0 - down * down);
            Surveyed {
                x_mm: across * width_mm / 2.0,
                y_mm: (down - 1.0) * height_mm / 2.0,
                z_mm: smooth + 0.25 * across * down + 0.05 * scatter(k),
            }
        })
        .collect()
}

/// The shortest of some goes, s.
fn shortest<T>(mut work: impl FnMut() -> T) -> f64 {
    (0..GOES)
        .map(|_| {
            let start = Instant::now();
            black_box(work());
            start.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

fn main() -> anyhow::Result<()> {
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job())?;
    let (width_mm, height_mm) = (job.image.width.0, job.image.height.0);
    let points = surveyed(width_mm, height_mm);
    let places: Vec<HeightAt> = points.iter().map(|p| [p.x_mm, p.y_mm, p.z_mm]).collect();
    let table = tables::of_survey(&points, false);
    let survey = Survey::of((&points, false), &job, 0.05, 40.0, 4)?;
    let plane_s = shortest(|| least_squares(&places));
    let form_s = shortest(|| form(&places, width_mm, height_mm, 0.05));
    let along_z_s = shortest(|| zone::vertical(&places));
    let minimum_s = shortest(|| zone::minimum(&places));
    let survey_s = shortest(|| Survey::of((&points, false), &job, 0.05, 40.0, 4));
    let read_s = shortest(|| skimgauge_tables::survey(table.as_bytes(), &Against::default()));
    let sums_s = plane_s + form_s + along_z_s + minimum_s;
    if std::env::args().any(|word| word == "--json") {
        let told = serde_json::json!({
            "places": places, "image_mm": [width_mm, height_mm],
            "flatness_mm": survey.flatness_mm, "least_squares_flatness_mm": survey.least_squares_flatness_mm,
            "bow_across_mm": survey.bow_across_mm, "bow_down_mm": survey.bow_down_mm, "twist_mm": survey.twist_mm,
            "zone_along_z_mm": survey.band.needed_mm,
            "seconds": {
                "least_squares_flatness_mm": plane_s, "bow_across_mm": form_s, "zone_along_z_mm": along_z_s,
                "flatness_mm": minimum_s, "sums": sums_s, "survey": survey_s,
            },
        });
        println!("{told}");
        return Ok(());
    }
    for (name, seconds) in [
        ("least-squares plane", plane_s),
        ("bow, twist and bumps", form_s),
        ("zone along z", along_z_s),
        ("minimum zone", minimum_s),
        ("all of these", sums_s),
        ("the whole survey", survey_s),
        ("its table read", read_s),
    ] {
        println!("{name:<24} {:>8.2} ms", seconds * 1e3);
    }
    Ok(())
}
