//! Chances and shares as they are said: what rounds to nothing is not said to be nothing, nor what
//! rounds to all to be all.

use crate::{Sentence, count, percent, say};

/// Below this a whole percent says too much.
const ONE_PERCENT: f64 = 0.01;

/// A share of one in whole percent: `42 %`, `under 1 %`.
pub fn share(of_one: f64) -> Sentence {
    if of_one > 0.0 && of_one < ONE_PERCENT { under_one() } else { say!("{}", percent(of_one)) }
}

/// A bound on a chance, never rounded below it: `up to 19 %`, `under 1 %`.
pub fn at_most(chance: f64) -> Sentence {
    // No chance is known to this.
    const SLACK: f64 = 1e-9;
    if chance < ONE_PERCENT {
        return under_one();
    }
    say!("up to {}", percent((100.0 * (chance - SLACK)).ceil() / 100.0))
}

fn under_one() -> Sentence {
    say!("under {}", percent(ONE_PERCENT))
}

/// How often something is to be expected: `8 times in 10`.
pub fn in_ten(chance: f64) -> Sentence {
    match (10.0 * chance).round().clamp(0.0, 10.0) as i64 {
        0 => say!("less than once in 20"),
        10 => say!("19 times in 20 or more"),
        times => say!("{} in 10", count(times, "time")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Style;

    #[test]
    fn nothing_is_said_to_be_sure_that_only_rounds_to_it() {
        let text = |said: Sentence| said.text(Style::default());
        for (chance, says) in [
            (0.0, "under 1 %"),
            (1e-9, "under 1 %"),
            (0.0099, "under 1 %"),
            (0.01, "up to 1 %"),
            (0.07, "up to 7 %"),
            (0.19, "up to 19 %"),
            (0.191, "up to 20 %"),
            (1.0, "up to 100 %"),
        ] {
            assert_eq!(text(at_most(chance)), says, "{chance}");
        }
        for (of_one, says) in [(0.0, "0 %"), (1e-9, "under 1 %"), (0.42, "42 %")] {
            assert_eq!(text(share(of_one)), says, "{of_one}");
        }
        for (chance, says) in [
            (0.01, "less than once in 20"),
            (0.06, "1 time in 10"),
            (0.8, "8 times in 10"),
            (0.96, "19 times in 20 or more"),
        ] {
            assert_eq!(text(in_ten(chance)), says, "{chance}");
        }
    }
}
