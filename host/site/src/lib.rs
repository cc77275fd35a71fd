//! What is decided before the emitter is switched on: set-out, fixings, square and reach. Pure.

pub mod image;
