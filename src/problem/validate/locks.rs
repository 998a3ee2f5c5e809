//! Locks that contradict each other: two fixed carriers that a hard rule keeps apart.

use std::collections::{BTreeMap, HashMap};

use super::faults::Faults;
use super::ordered;
use crate::problem::{Degree, Problem, Relation, Weight, Window};

/// A locked carrier, and when it is on the air; ordered by frequency.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Locked {
    hz: i64,
    link: usize,
    windows: Vec<Window>,
}

/// Checks every two locked links that a hard rule joins.
pub(super) fn check(problem: &Problem, faults: &mut Faults) {
    check_separations(problem, faults);
    for (i, pair) in problem.pairs.iter().enumerate() {
        let locked = |link: usize| problem.links.get(link).and_then(|link| link.locked_hz);
        let (Some(a), Some(b), Weight::Hard) = (locked(pair.a), locked(pair.b), pair.weight) else {
            continue;
        };
        let distance = a.abs_diff(b);
        let (broken, asked) = match pair.relation {
            // A negative distance is reported as such; nothing breaks it.
            Relation::AtLeast(hz) => (hz > 0 && distance < hz.unsigned_abs(), ("at least", hz)),
            Relation::Exactly(hz) => (hz >= 0 && distance != hz.unsigned_abs(), ("exactly", hz)),
        };
        if broken && pair.a != pair.b {
            faults.push(
                format!("pairs[{i}]"),
                format!(
                    "contradictory locks: {:?} and {:?} are locked {distance} Hz apart, {} {} Hz \
                     asked",
                    problem.links[pair.a].id, problem.links[pair.b].id, asked.0, asked.1
                ),
                "move or release one of the two locks, or make the rule soft",
            );
        }
    }
}

fn check_separations(problem: &Problem, faults: &mut Faults) {
    let (profiles, zones) = (problem.profiles.len(), problem.zones.len());
    let mut by_zone: BTreeMap<usize, Vec<Locked>> = BTreeMap::new();
    for (i, link) in problem.links.iter().enumerate() {
        // A link that points nowhere has its own fault and no separation to ask for.
        if let (Some(hz), true) = (link.locked_hz, link.profile < profiles && link.zone < zones) {
            let mut windows = link.windows.clone();
            windows.sort_unstable();
            by_zone.entry(link.zone).or_default().push(Locked { hz, link: i, windows });
        }
    }
    for locked in by_zone.values_mut() {
        locked.sort_unstable();
    }
    let special: HashMap<_, _> = problem
        .separations
        .iter()
        .map(|rule| (ordered(rule.a, rule.b), rule.separation_hz))
        .collect();
    let own = problem.profiles.iter().map(|profile| profile.separation_hz);
    let widest = own.chain(special.values().copied()).max().unwrap_or(0).max(0);

    let against = |first: &Locked, others: &[Locked], faults: &mut Faults| {
        contradictions(problem, &special, widest, first, others, faults);
    };
    for locked in by_zone.values() {
        for (k, first) in locked.iter().enumerate() {
            against(first, &locked[k + 1..], faults);
        }
    }
    for coupling in &problem.couplings {
        let (a, b) = (by_zone.get(&coupling.a), by_zone.get(&coupling.b));
        let (Some(a), Some(b)) = (a, b) else { continue };
        if coupling.degree >= Degree::Separation && coupling.a != coupling.b {
            let (few, many) = if a.len() <= b.len() { (a, b) } else { (b, a) };
            for first in few {
                against(first, many, faults);
            }
        }
    }
}

/// Reports the carriers of `others` that stand too near to `first` and share time with it.
fn contradictions(
    problem: &Problem,
    special: &HashMap<(usize, usize), i64>,
    widest: i64,
    first: &Locked,
    others: &[Locked],
    faults: &mut Faults,
) {
    let hz = first.hz;
    let from = others.partition_point(|other| other.hz <= hz.saturating_sub(widest));
    for other in &others[from..] {
        if other.hz >= hz.saturating_add(widest) || faults.is_full() {
            break;
        }
        let (i, j) = ordered(first.link, other.link);
        let (a, b) = (&problem.links[i], &problem.links[j]);
        let [own_a, own_b] = [a, b].map(|link| problem.profiles[link.profile].separation_hz);
        let pair = ordered(a.profile, b.profile);
        let asked = special.get(&pair).copied().unwrap_or(own_a.max(own_b));
        let distance = hz.abs_diff(other.hz);
        let near = asked > 0 && distance < asked.unsigned_abs();
        if near && share_time(&first.windows, &other.windows) {
            faults.push(
                format!("links[{j}].locked_hz"),
                format!(
                    "contradictory locks: {:?} and {:?} are locked {distance} Hz apart, their \
                     separation is {asked} Hz",
                    a.id, b.id
                ),
                "move or release one of the two locks, or lower the separation",
            );
        }
    }
}

/// Whether some instant lies in a window of each; windows ascend, none means always.
fn share_time(a: &[Window], b: &[Window]) -> bool {
    let (mut i, mut j) = (0, 0);
    while let (Some(x), Some(y)) = (a.get(i), b.get(j)) {
        if x.start.max(y.start) < x.end.min(y.end) {
            return true;
        }
        if x.end <= y.end {
            i += 1;
        } else {
            j += 1;
        }
    }
    a.is_empty() || b.is_empty()
}
