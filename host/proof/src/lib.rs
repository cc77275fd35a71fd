//! What taps and strokes on the display itself say of its touch.
//!
//! Pure: a [`raw::Proof`] holds what was asked and what the browser told, with its times; from it
//! [`judge::judge`] works everything out, again and again the same. No clock, port, file or screen.
//!
//! | part | what |
//! | --- | --- |
//! | [`limits`] | what is allowed, by tool, and how surely a hand aims |
//! | [`marks`], [`plan`] | where the marks are, what is asked in which order |
//! | [`raw`] | the record of a proof: asked, contacts, the window |
//! | [`map`] | offset, scale, turn and shear as a fitted map, with covariance; marks that bend it |
//! | [`rates`] | exact bounds of rates and shares |
//! | [`steady`], [`strokes`], [`quiet`] | holds, drawn lines, hands off |
//! | [`leaf`] | bounds of the gap by a strip of known thickness, and the head's gaps against them |
//! | [`judge`] | the verdict, why, what would settle it, and the cause |
//! | [`finger`] | a simulated finger on a display with a chosen ailment: practice, tests |
//!
//! Terms (accuracy on a grid, repeatability, linearity) are those of IEC 62908-12-10, which gives
//! methods and leaves limits to agreement. What a hand cannot tell: the bias of one person's aim
//! from an offset of the display. It is carried as an uncertainty of type B (JCGM 100:2008, 4.3).

pub mod finger;
pub mod judge;
pub mod leaf;
pub mod limits;
pub mod map;
pub mod marks;
pub mod plan;
pub mod quiet;
pub mod rates;
pub mod raw;
pub mod steady;
mod strays;
pub mod strokes;
mod taps;
