//! Mixing groups: which classes hear each other's products, and how often each group counts.

use std::collections::BTreeSet;

use super::compile::{Air, Class};
use super::{Degree, Problem, Window};
use crate::error::{Error, Result};

/// The most groups an event may fall into.
const MAX_GROUPS: usize = 4096;

/// Classes that share air and time pairwise and at one instant.
///
/// Groups overlap when a link is on the air in several windows or a zone touches several others.
/// `sign` is the Moebius coefficient of the group in the lattice of all intersections, so that a hit
/// summed over the groups that contain it counts exactly once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Group {
    pub(crate) classes: Vec<usize>,
    pub(crate) sign: i64,
    /// Whether no other group contains this one.
    pub(crate) maximal: bool,
}

/// A set of classes as bits.
type Set = Vec<u64>;

fn contains(set: &Set, i: usize) -> bool {
    set[i / 64] >> (i % 64) & 1 == 1
}

fn subset(a: &Set, b: &Set) -> bool {
    a.iter().zip(b).all(|(x, y)| x & !y == 0)
}

fn members(set: &Set) -> Vec<usize> {
    (0..set.len() * 64).filter(|&i| contains(set, i)).collect()
}

/// All groups in which a product can meet a victim.
pub(super) fn mixing_groups(problem: &Problem, classes: &[Class], air: &Air) -> Result<Vec<Group>> {
    let mixes = |k: usize| problem.profiles[classes[k].profile].mixes;
    let guarded = |k: usize| {
        problem.profiles[classes[k].profile].guards.iter().any(|guard| guard.guard_hz > 0)
    };
    // Fewer than two sources, a victim besides, make no hit.
    let matters = |set: &Set| {
        let inside = members(set);
        let sources: usize =
            inside.iter().filter(|&&k| mixes(k)).map(|&k| classes[k].members.len()).sum();
        let links: usize = inside.iter().map(|&k| classes[k].members.len()).sum();
        sources >= 2 && links >= 3 && inside.iter().any(|&k| guarded(k))
    };

    let width = classes.len().div_ceil(64);
    let slots = time_slots(classes);
    let cliques = zone_cliques(air);
    let mut maximal: BTreeSet<Set> = BTreeSet::new();
    for clique in &cliques {
        for slot in &slots {
            let mut set = vec![0; width];
            for (k, class) in classes.iter().enumerate() {
                let on_air = slot.is_none_or(|t| on_air_at(&class.windows, t));
                if clique.contains(&class.zone) && on_air && (mixes(k) || guarded(k)) {
                    set[k / 64] |= 1 << (k % 64);
                }
            }
            if matters(&set) {
                maximal.insert(set);
            }
        }
    }
    let all: Vec<Set> = maximal.iter().cloned().collect();
    maximal.retain(|set| !all.iter().any(|other| other != set && subset(set, other)));
    Ok(signed(&closure(&maximal, matters)?))
}

/// All intersections of the given sets that matter.
fn closure(maximal: &BTreeSet<Set>, matters: impl Fn(&Set) -> bool) -> Result<Vec<Set>> {
    let mut known = maximal.clone();
    let mut fresh: Vec<Set> = maximal.iter().cloned().collect();
    while let Some(set) = fresh.pop() {
        for other in maximal {
            let meet: Set = set.iter().zip(other).map(|(a, b)| a & b).collect();
            if !known.contains(&meet) && matters(&meet) {
                known.insert(meet.clone());
                fresh.push(meet);
            }
        }
        if known.len() > MAX_GROUPS {
            return Err(Error::TooLarge {
                what: "the pattern of zones and windows".into(),
                why: format!("it makes more than {MAX_GROUPS} different groups of links"),
                remedy: "align windows to common session times, or couple fewer zones".into(),
            });
        }
    }
    let mut sets: Vec<Set> = known.into_iter().collect();
    sets.sort_by_key(|set| {
        (std::cmp::Reverse(set.iter().map(|w| w.count_ones()).sum::<u32>()), set.clone())
    });
    Ok(sets)
}

/// Moebius coefficients over sets ordered from large to small; groups that cancel are dropped.
fn signed(sets: &[Set]) -> Vec<Group> {
    let mut signs: Vec<i64> = Vec::with_capacity(sets.len());
    for (i, set) in sets.iter().enumerate() {
        let above: i64 = (0..i).filter(|&j| subset(set, &sets[j])).map(|j| signs[j]).sum();
        signs.push(1 - above);
    }
    sets.iter()
        .zip(signs)
        .filter(|&(_, sign)| sign != 0)
        .map(|(set, sign)| Group {
            classes: members(set),
            sign,
            maximal: !sets.iter().any(|other| other != set && subset(set, other)),
        })
        .collect()
}

fn on_air_at(windows: &[Window], instant: i64) -> bool {
    windows.is_empty() || windows.iter().any(|w| w.start <= instant && instant < w.end)
}

/// One instant in every span between window edges; `None` when nothing has a window.
fn time_slots(classes: &[Class]) -> Vec<Option<i64>> {
    let starts: BTreeSet<i64> =
        classes.iter().flat_map(|class| class.windows.iter().map(|w| w.start)).collect();
    // Membership changes at ends too, but only shrinks there: starts see every maximal set.
    if starts.is_empty() { vec![None] } else { starts.into_iter().map(Some).collect() }
}

/// Maximal sets of zones that are pairwise fully coupled (Bron and Kerbosch 1973, with pivoting).
fn zone_cliques(air: &Air) -> Vec<Vec<usize>> {
    fn expand(
        air: &Air,
        clique: &mut Vec<usize>,
        candidates: Vec<usize>,
        mut excluded: Vec<usize>,
        out: &mut Vec<Vec<usize>>,
    ) {
        if candidates.is_empty() && excluded.is_empty() {
            out.push(clique.clone());
            return;
        }
        let joined = |a: usize, b: usize| a != b && air.degree(a, b) == Degree::Full;
        let pivot = candidates
            .iter()
            .chain(&excluded)
            .copied()
            .max_by_key(|&p| candidates.iter().filter(|&&c| joined(p, c)).count());
        let mut rest = candidates.clone();
        for zone in candidates {
            if pivot.is_some_and(|p| joined(p, zone)) {
                continue;
            }
            clique.push(zone);
            let near = |list: &[usize]| list.iter().copied().filter(|&z| joined(zone, z)).collect();
            expand(air, clique, near(&rest), near(&excluded), out);
            clique.pop();
            rest.retain(|&z| z != zone);
            excluded.push(zone);
        }
    }
    let mut out = Vec::new();
    expand(air, &mut Vec::new(), (0..air.zones()).collect(), Vec::new(), &mut out);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(bits: &[usize]) -> Set {
        vec![bits.iter().fold(0, |word, bit| word | 1 << bit)]
    }

    #[test]
    fn a_tuple_in_several_groups_counts_once() {
        // Three overlapping days: every subset of links within any day must sum to one.
        let days: BTreeSet<Set> = [set(&[0, 1, 4]), set(&[1, 2, 4]), set(&[0, 2, 3, 4])].into();
        let groups = signed(&closure(&days, |s| s[0] != 0).expect("three days"));
        for tuple in 1_u64..32 {
            let inside = days.iter().any(|day| tuple & !day[0] == 0);
            let count: i64 =
                groups.iter().filter(|g| tuple & !set(&g.classes)[0] == 0).map(|g| g.sign).sum();
            assert_eq!(count, i64::from(inside), "links {tuple:b}");
        }
    }
}
