//! What a record goes through, measured: killed writers, power cuts, flipped bits, many jobs, the
//! largest photo, disks that are full, read-only or gone.
//!
//! `cargo bench -p skimgauge-record --bench hardship [-- PART [COUNT]]` with PART one of `kill`,
//! `power`, `flip`, `many`, `photo`, `disk`; all of them without. `disk` mounts small file systems of its own, which
//! takes root; elsewhere it says that it was left out.

#[path = "../../tests/common/mod.rs"]
mod common;
mod disk;
mod flip;
mod kill;
mod many;
mod photo;
mod power;

fn main() {
    if let Some(path) = std::env::var_os(kill::CHILD) {
        return kill::write_until_killed(path.as_ref());
    }
    if let Some(path) = std::env::var_os(power::CHILD) {
        return power::work(path.as_ref());
    }
    let words: Vec<String> =
        std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    let part = words.first().map(String::as_str);
    let count = words.get(1).and_then(|word| word.parse().ok());
    let runs = |name: &str| part.is_none_or(|part| part == name);
    let mut passed = true;
    if runs("kill") {
        passed &= kill::run(count.unwrap_or(1000));
    }
    if runs("power") {
        passed &= power::run(count.unwrap_or(12));
    }
    if runs("photo") {
        passed &= photo::run();
    }
    if runs("flip") {
        passed &= flip::run(count.unwrap_or(100_000));
    }
    if runs("many") {
        many::run(count.unwrap_or(10_000));
    }
    if runs("disk") {
        passed &= disk::run();
    }
    if !passed {
        std::process::exit(1);
    }
}
