//! Every input of the corpora, and a fixed number of changes of them from fixed numbers.

use skimgauge_fuzz_tests::mutate::changed;
use skimgauge_fuzz_tests::{TARGETS, Target, named};
use skimgauge_numbers::Numbers;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// What broke a property is written beside the test binaries, to be put into the corpus.
fn check(target: &Target, input: &[u8], from: &str) {
    if let Err(panic) = catch_unwind(AssertUnwindSafe(|| (target.check)(input))) {
        let kept = std::env::temp_dir().join(format!("broke-{}-{}", target.name, input.len()));
        let _ = std::fs::write(&kept, input);
        eprintln!("{from} breaks a property of {}; the input is {}", target.name, kept.display());
        std::panic::resume_unwind(panic);
    }
}

fn play(name: &str) {
    let target = named(name).expect("a target");
    let corpus = target.corpus().expect("its inputs");
    assert!(corpus.len() >= 5, "{name} has {} inputs", corpus.len());
    for (input, bytes) in &corpus {
        check(target, bytes, &format!("corpora/{name}/{input}"));
    }
    let begun = std::time::Instant::now();
    let mut numbers = Numbers(1);
    for number in 0..target.each_run {
        let from = format!("change {number}");
        check(target, &changed(&mut numbers, &corpus, target.words), &from);
    }
    println!(
        "{name}: {} inputs, {} changes of them in {:.1} s",
        corpus.len(),
        target.each_run,
        begun.elapsed().as_secs_f64()
    );
}

macro_rules! played {
    ($($name:ident)*) => {
        $(#[test] fn $name() { play(stringify!($name)); })*

        #[test]
        fn every_target_is_played() {
            let played = [$(stringify!($name)),*];
            assert_eq!(played.to_vec(), TARGETS.iter().map(|t| t.name).collect::<Vec<_>>());
        }
    };
}

played! { frame recording job_file tables event record flash profile photo }
