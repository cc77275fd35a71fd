//! Files, signals and terminal: one face for unix and Windows, so that nothing else asks on which
//! of them it runs.
//!
//! - [`output`]: the one way in which a file that a person named is written: whole or not at all,
//!   never over another;
//! - [`input`]: reading that stops at a limit;
//! - [`terminal`]: the screen that is given back whatever happens, and foreign text made fit to be
//!   shown;
//! - [`signals`]: SIGINT, SIGTERM, SIGHUP and SIGQUIT, or their like on Windows, as the end of the
//!   work;
//! - [`access`]: who may use a device or read a file, and whose account this is;
//! - [`names`]: names that a path may have here and a file may not;
//! - [`mark`]: who is at work, told to the next;
//! - [`port`]: what a port's name leads to, and a port of this program's own making;
//! - [`link`]: a name for a port, removed by whoever made it alone;
//! - [`drives`]: drives that are plugged in.

pub mod access;
pub mod drives;
pub mod input;
pub mod link;
pub mod mark;
pub mod names;
pub mod output;
pub mod port;
pub mod signals;
pub mod terminal;
