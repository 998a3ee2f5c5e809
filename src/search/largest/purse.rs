//! What a part of the portfolio may spend: a share of the iterations and of the time that are left.

use std::time::{Duration, Instant};

use super::raster::State;

/// What is left to spend.
pub(super) struct Purse {
    iterations: Option<u64>,
    until: Option<Instant>,
}

impl Purse {
    /// A share of what is left: of the time, and of `left` iterations if they are limited.
    pub(super) fn new(state: &State, left: Option<u64>, share: f64) -> Self {
        let now = Instant::now();
        let part = |end: Instant| now + end.saturating_duration_since(now).mul_f64(share);
        Self {
            iterations: left.map(|left| (left as f64 * share) as u64),
            until: state.deadline().map(part),
        }
    }

    /// The same with so many iterations gone.
    pub(super) fn after(&self, gone: u64) -> Self {
        Self { iterations: self.iterations.map(|all| all.saturating_sub(gone)), until: self.until }
    }

    /// How many times this much is left.
    pub(super) fn affords(&self, iterations: u64, time: Duration) -> f64 {
        let by_count = self.iterations.map(|left| left as f64 / iterations.max(1) as f64);
        let by_time = self.until.map(|end| {
            let left = end.saturating_duration_since(Instant::now()).as_secs_f64();
            left / time.as_secs_f64().max(1e-6)
        });
        by_count.unwrap_or(f64::INFINITY).min(by_time.unwrap_or(f64::INFINITY))
    }
}
