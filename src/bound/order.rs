//! How many distinct frequencies a clique needs.

use super::gaps::Gaps;

/// Links of a clique that need frequencies of their own; like links without a separation may share one.
pub(super) fn distinct(gaps: &Gaps, clique: &[usize]) -> u64 {
    clique.iter().map(|&k| if gaps.between(k, k) > 0 { gaps.sizes[k] as u64 } else { 1 }).sum()
}
