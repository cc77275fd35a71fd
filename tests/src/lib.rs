//! What the tests of whole commands share.
//!
//! - [`plugged`]: a simulated head at a port of this computer, that can be unplugged, silenced,
//!   garbled;
//! - [`command`]: the `skimgauge` command at work, its lines as they come, its ending;
//! - [`lines`]: the form of `watch --json`, held field by field;
//! - [`terminal`]: a terminal of the tests' own, that says what a command did to it;
//! - [`gauge`]: hands that do before the gauge what `zero` asks for;
//! - [`stream`]: a recording of as many readings as wanted, for memory and speed.
//!
//! These modules belong to tests: what goes wrong in them ends the test with a panic that says
//! what.

pub mod command;
pub mod drawn;
pub mod gauge;
pub mod lines;
pub mod plugged;
pub mod stream;
#[cfg(unix)]
pub mod terminal;
