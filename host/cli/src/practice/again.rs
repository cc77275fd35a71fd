//! One job in several runs: a practice room as it stands between them, after a quit, a crash or a
//! lunch; and boards of other kinds than the room's own. For jobs played by their mistakes.

use skimgauge_bench::bench::Bench;
use skimgauge_bench::noise::Noise;
use skimgauge_bench::room::board::{Board, Bump};
use std::fmt;

/// A room as somebody left it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AsLeft {
    /// Where each adjuster's screw stands, and the emitter on it, turns.
    adjusters: [(f64, f64); 3],
    /// The emitter was pushed by so much since the job began, mm.
    pushed_mm: f64,
    /// ... the last time since the run that ended last, and whoever comes back knows it.
    pub touched: bool,
}

impl AsLeft {
    /// As the room stands; `pushed_mm` is what the emitter was pushed by so far.
    pub fn of(bench: &Bench, pushed_mm: f64, touched: bool) -> Self {
        let adjusters = bench.scene(|scene| {
            scene.room.emitter.adjusters.each_ref().map(|one| (one.screw_turns, one.nut_turns))
        });
        Self { adjusters, pushed_mm, touched }
    }

    /// As it was told. Nothing told is a room where nothing was done.
    ///
    /// # Errors
    /// It is none.
    pub fn read(text: &str) -> Result<Self, String> {
        if text.trim().is_empty() {
            return Ok(Self::default());
        }
        let numbers: Result<Vec<f64>, _> = text.split_whitespace().map(str::parse).collect();
        let Ok(&[a, b, c, d, e, f, pushed_mm, touched]) = numbers.as_deref() else {
            return Err(format!("\"{text}\" is no room that was left"));
        };
        let adjusters = [(a, b), (c, d), (e, f)];
        Ok(Self { adjusters, pushed_mm, touched: touched != 0.0 })
    }

    /// What the emitter was pushed by, mm.
    pub fn pushed_mm(&self) -> f64 {
        self.pushed_mm
    }

    /// Makes the room so.
    pub fn furnish(&self, bench: &Bench) {
        bench.scene(|scene| {
            let emitter = &mut scene.room.emitter;
            for (adjuster, (screw, nut)) in emitter.adjusters.iter_mut().zip(self.adjusters) {
                (adjuster.screw_turns, adjuster.nut_turns) = (screw, nut);
            }
            emitter.start.c_mm += self.pushed_mm;
        });
    }
}

impl fmt::Display for AsLeft {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (screw, nut) in self.adjusters {
            write!(f, "{screw} {nut} ")?;
        }
        write!(f, "{} {}", self.pushed_mm, u8::from(self.touched))
    }
}

/// Makes the board one that the method was not made from: lifted or sunk along a stud down from an
/// edge, at a corner, or in waves across it.
pub fn odd_board(bench: &Bench, seed: u64) {
    let mut noise = Noise::new(seed, 0x0DD);
    bench.scene(|scene| {
        let board = &mut scene.room.board;
        let (wide, high) = (board.width_mm, board.height_mm);
        let sign = if noise.chance(0.5) { 1.0 } else { -1.0 };
        let height_mm = sign * noise.uniform(0.3, 0.9);
        let bumps: Vec<Bump> = match noise.bits() % 3 {
            0 => {
                let (x_mm, radius_mm) =
                    (noise.uniform(-0.45, 0.45) * wide, noise.uniform(100.0, 200.0));
                let along =
                    [0.0, 0.15, 0.3].map(|down| (-down * high, height_mm * (1.0 - 2.5 * down)));
                along.map(|(y_mm, height_mm)| Bump { x_mm, y_mm, height_mm, radius_mm }).to_vec()
            }
            1 => {
                let x_mm = if noise.chance(0.5) { 0.5 * wide } else { -0.5 * wide };
                let y_mm = if noise.chance(0.5) { 0.0 } else { -high };
                vec![Bump { x_mm, y_mm, height_mm, radius_mm: noise.uniform(200.0, 400.0) }]
            }
            _ => {
                let half_mm = noise.uniform(350.0, 700.0);
                let count = (wide / half_mm) as usize;
                let wave = |at: usize| Bump {
                    x_mm: (at as f64 + 0.5) * half_mm - 0.5 * wide,
                    y_mm: -0.5 * high,
                    height_mm: if at.is_multiple_of(2) { 0.3 * sign } else { -0.3 * sign },
                    radius_mm: 0.4 * half_mm,
                };
                (0..count).map(wave).collect()
            }
        };
        *board = Board { bumps: [board.bumps.clone(), bumps].concat(), ..board.clone() };
    });
}

#[cfg(test)]
mod tests {
    use super::AsLeft;
    use skimgauge_bench::bench::Bench;

    #[test]
    fn a_room_is_found_as_it_was_left() {
        let bench = Bench::new(5);
        bench.scene(|scene| {
            scene.room.turn(1, -1.25);
            scene.room.turn(1, 0.5);
        });
        let left = AsLeft::of(&bench, 0.0, true);
        assert_eq!(AsLeft::read(&left.to_string()), Ok(left));
        let found = Bench::new(5);
        left.furnish(&found);
        let gap = |bench: &Bench| bench.scene(|scene| scene.room.gap_mm(300.0, -900.0));
        assert!((gap(&found) - gap(&bench)).abs() < 1e-9);
        assert_eq!(AsLeft::read(" "), Ok(AsLeft::default()));
        assert!(AsLeft::read("1 2").is_err());
    }
}
