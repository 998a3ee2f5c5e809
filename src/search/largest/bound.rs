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
    let Some(guard) = common_guard(rules).map(|guard| guard as u128) else { return usize::MAX };
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

/// How far from each other all differences are, if both guards stand.
pub(super) fn common_guard(rules: Rules) -> Option<usize> {
    let guard = rules.two_tone[0].min(rules.three_tone).min(rules.separation.max(1));
    (guard > 0).then_some(guard)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn optimal_rulers_keep_the_bound_and_it_is_near() {
        // Lengths: OEIS A003022.
        for (marks, length) in [(5, 11), (10, 55), (15, 151), (20, 283), (27, 553)] {
            let rules =
                Rules { length: length + 1, separation: 1, two_tone: [1, 0, 0, 0], three_tone: 1 };
            let bound = by_differences(rules, length);
            assert!(
                (marks..=marks + marks / 4 + 1).contains(&bound),
                "{marks} marks, bound {bound}"
            );
        }
    }

    #[test]
    fn separation_counts_free_positions_only() {
        let rules = Rules { length: 10, separation: 3, two_tone: [0; 4], three_tone: 0 };
        let mut free = vec![true; 10];
        assert_eq!(by_separation(rules, &free), 4);
        free[0] = false;
        assert_eq!(by_separation(rules, &free), 3);
        assert_eq!(by_differences(rules, 9), usize::MAX);
    }
}
