//! Intermodulation-compatible frequency plans for audio links.

pub mod error;
pub mod problem;
pub mod product;
pub mod search;

pub use error::{Error, Fault, Result};
