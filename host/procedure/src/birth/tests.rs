//! filled in below
