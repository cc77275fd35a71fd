//! The head's parts at register level, and a simulated room to stand them in.
pub mod noise;
pub mod part;
