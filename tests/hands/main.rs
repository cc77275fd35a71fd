//! Whole jobs through the real command, played by hands that make a person's mistakes: the wrong
//! adjuster, the wrong way, the wrong station, a key too early, a knock, a pause of an hour. Every
//! job ends, and nothing false is kept: a verdict of within is true everywhere on a fine grid.
//!
//! `cargo test -p skimgauge-tests --test hands`: a few; `SKIMGAUGE_JOBS=200` plays as many.

use skimgauge_jobfile::Job;
use skimgauge_model::Verdict;
use skimgauge_quantity::Mm;
use skimgauge_record::Record;
use skimgauge_record::event::{Body, Phase};
use skimgauge_tests::command::Place;
use std::path::Path;

const EXE: &str = env!("CARGO_BIN_EXE_skimgauge-under-test");

/// So many jobs are played without being asked for more.
const A_FEW: u64 = 6;

/// What became of a job.
struct Played {
    status: i32,
    /// The gap in the simulated room as it is left, low and high, mm.
    truth: (f64, f64),
    mistakes: usize,
}

/// Plays the job with the mistakes of this number.
fn play(number: u64) -> Played {
    let place = Place::new(EXE, skimgauge_jobfile::demo_job());
    let (seed, mistakes) = ((100 + number).to_string(), number.to_string());
    let args = ["demo", "--plain", "--record", "record.sqlite", "--seed", &seed];
    let output = place.run(args.into_iter().chain(["--mistakes", &mistakes]));
    let out = String::from_utf8_lossy(&output.stdout).into_owned();
    let err = String::from_utf8_lossy(&output.stderr).into_owned();
    let status = output.status.code();
    let last: Vec<&str> = out.lines().rev().take(12).collect();
    let status = status
        .filter(|status| [0, 1, 3].contains(status))
        .unwrap_or_else(|| panic!("job {number} ended with {status:?}: {err}{last:#?}"));
    let told =
        out.lines().find_map(|line| line.strip_prefix("In the simulated room the gap is truly "));
    let told = told.unwrap_or_else(|| panic!("job {number} does not tell the truth: {last:#?}"));
    let numbers: Vec<f64> = told
        .split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-' || c == '−'))
        .filter_map(|word| word.replace('−', "-").trim_end_matches('.').parse().ok())
        .collect();
    let [low, high] = numbers[..] else { panic!("job {number}: {told}") };
    is_kept(number, &place.record(), (low, high), &out);
    let instead = ["instead", "too early", "knocks", "was told", "step back", "further", "an hour"];
    let mistakes =
        out.lines().filter(|line| instead.iter().any(|part| line.contains(part))).count();
    Played { status, truth: (low, high), mistakes }
}

/// The record is whole, and no verdict of within in it, as the installation is left, is false.
fn is_kept(number: u64, record: &Path, (low, high): (f64, f64), out: &str) {
    let record = Record::open(record).expect("the record opens");
    let jobs = record.jobs().expect("it lists its jobs");
    let history = record.job(&jobs[0].name).expect("the job is there");
    assert!(history.broken.is_none(), "job {number}: {:?}", history.broken);
    let last = history.events.iter().rev().find_map(|event| match &event.body {
        Body::Judged(judged) => Some(judged),
        _ => None,
    });
    let band = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap().bands.gap;
    if let Some(judged) = last.filter(|judged| judged.phase == Phase::AsLeft)
        && judged.verdict == Verdict::Within
    {
        let tail: Vec<&str> = out.lines().rev().take(60).collect();
        assert!(
            band.contains(Mm(low)) && band.contains(Mm(high)),
            "job {number} is left within by its record, and truly {low} to {high} mm: {tail:#?}"
        );
    }
}

#[test]
fn jobs_played_with_a_persons_mistakes_end_and_keep_nothing_false() {
    let jobs: u64 =
        std::env::var("SKIMGAUGE_JOBS").ok().and_then(|jobs| jobs.parse().ok()).unwrap_or(A_FEW);
    let played: Vec<Played> = std::thread::scope(|scope| {
        let share = |share: u64| {
            scope.spawn(move || (share..jobs).step_by(2).map(play).collect::<Vec<Played>>())
        };
        let shares = [share(0), share(1)];
        shares.into_iter().flat_map(|share| share.join().expect("every job ends")).collect()
    });
    let count = |status: i32| played.iter().filter(|one| one.status == status).count();
    let mistakes: usize = played.iter().map(|one| one.mistakes).sum();
    let truly = played.iter().filter(|one| one.truth.0 >= 1.0 && one.truth.1 <= 4.0).count();
    println!(
        "{jobs} jobs, {mistakes} mistakes: {} within, {} outside, {} too close to call; {truly} truly in the band",
        count(0),
        count(1),
        count(3)
    );
    assert!(mistakes as u64 >= jobs, "{mistakes} mistakes in {jobs} jobs");
    assert!(truly as u64 * 10 >= jobs * 8, "{truly} of {jobs} are left in the band");
}
