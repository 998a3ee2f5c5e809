//! Separation packing: how many carriers at least one distance apart a clique's candidates can hold.

use std::collections::BTreeMap;

use super::gaps::Gaps;
use crate::problem::compile::Compiled;

/// Only so many of the heaviest cliques are packed.
const PACKED: usize = 500;

/// Summed priority that must stay unserved: that of the worst cliques without a class in common.
pub(super) fn unserved(problem: &Compiled, gaps: &Gaps, cliques: &[Vec<usize>]) -> u64 {
    let mut packing = Packing { problem, gaps, known: BTreeMap::new() };
    let mut open: Vec<Vec<usize>> = cliques.iter().take(PACKED).cloned().collect();
    let mut sum = 0;
    loop {
        // Each class is counted once, so that the priorities left over add up.
        let worst = open
            .iter()
            .map(|clique| packing.in_clique(clique))
            .max_by_key(|(left, classes)| (*left, std::cmp::Reverse(classes.len())));
        let Some((left, classes)) = worst.filter(|&(left, _)| left > 0) else { return sum };
        sum += left;
        for clique in &mut open {
            clique.retain(|class| !classes.contains(class));
        }
        open.retain(|clique| !clique.is_empty());
    }
}

/// Packings by least distance, with the sizes of unions of candidates that were asked for before.
struct Packing<'p> {
    problem: &'p Compiled,
    gaps: &'p Gaps,
    /// How many fit, by domains and least distance.
    known: BTreeMap<(Vec<usize>, i64), usize>,
}

impl Packing<'_> {
    /// The classes of a clique by falling least distance: every head of that list is a packing of its
    /// own. The most that one must leave over, and its classes.
    fn in_clique(&mut self, clique: &[usize]) -> (u64, Vec<usize>) {
        // A class whose links may share a frequency takes part with one link: more would not be bounded.
        let mut classes: Vec<usize> = clique.to_vec();
        let gaps = self.gaps;
        let tightest = |k: usize, among: &[usize]| {
            let to_others = among.iter().filter(|&&j| j != k).map(|&j| gaps.between(k, j));
            let own = (gaps.sizes[k] > 1).then(|| gaps.between(k, k)).filter(|&hz| hz > 0);
            to_others.chain(own).min().unwrap_or(0)
        };
        let mut worst = (0, Vec::new());
        while !classes.is_empty() {
            let least_hz = classes.iter().map(|&k| tightest(k, &classes)).min().unwrap_or(0);
            if least_hz > 0 {
                let left = self.left_over(&classes, least_hz);
                if left > worst.0 {
                    worst = (left, classes.clone());
                }
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
    fn left_over(&mut self, classes: &[usize], least_hz: i64) -> u64 {
        let (problem, gaps) = (self.problem, self.gaps);
        let mut domains: Vec<usize> = classes.iter().map(|&k| problem.classes[k].domain).collect();
        domains.sort_unstable();
        domains.dedup();
        let fit = *self
            .known
            .entry((domains, least_hz))
            .or_insert_with_key(|(domains, _)| fitting(problem, domains, least_hz));
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
}

/// How many carriers fit `least_hz` apart on the candidates of some domains.
fn fitting(problem: &Compiled, domains: &[usize], least_hz: i64) -> usize {
    let mut union: Vec<i64> = Vec::new();
    for &domain in domains {
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
    fit
}
