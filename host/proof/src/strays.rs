//! Taps that belong to nothing: another finger, a ghost near the mark. Dropped and counted.

use crate::taps::Tap;

/// Beyond so many times the pooled median distance from its mark's middle a tap is a stray.
const TIMES: f64 = 5.0;

/// Takes strays out; how many went, by mark. Of a mark's taps the two nearest to its middle always
/// stay: of fewer than three none is known to be astray.
pub(crate) fn drop_strays(taps: &mut Vec<Tap>) -> Vec<u8> {
    let mut far = vec![0.0; taps.len()];
    let mut stays = vec![true; taps.len()];
    let mut pooled = Vec::new();
    let mut groups = Vec::new();
    let off = without_rounds(taps);
    for mark in 0..crate::marks::MARKS as u8 {
        let own: Vec<usize> = (0..taps.len()).filter(|&at| taps[at].mark == mark).collect();
        if own.len() < 3 {
            continue;
        }
        let middle: [f64; 2] =
            std::array::from_fn(|axis| median(own.iter().map(|&at| off[at][axis]).collect()));
        for &at in &own {
            let [x, y] = off[at];
            far[at] = (x - middle[0]).hypot(y - middle[1]);
            pooled.push(far[at]);
        }
        groups.push(own);
    }
    if pooled.is_empty() {
        return Vec::new();
    }
    let limit = TIMES * median(pooled).max(0.05);
    for mut own in groups {
        own.sort_by(|a, b| far[*a].total_cmp(&far[*b]));
        for &at in &own[2..] {
            stays[at] = far[at] <= limit;
        }
    }
    let dropped =
        taps.iter().zip(&stays).filter(|(_, stays)| !**stays).map(|(tap, _)| tap.mark).collect();
    let mut stays = stays.into_iter();
    taps.retain(|_| stays.next().unwrap_or(true));
    dropped
}

/// What a whole round lies off is no stray of its taps: less the median of each round's taps about
/// their marks' middles.
fn without_rounds(taps: &[Tap]) -> Vec<[f64; 2]> {
    let middle = |axis: usize, of: &dyn Fn(&Tap) -> bool| {
        median(taps.iter().filter(|tap| of(tap)).map(|tap| tap.off[axis]).collect())
    };
    let about: Vec<[f64; 2]> = taps
        .iter()
        .map(|tap| {
            std::array::from_fn(|axis| {
                tap.off[axis] - middle(axis, &|other: &Tap| other.mark == tap.mark)
            })
        })
        .collect();
    taps.iter()
        .map(|tap| {
            std::array::from_fn(|axis| {
                let of_round =
                    taps.iter().zip(&about).filter(|(other, _)| other.round == tap.round);
                tap.off[axis] - median(of_round.map(|(_, about)| about[axis]).collect())
            })
        })
        .collect()
}

/// The middle of what is sorted; of an even number the mean of the two.
pub(crate) fn median(mut of: Vec<f64>) -> f64 {
    of.sort_by(f64::total_cmp);
    match of.len() {
        0 => f64::NAN,
        n if n % 2 == 1 => of[n / 2],
        n => 0.5 * (of[n / 2 - 1] + of[n / 2]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_model::Point;

    fn tap(mark: u8, x: f64, y: f64) -> Tap {
        Tap { mark, round: 0, at: Point::mm(0.0, 0.0), off: [x, y] }
    }

    #[test]
    fn the_far_one_goes_and_two_always_stay() {
        let mut taps: Vec<Tap> = (0..5u8)
            .flat_map(|mark| [tap(mark, 1.0, 0.0), tap(mark, -1.0, 0.5), tap(mark, 0.0, -1.0)])
            .collect();
        taps.push(tap(2, 25.0, 0.0));
        assert_eq!(drop_strays(&mut taps), [2]);
        assert_eq!(taps.len(), 15);
        let mut shifted: Vec<Tap> = (0..5u8)
            .flat_map(|mark| (0..3u8).map(move |round| (mark, round)))
            .map(|(mark, round)| Tap {
                round,
                ..tap(mark, 30.0 * f64::from(round.min(1)), 0.3 * f64::from(mark % 2))
            })
            .collect();
        assert!(drop_strays(&mut shifted).is_empty(), "a round that moved is no fifteen strays");
        let mut two = vec![tap(0, 0.0, 0.0), tap(0, 80.0, 0.0)];
        assert!(drop_strays(&mut two).is_empty());
        assert_eq!(two.len(), 2);
    }
}
