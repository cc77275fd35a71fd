//! What a person sees in a terminal: the screens, and the plain lines.

// First of all: what every module prints goes through one place, which lets nothing steer the
// terminal.
#[macro_use]
mod say;

pub mod constants;
pub mod json;
pub mod keys;
pub mod plain;
#[cfg(test)]
pub(crate) mod samples;
pub mod screen;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod urgency;
