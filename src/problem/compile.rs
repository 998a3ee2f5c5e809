//! Links compiled into classes: links that are alike in every rule share one row of the cost table.

use std::collections::BTreeMap;

use super::groups::{Group, mixing_groups};
use super::{Degree, Link, PairRule, Problem, Relation, Weight, Window};
use crate::error::Result;

/// The cost of one broken hard rule; soft costs stay below it (see [`Problem::validate`]).
pub const HARD: i64 = 1 << 32;

impl Weight {
    /// The weight as a table cost.
    pub(crate) fn cost(self) -> i64 {
        match self {
            Self::Hard => HARD,
            Self::Soft(cost) => i64::from(cost),
        }
    }
}

/// Links with the same profile, zone, windows, domain, costs and no explicit pair rule.
#[derive(Debug, Clone)]
pub(crate) struct Class {
    pub(crate) profile: usize,
    pub(crate) zone: usize,
    pub(crate) windows: Vec<Window>,
    pub(crate) domain: usize,
    pub(crate) costs: Option<usize>,
    /// Member links, ascending.
    pub(crate) members: Vec<usize>,
    /// Classes that share air and time with this one, and the separation between them.
    pub(crate) neighbours: Vec<(usize, i64)>,
}

/// A pair rule seen from one of its ends.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pair {
    pub(crate) other: usize,
    pub(crate) relation: Relation,
    pub(crate) cost: i64,
}

/// A validated problem in the shape the table wants.
#[derive(Debug, Clone)]
pub(crate) struct Compiled {
    /// The problem as it was asked.
    pub(crate) source: Problem,
    pub(crate) classes: Vec<Class>,
    /// Class of every link.
    pub(crate) class_of: Vec<usize>,
    /// Ascending candidates of every domain.
    pub(crate) candidates_hz: Vec<Vec<i64>>,
    /// Explicit pair rules of every link.
    pub(crate) pairs: Vec<Vec<Pair>>,
    /// Sets of classes that hear each other's products at one time.
    pub(crate) groups: Vec<Group>,
    /// Candidate index of every locked link.
    pub(crate) locks: Vec<Option<usize>>,
}

impl Compiled {
    /// Validate and compile. O(links + classes^2 + candidates).
    pub(crate) fn new(problem: &Problem) -> Result<Self> {
        problem.validate()?;
        let candidates_hz: Vec<_> =
            problem.domains.iter().map(super::Domain::candidates_hz).collect();
        let mut pairs = vec![Vec::new(); problem.links.len()];
        for &PairRule { a, b, relation, weight } in &problem.pairs {
            let cost = weight.cost();
            pairs[a].push(Pair { other: b, relation, cost });
            pairs[b].push(Pair { other: a, relation, cost });
        }
        let (mut classes, class_of) = classify(&problem.links, &pairs);
        let air = Air::new(problem);
        let spacing = spacings(problem);
        for k in 0..classes.len() {
            classes[k].neighbours = (0..classes.len())
                .filter(|&j| k != j || classes[k].members.len() > 1)
                .filter(|&j| {
                    air.degree(classes[k].zone, classes[j].zone) >= Degree::Separation
                        && share_time(&classes[k].windows, &classes[j].windows)
                })
                .map(|j| (j, spacing[classes[k].profile][classes[j].profile]))
                .filter(|&(_, separation_hz)| separation_hz > 0)
                .collect();
        }
        let groups = mixing_groups(problem, &classes, &air)?;
        let locks = problem
            .links
            .iter()
            .map(|link| {
                link.locked_hz.and_then(|hz| candidates_hz[link.domain].binary_search(&hz).ok())
            })
            .collect();
        Ok(Self { source: problem.clone(), classes, class_of, candidates_hz, pairs, groups, locks })
    }
}

impl Compiled {
    /// Classes with which `class` has separations or pair rules; a class may stand several times.
    pub(crate) fn neighbours_of(&self, class: usize) -> impl Iterator<Item = usize> + '_ {
        let pairs = self.classes[class].members.iter().flat_map(|&link| &self.pairs[link]);
        let by_rule = pairs.map(|pair| self.class_of[pair.other]);
        self.classes[class].neighbours.iter().map(|&(other, _)| other).chain(by_rule)
    }
}

fn classify(links: &[Link], pairs: &[Vec<Pair>]) -> (Vec<Class>, Vec<usize>) {
    let mut known = BTreeMap::new();
    let mut classes: Vec<Class> = Vec::new();
    let class_of = links
        .iter()
        .enumerate()
        .map(|(i, link)| {
            // A link with rules of its own stands alone.
            let alone = (!pairs[i].is_empty()).then_some(i);
            let mut windows = link.windows.clone();
            windows.sort_unstable();
            let key = (link.profile, link.zone, windows.clone(), link.domain, link.costs, alone);
            let class = *known.entry(key).or_insert_with(|| {
                classes.push(Class {
                    profile: link.profile,
                    zone: link.zone,
                    windows,
                    domain: link.domain,
                    costs: link.costs,
                    members: Vec::new(),
                    neighbours: Vec::new(),
                });
                classes.len() - 1
            });
            classes[class].members.push(i);
            class
        })
        .collect();
    (classes, class_of)
}

/// The separation between every two profiles.
fn spacings(problem: &Problem) -> Vec<Vec<i64>> {
    let own: Vec<_> = problem.profiles.iter().map(|p| p.separation_hz).collect();
    let mut all: Vec<Vec<_>> =
        own.iter().map(|&a| own.iter().map(|&b| a.max(b)).collect()).collect();
    for rule in &problem.separations {
        all[rule.a][rule.b] = rule.separation_hz;
        all[rule.b][rule.a] = rule.separation_hz;
    }
    all
}

/// How zones share the air.
#[derive(Debug)]
pub(crate) struct Air {
    degrees: Vec<Vec<Degree>>,
}

impl Air {
    fn new(problem: &Problem) -> Self {
        let n = problem.zones.len();
        let mut degrees = vec![vec![Degree::None; n]; n];
        for coupling in &problem.couplings {
            degrees[coupling.a][coupling.b] = coupling.degree;
            degrees[coupling.b][coupling.a] = coupling.degree;
        }
        for (zone, row) in degrees.iter_mut().enumerate() {
            row[zone] = Degree::Full;
        }
        Self { degrees }
    }

    pub(crate) fn degree(&self, a: usize, b: usize) -> Degree {
        self.degrees[a][b]
    }

    pub(crate) fn zones(&self) -> usize {
        self.degrees.len()
    }
}

/// Whether some instant lies in a window of each; no windows means always.
pub(crate) fn share_time(a: &[Window], b: &[Window]) -> bool {
    a.is_empty()
        || b.is_empty()
        || a.iter().any(|x| b.iter().any(|y| x.start < y.end && y.start < x.end))
}
