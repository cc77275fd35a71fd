//! Writers killed at random moments: a short run of what `cargo bench --bench hardship -- kill`
//! does at length.

mod common;
#[path = "../benches/hardship/kill.rs"]
mod kill;

// No test harness: the process that is killed is this one, started again.
fn main() {
    match std::env::var_os(kill::CHILD) {
        Some(path) => kill::write_until_killed(path.as_ref()),
        None => assert!(kill::run(30), "see above"),
    }
}
