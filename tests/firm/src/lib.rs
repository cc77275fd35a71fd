//! What these tests share: a PostgreSQL of their own, and a simulated fleet of known truth.
#![warn(
    unreachable_pub,
    clippy::self_named_module_files,
    clippy::too_many_lines,
    clippy::wildcard_imports
)]

pub mod crews;
pub mod disk;
pub mod fleet;
pub mod laptop;
pub mod server;
