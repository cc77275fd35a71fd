//! Minutes of a day of watching: what `cargo run --release -p skimgauge-tests --bin day` does at
//! length. Alone in its program: it counts what the whole of it holds.

#[path = "../src/bin/day/counted.rs"]
mod counted;
#[path = "../src/bin/day/head.rs"]
mod head;
#[path = "../src/bin/day/looks.rs"]
mod looks;
#[path = "../src/bin/day/watched.rs"]
mod watched;

#[test]
#[ignore = "not in every run yet: cargo test -p skimgauge-tests --test endurance -- --ignored"]
fn memory_and_open_files_stay_as_they_were_while_a_head_comes_and_goes() {
    let day = watched::day(60_000, 12, 40).expect("the day ends with its last reading");
    assert_eq!(day.wrong(), Vec::<String>::new(), "{day}");
}
