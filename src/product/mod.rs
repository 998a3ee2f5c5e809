//! Intermodulation products: their forms, and the exact hits of a finished set.

mod form;

pub use form::Form;
