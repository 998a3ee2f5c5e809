//! The sums of all pairs of carriers, indexed so that those in a window are counted in O(1).

use rayon::prelude::*;

use super::buckets::Buckets;

/// The sums `u[i] + u[j]`, `i < j`, of whole numbers from 0 upwards.
#[derive(Debug)]
pub(super) enum PairSums {
    /// On a raster whose sums are few enough: at `s`, how many sums lie below `s`.
    Counters(Vec<u64>),
    /// Otherwise the sums themselves, ascending, and an index over them.
    Sorted(Vec<i64>, Buckets),
}

/// The most counters kept when there is one for every sum.
const MAX_COUNTERS: i128 = 1 << 24;

/// As many counters as are always worth their memory.
const FEW_COUNTERS: i128 = 1 << 16;

impl PairSums {
    /// How many sums must be kept one by one: none where counters do.
    pub(super) fn kept(carriers: usize, span: i64) -> u128 {
        let pairs = carriers as u128 * carriers.saturating_sub(1) as u128 / 2;
        let counters = 2 * i128::from(span) + 2;
        let dense =
            counters <= MAX_COUNTERS && (counters <= FEW_COUNTERS || counters as u128 <= 4 * pairs);
        if dense { 0 } else { pairs }
    }

    /// O(n^2) with counters, O(n^2 log n) otherwise.
    pub(super) fn new(units: &[i64], span: i64) -> Self {
        if Self::kept(units.len(), span) > 0 {
            let mut sums: Vec<i64> = (0..units.len())
                .into_par_iter()
                .flat_map_iter(|i| units[i + 1..].iter().map(move |b| units[i] + b))
                .collect();
            sums.par_sort_unstable();
            let buckets = Buckets::new(sums.iter().copied());
            return Self::Sorted(sums, buckets);
        }
        let mut below = vec![0_u64; 2 * span as usize + 2];
        for (i, a) in units.iter().enumerate() {
            for b in &units[i + 1..] {
                below[(a + b + 1) as usize] += 1;
            }
        }
        let mut total = 0;
        for count in &mut below {
            total += *count;
            *count = total;
        }
        Self::Counters(below)
    }

    /// How many sums lie in `low..=high`. O(1) with counters, as [`Buckets::below`] otherwise.
    pub(super) fn within(&self, low: i64, high: i64) -> u64 {
        self.below(high + 1) - self.below(low)
    }

    fn below(&self, sum: i64) -> u64 {
        match self {
            Self::Counters(below) => below[(sum.max(0) as usize).min(below.len() - 1)],
            Self::Sorted(sums, buckets) => buckets.below(sum, sums, |&s| s) as u64,
        }
    }
}
