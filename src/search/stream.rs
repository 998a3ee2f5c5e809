//! One random stream per (seed, restart), so that threads cannot change a plan.

use rand_core::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// A random stream.
#[derive(Debug, Clone)]
pub(super) struct Stream(Xoshiro256PlusPlus);

impl Stream {
    /// The stream of one restart.
    pub(super) fn new(seed: u64, restart: u64) -> Self {
        // An odd multiplier keeps restarts apart before the generator's own seeding mixes the bits.
        Self(Xoshiro256PlusPlus::seed_from_u64(
            seed.rotate_left(32) ^ restart.wrapping_mul(0x9E37_79B9_7F4A_7C15),
        ))
    }

    /// A whole number below `n`, which is at least 1.
    pub(super) fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.0.next_u64()) * n as u128) >> 64) as usize
    }

    /// A number from 0 up to, not including, 1.
    pub(super) fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// True once in `n` times.
    pub(super) fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    /// One of the items, each equally likely; `None` if there are none.
    pub(super) fn pick<T>(&mut self, items: impl Iterator<Item = T>) -> Option<T> {
        let mut chosen = None;
        for (i, item) in items.enumerate() {
            if self.below(i + 1) == 0 {
                chosen = Some(item);
            }
        }
        chosen
    }

    /// Shuffle in place.
    pub(super) fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}
