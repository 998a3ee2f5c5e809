//! Separation packing: how many carriers at least one distance apart a clique's candidates can hold.

use super::gaps::Gaps;
use crate::problem::compile::Compiled;

/// Only so many of the heaviest cliques are packed.
const PACKED: usize = 100;

/// Summed priority that must stay unserved in the worst clique.
pub(super) fn unserved(problem: &Compiled, gaps: &Gaps, cliques: &[Vec<usize>]) -> u64 {
    cliques.iter().take(PACKED).map(|clique| in_clique(problem, gaps, clique)).max().unwrap_or(0)
}

/// The classes of a clique by falling least distance: every head of that list is a packing of its own.
fn in_clique(problem: &Compiled, gaps: &Gaps, clique: &[usize]) -> u64 {
    // A class whose links may share a frequency takes part with one link: more would not be bounded.
    let mut classes: Vec<usize> = clique.to_vec();
    let tightest = |k: usize, among: &[usize]| {
        let to_others = among.iter().filter(|&&j| j != k).map(|&j| gaps.between(k, j));
        let own = (gaps.sizes[k] > 1).then(|| gaps.between(k, k)).filter(|&hz| hz > 0);
        to_others.chain(own).min().unwrap_or(0)
    };
    let mut worst = 0;
    while !classes.is_empty() {
        let least_hz = classes.iter().map(|&k| tightest(k, &classes)).min().unwrap_or(0);
        if least_hz > 0 {
            worst = worst.max(left_over(problem, gaps, &classes, least_hz));
        }
        // Drop the class that keeps the distance small, and look again.
        let Some(at) = (0..classes.len()).min_by_key(|&i| (tightest(classes[i], &classes), i))
        else {
            break;
        };
        classes.remove(at);
    }
    worst
}

/// The least priority left when only so many fit `least_hz` apart on the union of the candidates.
fn left_over(problem: &Compiled, gaps: &Gaps, classes: &[usize], least_hz: i64) -> u64 {
    let mut domains: Vec<usize> = classes.iter().map(|&k| problem.classes[k].domain).collect();
    domains.sort_unstable();
    domains.dedup();
    let mut union: Vec<i64> = Vec::new();
    for &domain in &domains {
        union.extend_from_slice(&problem.candidates_hz[domain]);
    }
    union.sort_unstable();
    let mut fit = 0;
    let mut next_hz = i64::MIN;
    for &hz in &union {
        if hz >= next_hz {
            fit += 1;
            next_hz = hz + least_hz;
        }
    }
    let mut priorities: Vec<u64> = Vec::new();
    for &k in classes {
        let mut own: Vec<u64> = problem.classes[k]
            .members
            .iter()
            .map(|&link| u64::from(problem.source.links[link].priority))
            .collect();
        own.sort_unstable();
        let counted = if gaps.between(k, k) > 0 { own.len() } else { 1 };
        priorities.extend_from_slice(&own[..counted]);
    }
    priorities.sort_unstable();
    priorities.iter().take(priorities.len().saturating_sub(fit)).sum()
}
