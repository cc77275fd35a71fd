//! Flash images of the head: from the ELF that the linker makes to the UF2 that a board's USB drive
//! takes, and back.
//!
//! | module | subject |
//! | --- | --- |
//! | [`elf`] | what an ELF puts into flash and memory |
//! | [`uf2`] | the UF2 format |
//! | [`mark`] | the mark of a head's image in its pieces: its version, its length and checksum |
#![warn(
    unreachable_pub,
    clippy::self_named_module_files,
    clippy::too_many_lines,
    clippy::wildcard_imports
)]

pub mod elf;
pub mod mark;
pub mod uf2;
