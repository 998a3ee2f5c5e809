//! Difference counting where only some positions are free: how many carriers third-order guards let in.

/// How many lengths of pieces and windows are tried.
const LENGTHS: usize = 1_000;

/// The most carriers on the given positions, ascending, with no difference of two below `separation` and no two
/// differences nearer than `guard`.
///
/// Hits 2A-B and A+B-C are just differences that near. Cut the positions into pieces of at most `w` steps, or slide a
/// window of `w` steps over them. Two carriers of one piece are a difference below `w`, and of those there are few,
/// each at the guard from the next; a window counts a difference `d` in `w - d` of its places. Pairs are fewest where
/// every piece, or place, holds equally many: the `n` whose fewest pairs are no more than there can be for any `w` is
/// the bound (the argument of Erdos and Turan 1941, over the places that are free). O(1,000 * (runs + pieces)).
pub(crate) fn by_occupation(separation: usize, guard: usize, positions: &[usize]) -> usize {
    let separation = separation.max(1);
    let guard = guard.min(separation);
    let runs = runs(positions);
    let (Some(&(first, _)), Some(&(_, end))) = (runs.first(), runs.last()) else { return 0 };
    if guard == 0 {
        return positions.len();
    }
    let span = end - first;
    (1..=span)
        .step_by(span / LENGTHS + 1)
        .map(|length| {
            // Differences below the length, and in how many places of a window they are seen.
            let room = length.saturating_sub(separation);
            let below = room.div_ceil(guard);
            let places = below * room - guard * below * below.saturating_sub(1) / 2;
            let windows = most(turned(&runs, length), places) / length;
            most(pieces(&runs, length), below).min(windows)
        })
        .min()
        .unwrap_or(0)
}

/// The most that `holders` may hold in all, with so many pairs in one holder at most.
fn most(holders: usize, pairs: usize) -> usize {
    // Equal shares of `each`; one more in a holder makes `each` pairs more.
    let mut each = 1;
    while holders * each * (each + 1) / 2 <= pairs {
        each += 1;
    }
    holders * each + (pairs - holders * each * (each - 1) / 2) / each
}

/// Maximal runs of positions one step apart, from and below.
fn runs(positions: &[usize]) -> Vec<(usize, usize)> {
    positions.chunk_by(|a, b| b - a <= 1).map(|run| (run[0], run[run.len() - 1] + 1)).collect()
}

/// How few pieces of so many positions cover the runs.
fn pieces(runs: &[(usize, usize)], length: usize) -> usize {
    let mut covered = 0;
    let mut count = 0;
    for &(from, below) in runs {
        let from = covered.max(from);
        if below > from {
            let more = (below - from).div_ceil(length);
            count += more;
            covered = from + more * length;
        }
    }
    count
}

/// In how many places a window of so many positions has a free one.
fn turned(runs: &[(usize, usize)], length: usize) -> usize {
    let inside: usize = runs.iter().map(|(from, below)| below - from - 1).sum();
    let between: usize = runs.windows(2).map(|pair| (pair[1].0 + 1 - pair[0].1).min(length)).sum();
    inside + between + length
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn scattered_channels_share_their_small_differences() {
        // Nine channels of 240 steps: differences of 14, 18, ..., 238 are 57, four carriers in each make 54.
        let free: Vec<usize> = (0..9 * 500).filter(|at| at % 500 < 240).collect();
        assert_eq!(by_occupation(14, 4, &free), 36);
        let clear: Vec<usize> = (0..9 * 500).collect();
        assert!(by_occupation(14, 4, &clear) > 36);
    }

    proptest! {
        #[test]
        fn no_set_is_larger_than_what_occupation_allows(
            open in proptest::collection::vec(0..4, 8..28),
            share in 1..5,
            guard in 1_usize..4,
            wider in 0_usize..3,
        ) {
            let free: Vec<usize> =
                (0..open.len()).filter(|&at| open[at] < share).take(13).collect();
            let separation = guard + wider;
            let bound = by_occupation(separation, guard, &free);
            let largest = (0..1_u32 << free.len())
                .map(|set| free.iter().enumerate().filter(move |&(i, _)| set >> i & 1 == 1))
                .map(|set| set.map(|(_, &at)| at).collect::<Vec<_>>())
                .filter(|set| distinct(set, separation, guard))
                .map(|set| set.len())
                .max();
            prop_assert!(largest <= Some(bound));
        }
    }

    /// Whether all differences are so far from nothing, and from each other.
    fn distinct(set: &[usize], separation: usize, guard: usize) -> bool {
        let mut all: Vec<usize> = set
            .iter()
            .flat_map(|b| set.iter().filter(move |&a| a < b).map(move |a| b - a))
            .collect();
        all.sort_unstable();
        all.first().is_none_or(|&least| least >= separation)
            && all.windows(2).all(|pair| pair[1] - pair[0] >= guard)
    }
}
