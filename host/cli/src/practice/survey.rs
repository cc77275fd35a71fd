//! The simulated board, surveyed before the demonstration begins.

use super::stage::Stage;
use skimgauge_bench::noise::Noise;
use skimgauge_jobfile::Job;
use skimgauge_site::survey::HEIGHT_U_MM;

/// Places across the image, and down.
const GRID: (usize, usize) = (9, 5);
/// So many in all.
pub const PLACES: usize = GRID.0 * GRID.1;

/// Places `[x, y, z]` of the board, mm, as somebody reads them: each with an error of its own.
pub fn places(stage: &Stage, job: &Job, seed: u64) -> Vec<[f64; 3]> {
    let mut noise = Noise::new(seed, 0x5E7);
    let (columns, rows) = GRID;
    let (width_mm, height_mm) = (job.image.width.0, job.image.height.0);
    let share = |at: usize, of: usize| at as f64 / (of - 1) as f64;
    (0..PLACES)
        .map(|place| {
            let x_mm = (share(place % columns, columns) - 0.5) * width_mm;
            let y_mm = -share(place / columns, rows) * height_mm;
            let z_mm = stage
                .bench()
                .scene(|scene| scene.room.observe_shape_mm(x_mm, y_mm, HEIGHT_U_MM, &mut noise));
            [x_mm, y_mm, z_mm]
        })
        .collect()
}
