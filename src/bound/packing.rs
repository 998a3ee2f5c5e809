//! Packing: how many carriers candidates can hold, a distance apart in a clique, or under guards in a mixing group.

use std::collections::BTreeMap;

use super::by_occupation;
use super::gaps::Gaps;
use crate::frequency::gcd;
use crate::problem::Weight;
use crate::problem::compile::Compiled;

/// Only so many of the heaviest cliques are packed.
const PACKED: usize = 500;

/// Summed priority that must stay unserved: that of the worst cliques and groups without a class in common.
pub(super) fn unserved(problem: &Compiled, gaps: &Gaps, cliques: &[Vec<usize>]) -> u64 {
    if gaps.len() == 0 {
        return 0;
    }
    let guards_hz = problem.classes.iter().map(|class| common_guard_hz(problem, class.profile));
    let mut packing =
        Packing { problem, gaps, guards_hz: guards_hz.collect(), known: BTreeMap::new() };
    let groups = problem.groups.iter().filter(|group| group.maximal);
    let mut open: Vec<Packed> = cliques
        .iter()
        .take(PACKED)
        .map(|clique| (clique.clone(), false))
        .chain(groups.map(|group| (group.classes.clone(), true)))
        .map(|(classes, mixing)| packing.packed(classes, mixing))
        .collect();
    let mut sum = 0;
    loop {
        // Each class is counted once, so that the priorities left over add up.
        let worst = open
            .iter()
            .max_by_key(|packed| (packed.left, std::cmp::Reverse(packed.counted.len())))
            .filter(|packed| packed.left > 0);
        let Some(Packed { left, counted, .. }) = worst.cloned() else { return sum };
        sum += left;
        for packed in &mut open {
            let before = packed.classes.len();
            packed.classes.retain(|class| !counted.contains(class));
            if packed.classes.len() < before {
                *packed = packing.packed(std::mem::take(&mut packed.classes), packed.mixing);
            }
        }
    }
}

/// Classes that are apart pairwise, or in one air, and the head of them that leaves most over.
#[derive(Debug, Clone)]
struct Packed {
    classes: Vec<usize>,
    mixing: bool,
    /// Summed priority that the head leaves over.
    left: u64,
    counted: Vec<usize>,
}

/// What carriers of a profile keep from all third-order products of each other, whoever is hit; 0 for nothing.
fn common_guard_hz(problem: &Compiled, profile: usize) -> i64 {
    let profile = &problem.source.profiles[profile];
    let hard_hz = |letters: &[i32]| {
        let guards = profile.guards.iter().filter(|guard| guard.weight == Weight::Hard);
        let of_form = guards.filter(|guard| guard.form.coefficients() == letters);
        of_form.map(|guard| guard.guard_hz).max().unwrap_or(0)
    };
    if profile.mixes { hard_hz(&[2, -1]).min(hard_hz(&[1, 1, -1])) } else { 0 }
}

/// Packings, with the sizes of unions of candidates that were asked for before.
struct Packing<'p> {
    problem: &'p Compiled,
    gaps: &'p Gaps,
    /// Third-order guard of every class.
    guards_hz: Vec<i64>,
    /// How many fit, by domains, least distance and guard.
    known: BTreeMap<(Vec<usize>, i64, i64), usize>,
}

impl Packing<'_> {
    /// The classes by falling guard and least distance: every head of that list is a packing of its own.
    /// The most that one must leave over.
    fn packed(&mut self, classes: Vec<usize>, mixing: bool) -> Packed {
        // A class whose links may share a frequency takes part with one link: more would not be bounded.
        let mut head = classes.clone();
        let gaps = self.gaps;
        let tightest = |k: usize, among: &[usize]| {
            let to_others = among.iter().filter(|&&j| j != k).map(|&j| gaps.between(k, j));
            let own = (gaps.sizes[k] > 1).then(|| gaps.between(k, k)).filter(|&hz| hz > 0);
            to_others.chain(own).min().unwrap_or(0)
        };
        let (mut left, mut counted) = (0, Vec::new());
        while !head.is_empty() {
            let guard_of = |k: usize| if mixing { self.guards_hz[k] } else { 0 };
            let rules: Vec<(i64, i64)> =
                head.iter().map(|&k| (guard_of(k), tightest(k, &head))).collect();
            let guard_hz = rules.iter().map(|rule| rule.0).min().unwrap_or(0);
            let least_hz = rules.iter().map(|rule| rule.1).min().unwrap_or(0);
            if least_hz > 0 {
                let over = self.left_over(&head, least_hz, guard_hz);
                if over > left {
                    (left, counted) = (over, head.clone());
                }
            }
            // Drop the class that keeps the guard or the distance small, and look again.
            let at = (0..head.len()).min_by_key(|&i| (rules[i], i)).unwrap_or(0);
            head.remove(at);
        }
        Packed { classes, mixing, left, counted }
    }

    /// The least priority left when only so many fit under these rules on the union of the candidates.
    fn left_over(&mut self, classes: &[usize], least_hz: i64, guard_hz: i64) -> u64 {
        let (problem, gaps) = (self.problem, self.gaps);
        let mut domains: Vec<usize> = classes.iter().map(|&k| problem.classes[k].domain).collect();
        domains.sort_unstable();
        domains.dedup();
        let fit = *self
            .known
            .entry((domains, least_hz, guard_hz))
            .or_insert_with_key(|(domains, ..)| fitting(problem, domains, least_hz, guard_hz));
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

/// How many carriers fit `least_hz` apart on the candidates of some domains, differences `guard_hz` apart.
fn fitting(problem: &Compiled, domains: &[usize], least_hz: i64, guard_hz: i64) -> usize {
    let mut union: Vec<i64> = Vec::new();
    for &domain in domains {
        union.extend_from_slice(&problem.candidates_hz[domain]);
    }
    union.sort_unstable();
    union.dedup();
    let mut fit = 0;
    let mut next_hz = i64::MIN;
    for &hz in &union {
        if hz >= next_hz {
            fit += 1;
            next_hz = hz + least_hz;
        }
    }
    let step_hz = union.windows(2).fold(0, |step, pair| gcd(step, pair[1] - pair[0]));
    if guard_hz == 0 || step_hz == 0 {
        return fit;
    }
    let steps = |hz: i64| (hz as u64).div_ceil(step_hz as u64) as usize;
    let positions: Vec<usize> =
        union.iter().map(|hz| ((hz - union[0]) / step_hz) as usize).collect();
    fit.min(by_occupation(steps(least_hz), steps(guard_hz), &positions))
}
