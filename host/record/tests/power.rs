//! Power cut at every write: a short run of what `cargo bench --bench hardship -- power` does at
//! length.

mod common;
#[path = "../benches/hardship/power.rs"]
mod power;

// No test harness: the process whose writes are listened to is this one, started again.
fn main() {
    match std::env::var_os(power::CHILD) {
        Some(path) => power::work(path.as_ref()),
        None => assert!(power::run(3), "see above"),
    }
}
