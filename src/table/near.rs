//! Which candidates of a neighbour lie too near to a carrier, worked out once per pair of domains.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::problem::Relation;
use crate::problem::compile::{Compiled, HARD};

/// The most precomputed ranges a table may hold: 32 MiB. Beyond it they are searched for at every move.
const MAX_RANGES: usize = 1 << 22;

/// Half-open candidate ranges of a neighbour, one for each own candidate.
type Ranges = Arc<Vec<(u32, u32)>>;

/// One least distance to keep from a class, and what breaking it costs.
#[derive(Debug, Clone)]
pub(super) struct Near {
    pub(super) other: usize,
    distance_hz: i64,
    pub(super) cost: i64,
    ranges: Option<Ranges>,
}

impl Near {
    /// The candidates of the other class nearer than the distance to own candidate `at` at `hz`.
    pub(super) fn range(&self, at: usize, hz: i64, others_hz: &[i64]) -> (usize, usize) {
        match &self.ranges {
            Some(ranges) => (ranges[at].0 as usize, ranges[at].1 as usize),
            None => search(others_hz, hz, self.distance_hz),
        }
    }
}

/// The candidates nearer than `distance_hz` to `hz`.
pub(super) fn search(candidates_hz: &[i64], hz: i64, distance_hz: i64) -> (usize, usize) {
    let low = candidates_hz.partition_point(|&f| f <= hz - distance_hz);
    let high = candidates_hz.partition_point(|&f| f < hz + distance_hz);
    (low, high.max(low))
}

/// All least distances of a problem, seen from the carrier that moves.
#[derive(Debug)]
pub(super) struct Distances {
    /// Separations of every class.
    pub(super) by_class: Vec<Vec<Near>>,
    /// Explicit rules of every link.
    pub(super) by_link: Vec<Vec<Near>>,
}

impl Distances {
    /// O(rules + distinct distances * candidates).
    pub(super) fn new(problem: &Compiled) -> Self {
        let mut cache = Cache { problem, known: BTreeMap::new(), entries: 0 };
        let by_class = problem
            .classes
            .iter()
            .map(|class| {
                let near = class.neighbours.iter();
                near.map(|&(other, hz)| cache.near(class.domain, other, hz, HARD)).collect()
            })
            .collect();
        let by_link = problem
            .pairs
            .iter()
            .enumerate()
            .map(|(link, pairs)| {
                let domain = problem.classes[problem.class_of[link]].domain;
                let rules = pairs.iter().filter_map(|pair| match pair.relation {
                    Relation::AtLeast(hz) => Some((problem.class_of[pair.other], hz, pair.cost)),
                    Relation::Exactly(_) => None,
                });
                rules.map(|(other, hz, cost)| cache.near(domain, other, hz, cost)).collect()
            })
            .collect();
        Self { by_class, by_link }
    }
}

/// Ranges by (own domain, other domain, distance).
struct Cache<'p> {
    problem: &'p Compiled,
    known: BTreeMap<(usize, usize, i64), Ranges>,
    entries: usize,
}

impl Cache<'_> {
    fn near(&mut self, domain: usize, other: usize, distance_hz: i64, cost: i64) -> Near {
        let other_domain = self.problem.classes[other].domain;
        let key = (domain, other_domain, distance_hz);
        let own = &self.problem.candidates_hz[domain];
        if !self.known.contains_key(&key) && self.entries + own.len() <= MAX_RANGES {
            let others = &self.problem.candidates_hz[other_domain];
            let ranges = own.iter().map(|&hz| search(others, hz, distance_hz));
            let ranges = ranges.map(|(low, high)| (low as u32, high as u32)).collect();
            self.entries += own.len();
            self.known.insert(key, Arc::new(ranges));
        }
        Near { other, distance_hz, cost, ranges: self.known.get(&key).cloned() }
    }
}
