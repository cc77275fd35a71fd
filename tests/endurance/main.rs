//! Minutes of a day of watching, as `cargo run --release -p skimgauge-tests --bin day` does at
//! length: a program of its own, which counts what the whole of it holds.

use std::process::{Command, Stdio};

#[test]
fn memory_and_open_files_stay_as_they_were_while_a_head_comes_and_goes() {
    let day = Command::new(env!("CARGO_BIN_EXE_day"))
        .args(["60000", "12", "40"])
        .stdout(Stdio::null())
        .output()
        .expect("it starts");
    let said = String::from_utf8_lossy(&day.stderr);
    println!("{said}");
    assert!(day.status.success(), "{said}");
}
