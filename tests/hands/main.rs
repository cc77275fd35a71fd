//! Whole jobs through the real command, played by hands that make a person's mistakes: the wrong
//! adjuster, the wrong way, the wrong station, a key too early, a knock, a pause of an hour after
//! which the emitter was pushed; ended half way by a quit or a crash and gone on with from the
//! record; on boards of other kinds than the method was made from. Every job ends, and nothing false
//! is kept: a verdict of within is true everywhere on a fine grid.
//!
//! `cargo test -p skimgauge-tests --test hands`: a few, in which the mistakes that
//! matter most are made; `SKIMGAUGE_JOBS=200` plays as many, with every kind; `SKIMGAUGE_JOBS=168..169`
//! that one.

mod job;

use job::{Kind, Played, play};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Jobs that are played without being asked for more.
const A_FEW: [u64; 6] = [0, 1, 2, 3, 4, 5];

#[test]
fn jobs_played_with_a_persons_mistakes_end_and_keep_nothing_false() {
    let jobs: Vec<u64> = std::env::var("SKIMGAUGE_JOBS").map_or(A_FEW.to_vec(), |asked| {
        let (from, to) = asked.split_once("..").unwrap_or(("0", &asked));
        let number = |text: &str| text.parse::<u64>().expect("SKIMGAUGE_JOBS: 200, or 160..170");
        (number(from)..number(to)).collect()
    });
    let next = AtomicUsize::new(0);
    let mine = || {
        let following = || jobs.get(next.fetch_add(1, Ordering::Relaxed));
        std::iter::from_fn(following).map(|job| play(*job)).collect::<Vec<Played>>()
    };
    let played: Vec<Played> = std::thread::scope(|scope| {
        let shares = [scope.spawn(mine), scope.spawn(mine)];
        shares.into_iter().flat_map(|share| share.join().expect("every job ends")).collect()
    });
    let count = |status: i32| played.iter().filter(|one| one.status == status).count();
    let mut made: BTreeMap<Kind, usize> = BTreeMap::new();
    for kind in played.iter().flat_map(|one| &one.mistakes) {
        *made.entry(*kind).or_default() += 1;
    }
    let mistakes: usize = made.values().sum();
    let truly = played.iter().filter(|one| one.is_truly_within()).count();
    let usual = || played.iter().filter(|one| !one.is_odd_board);
    let usually = usual().filter(|one| one.is_truly_within()).count();
    println!(
        "{} jobs, {mistakes} mistakes: {} within, {} outside, {} too close to call; {truly} truly in the band",
        played.len(),
        count(0),
        count(1),
        count(3)
    );
    println!("what was done wrong, and how often: {made:?}");
    // Boards of other kinds may not be met by any setting; that is then said.
    assert!(usually * 10 >= usual().count() * 8, "{usually} of {} in the band", usual().count());
    // What a step of few jobs must hold in any case; of many, each kind.
    let certain = [Kind::Turned, Kind::Elsewhere, Kind::Early, Kind::Quit, Kind::Crashed];
    let kinds = match jobs.len() {
        40.. => &Kind::ALL[..],
        6.. => &certain[..],
        _ => &[],
    };
    for kind in kinds {
        assert!(made.contains_key(kind), "nobody {kind:?}: {made:?}");
    }
}
