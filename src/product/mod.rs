//! Intermodulation products: their forms, and the exact hits of a finished set.

mod buckets;
mod carriers;
mod counts;
mod form;
mod halves;
mod hits;
mod pair_sums;
mod series;

pub use counts::{hit_counts, hit_counts_by_victim};
pub use form::Form;
pub use hits::{Hit, hits, hits_by_victim};
