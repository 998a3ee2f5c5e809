//! Intermodulation-compatible frequency plans for audio links.

pub mod check;
pub mod error;
pub mod problem;
pub mod product;
pub mod search;
pub mod table;

pub use error::{Error, Fault, Result};
