//! Upper bounds on how many carriers fit, from separation and from counting differences.

use super::marks::Rules;

/// The most carriers that separation alone allows among the free positions. O(length).
pub(super) fn by_separation(rules: Rules, free: &[bool]) -> usize {
    let mut count = 0;
    let mut clear_from = 0;
    for (position, _) in free.iter().enumerate().filter(|&(_, &free)| free) {
        if position >= clear_from {
            count += 1;
            clear_from = position + rules.separation.max(1);
        }
    }
    count
}

/// The most carriers that distinct differences allow within `span` steps, if both guards stand.
///
/// Take all differences of carriers at most `k` apart in order. There are `M = k n - k (k + 1) / 2` of them; those of
/// one step of order sum to at most the span, so all of them to at most `span k (k + 1) / 2`. They are at least the
/// separation and pairwise at least the guards apart, so they sum to at least `M s + g M (M - 1) / 2`. The `n` that
/// keeps this for every `k` is the bound (Erdos and Turan 1941; Lindstrom 1969 for g = s = 1). O(n^2).
pub(super) fn by_differences(rules: Rules, span: usize) -> usize {
    let separation = rules.separation.max(1) as u128;
    let guard = (rules.two_tone.min(rules.three_tone) as u128).min(separation);
    if guard == 0 {
        return usize::MAX;
    }
    let holds = |n: u128| {
        (1..n).all(|k| {
            let differences = k * n - k * (k + 1) / 2;
            differences * separation + guard * differences * (differences - 1) / 2
                <= span as u128 * k * (k + 1) / 2
        })
    };
    // Differences alone stop it: n carriers need more than n steps.
    (1..=span as u128 + 1).find(|&n| !holds(n + 1)).unwrap_or(1) as usize
}

/// How many lengths of pieces and windows are tried.
const LENGTHS: usize = 1_000;

/// The most carriers that distinct differences allow among the free positions, if both guards stand.
///
/// Cut what is free into pieces of at most `w` steps, or slide a window of `w` steps over it. Two carriers of one
/// piece are a difference below `w`, and of those there are few, each at the guard from the next; a window counts a
/// difference `d` in `w - d` of its places. Pairs are fewest where every piece, or place, holds equally many: the `n`
/// whose fewest pairs are no more than there can be for any `w` is the bound (the argument of Erdos and Turan 1941,
/// over the places that are free). O(1,000 * (free runs + pieces)).
pub(super) fn by_occupation(rules: Rules, free: &[bool]) -> usize {
    let separation = rules.separation.max(1);
    let guard = rules.two_tone.min(rules.three_tone).min(separation);
    let runs = runs(free);
    let Some(&(first, _)) = runs.first() else { return 0 };
    if guard == 0 {
        return usize::MAX;
    }
    let span = runs[runs.len() - 1].1 - first;
    (1..=span)
        .step_by(span / LENGTHS + 1)
        .map(|length| {
            // Differences below the length, their number and their places in a window of it.
            let below = if length > separation { (length - 1 - separation) / guard + 1 } else { 0 };
            let places = below * (length - separation.min(length))
                - guard * below.saturating_sub(1) * below / 2;
            let windows = most(turned(&runs, length), places) / length;
            most(pieces(&runs, length), below).min(windows)
        })
        .min()
        .unwrap_or(usize::MAX)
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

/// Maximal runs of free positions, from and below.
fn runs(free: &[bool]) -> Vec<(usize, usize)> {
    let mut at = 0;
    free.chunk_by(|a, b| a == b)
        .filter_map(|run| {
            at += run.len();
            run[0].then_some((at - run.len(), at))
        })
        .collect()
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
    use super::*;
    use crate::search::stream::Stream;

    #[test]
    fn optimal_rulers_keep_the_bound_and_it_is_near() {
        // Lengths: OEIS A003022.
        for (marks, length) in [(5, 11), (10, 55), (15, 151), (20, 283), (27, 553)] {
            let rules = Rules { length: length + 1, separation: 1, two_tone: 1, three_tone: 1 };
            let bound = by_differences(rules, length);
            assert!(
                (marks..=marks + marks / 4 + 1).contains(&bound),
                "{marks} marks, bound {bound}"
            );
        }
    }

    #[test]
    fn separation_counts_free_positions_only() {
        let rules = Rules { length: 10, separation: 3, two_tone: 0, three_tone: 0 };
        let mut free = vec![true; 10];
        assert_eq!(by_separation(rules, &free), 4);
        free[0] = false;
        assert_eq!(by_separation(rules, &free), 3);
        assert_eq!(by_differences(rules, 9), usize::MAX);
    }

    #[test]
    fn scattered_channels_share_their_small_differences() {
        // Nine channels of 240 steps: differences of 14, 18, ..., 238 are 57, four carriers in each make 54.
        let free: Vec<bool> = (0..9 * 500).map(|at| at % 500 < 240).collect();
        let rules = Rules { length: free.len(), separation: 14, two_tone: 4, three_tone: 4 };
        assert_eq!(by_occupation(rules, &free), 36);
        assert!(by_differences(rules, free.len() - 1) > 36);
    }

    #[test]
    fn no_set_is_larger_than_what_occupation_allows() {
        let mut stream = Stream::new(1, 0);
        for _ in 0..300 {
            let share = 1 + stream.below(4);
            let free: Vec<bool> =
                (0..8 + stream.below(7)).map(|_| stream.below(4) < share).collect();
            let guard = 1 + stream.below(3);
            let rules = Rules {
                length: free.len(),
                separation: guard,
                two_tone: guard,
                three_tone: guard + stream.below(2),
            };
            let bound = by_occupation(rules, &free);
            let largest = (0..1_u32 << free.len())
                .map(|set| (0..free.len()).filter(|&at| set >> at & 1 == 1).collect::<Vec<_>>())
                .filter(|set| set.iter().all(|&at| free[at]) && distinct(set, guard))
                .map(|set| set.len())
                .max();
            assert!(largest <= Some(bound), "{largest:?} of {free:?}, bound {bound}");
        }
    }

    /// Whether all differences are so far from each other, and from nothing.
    fn distinct(set: &[usize], guard: usize) -> bool {
        let mut all: Vec<usize> = set
            .iter()
            .flat_map(|b| set.iter().filter(move |&a| a < b).map(move |a| b - a))
            .collect();
        all.push(0);
        all.sort_unstable();
        all.windows(2).all(|pair| pair[1] - pair[0] >= guard)
    }
}
