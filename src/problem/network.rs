//! A problem of rules between two links alone, seen as variables, values and tables of costs.
//!
//! Links tied by a hard exact distance move as one: they are one variable, whose values are the ways to
//! place all of them at once. What is left between two variables is a table of costs, one row for each
//! value of the one, kept as runs of equal cost over the values of the other.

use std::collections::{BTreeMap, BTreeSet};

use super::Relation;
use super::compile::{Compiled, HARD};

/// The most values, and the most rules seen from either side, that a network may hold.
const MAX_VALUES: usize = 1 << 23;
const MAX_ARCS: usize = 1 << 22;
/// The most entries looked at to build the tables.
const MAX_WORK: usize = 1 << 28;
/// Tied links have at most so many values for each candidate of the first.
const MAX_FAN: usize = 4;

/// The values of a variable: one candidate index for each of its links, value by value.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Values {
    domains: Vec<usize>,
    candidates: Vec<usize>,
}

impl Values {
    /// How many there are.
    pub(crate) fn len(&self) -> usize {
        self.candidates.len() / self.domains.len()
    }

    /// The candidate of each link under one value.
    pub(crate) fn value(&self, at: usize) -> &[usize] {
        let width = self.domains.len();
        &self.candidates[at * width..(at + 1) * width]
    }
}

/// Values `low..high` of a variable cost so much beside one value of another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Run {
    pub(crate) low: u32,
    pub(crate) high: u32,
    pub(crate) cost: i64,
}

/// A neighbour of a variable, and where the rows of their table begin.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Arc {
    pub(crate) other: u32,
    pub(crate) rows: u32,
}

/// Variables, their values, and what every two values cost beside each other.
#[derive(Debug, Clone)]
pub(crate) struct Network {
    /// Links of every variable.
    pub(crate) links: Vec<Vec<usize>>,
    lists: Vec<Values>,
    list_of: Vec<usize>,
    /// Own cost of every value of every variable.
    pub(crate) own: Vec<Vec<i64>>,
    /// Neighbours of every variable.
    pub(crate) arcs: Vec<Vec<Arc>>,
    /// Where the runs of every row begin; one more at the end.
    pub(crate) first: Vec<u32>,
    pub(crate) runs: Vec<Run>,
}

/// A rule between two links of two variables, by their places in them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Rule {
    from: usize,
    to: usize,
    exact: bool,
    hz: i64,
    cost: i64,
}

impl Rule {
    fn broken(&self, from_hz: i64, to_hz: i64) -> bool {
        let apart = (from_hz - to_hz).abs();
        if self.exact { apart != self.hz } else { apart < self.hz }
    }
}

impl Network {
    /// The network of a problem; `None` where products count, or where it would be too large.
    ///
    /// O(rules log rules + distinct tables * values^2).
    pub(crate) fn of(problem: &Compiled) -> Option<Self> {
        if !problem.groups.is_empty() {
            return None;
        }
        let (links, values) = variables(problem)?;
        let mut known: BTreeMap<Values, usize> = BTreeMap::new();
        let mut lists = Vec::new();
        let list_of: Vec<usize> = values
            .into_iter()
            .map(|list| {
                *known.entry(list).or_insert_with_key(|list| {
                    lists.push(list.clone());
                    lists.len() - 1
                })
            })
            .collect();
        let total: usize = list_of.iter().map(|&list| lists[list].len()).sum();
        if total > MAX_VALUES {
            return None;
        }
        let mut network = Self {
            own: Vec::new(),
            arcs: vec![Vec::new(); links.len()],
            links,
            lists,
            list_of,
            first: vec![0],
            runs: Vec::new(),
        };
        network.connect(problem)?;
        Some(network)
    }

    /// Number of variables.
    pub(crate) fn len(&self) -> usize {
        self.links.len()
    }

    /// The values of a variable.
    pub(crate) fn values(&self, variable: usize) -> &Values {
        &self.lists[self.list_of[variable]]
    }

    /// Whether nothing is soft.
    pub(crate) fn is_hard(&self) -> bool {
        self.runs.iter().all(|run| run.cost % HARD == 0)
            && self.own.iter().flatten().all(|cost| cost % HARD == 0)
    }

    /// Whether all variables have the same values.
    pub(crate) fn alike(&self) -> bool {
        self.lists.len() <= 1
    }

    /// The one frequency beside which ties always put another, for those that have one.
    pub(crate) fn partners(&self, problem: &Compiled) -> BTreeMap<i64, i64> {
        let mut beside: BTreeMap<i64, BTreeSet<i64>> = BTreeMap::new();
        for list in self.lists.iter().filter(|list| list.domains.len() > 1) {
            for at in 0..list.len() {
                let hz =
                    |(slot, &at): (usize, &usize)| problem.candidates_hz[list.domains[slot]][at];
                let all: Vec<i64> = list.value(at).iter().enumerate().map(hz).collect();
                for &own in &all {
                    beside.entry(own).or_default().extend(all.iter().filter(|&&hz| hz != own));
                }
            }
        }
        let only = |(hz, others): (i64, BTreeSet<i64>)| {
            others.first().filter(|_| others.len() == 1).map(|&other| (hz, other))
        };
        beside.into_iter().filter_map(only).collect()
    }

    fn connect(&mut self, problem: &Compiled) -> Option<()> {
        let mut place = vec![(0, 0); problem.class_of.len()];
        for (variable, links) in self.links.iter().enumerate() {
            for (slot, &link) in links.iter().enumerate() {
                place[link] = (variable, slot);
            }
        }
        let mut inside: Vec<Vec<Rule>> = vec![Vec::new(); self.links.len()];
        let mut between: Vec<(usize, usize, Rule)> = Vec::new();
        for (a, b, relation, cost) in rules(problem) {
            if between.len() > MAX_ARCS {
                return None;
            }
            let ((u, from), (v, to)) = (place[a], place[b]);
            let (exact, hz) = match relation {
                Relation::AtLeast(hz) => (false, hz),
                Relation::Exactly(hz) => (true, hz),
            };
            if u == v {
                inside[u].push(Rule { from, to, exact, hz, cost });
            } else {
                between.push((u, v, Rule { from, to, exact, hz, cost }));
                between.push((v, u, Rule { from: to, to: from, exact, hz, cost }));
            }
        }
        self.own = (0..self.links.len()).map(|v| self.own_costs(problem, v, &inside[v])).collect();
        between.sort_unstable();
        let mut tables: BTreeMap<(usize, usize, Vec<Rule>), u32> = BTreeMap::new();
        let mut work = 0;
        for group in between.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
            let (u, v) = (group[0].0, group[0].1);
            let rules: Vec<Rule> = group.iter().map(|&(.., rule)| rule).collect();
            let key = (self.list_of[u], self.list_of[v], rules);
            let rows = if let Some(&rows) = tables.get(&key) {
                rows
            } else {
                work += self.lists[key.0].len() * self.lists[key.1].len();
                if work > MAX_WORK {
                    return None;
                }
                let rows = self.table(problem, key.0, key.1, &key.2);
                tables.insert(key, rows);
                rows
            };
            self.arcs[u].push(Arc { other: v as u32, rows });
        }
        Some(())
    }

    fn own_costs(&self, problem: &Compiled, variable: usize, inside: &[Rule]) -> Vec<i64> {
        let values = self.values(variable);
        (0..values.len())
            .map(|at| {
                let chosen = values.value(at);
                let hz = |slot: usize| problem.candidates_hz[values.domains[slot]][chosen[slot]];
                let rules = inside.iter().filter(|rule| rule.broken(hz(rule.from), hz(rule.to)));
                let dear = self.links[variable].iter().zip(chosen).map(|(&link, &at)| {
                    let costs = problem.classes[problem.class_of[link]].costs;
                    costs.map_or(0, |costs| i64::from(problem.source.costs[costs][at]))
                });
                rules.map(|rule| rule.cost).sum::<i64>() + dear.sum::<i64>()
            })
            .collect()
    }

    /// Build the table between two lists of values; where its rows begin.
    fn table(&mut self, problem: &Compiled, from: usize, to: usize, rules: &[Rule]) -> u32 {
        let (from, to) = (&self.lists[from], &self.lists[to]);
        let begin = self.first.len() - 1;
        let mut row = vec![0; to.len()];
        for a in 0..from.len() {
            row.fill(0);
            for rule in rules {
                let from_hz =
                    problem.candidates_hz[from.domains[rule.from]][from.value(a)[rule.from]];
                let candidates_hz = &problem.candidates_hz[to.domains[rule.to]];
                for (b, entry) in row.iter_mut().enumerate() {
                    let at = to.candidates[b * to.domains.len() + rule.to];
                    if rule.broken(from_hz, candidates_hz[at]) {
                        *entry += rule.cost;
                    }
                }
            }
            let mut low = 0;
            for run in row.chunk_by(|a, b| a == b) {
                let high = low + run.len();
                if run[0] != 0 {
                    self.runs.push(Run { low: low as u32, high: high as u32, cost: run[0] });
                }
                low = high;
            }
            self.first.push(self.runs.len() as u32);
        }
        begin as u32
    }
}

/// Every rule between two links, once.
fn rules(problem: &Compiled) -> impl Iterator<Item = (usize, usize, Relation, i64)> + '_ {
    let apart = problem.classes.iter().enumerate().flat_map(move |(k, class)| {
        class.neighbours.iter().filter(move |&&(other, _)| other >= k).flat_map(
            move |&(other, hz)| {
                class.members.iter().flat_map(move |&a| {
                    problem.classes[other]
                        .members
                        .iter()
                        .filter(move |&&b| other != k || b > a)
                        .map(move |&b| (a, b, Relation::AtLeast(hz), HARD))
                })
            },
        )
    });
    let pairs = problem.pairs.iter().enumerate().flat_map(|(a, pairs)| {
        let mine = pairs.iter().filter(move |pair| pair.other > a);
        mine.map(move |pair| (a, pair.other, pair.relation, pair.cost))
    });
    apart.chain(pairs)
}

/// The variables of a problem: links tied by hard exact distances together, any other link alone.
///
/// Links whose ties leave no value, or very many, are not joined. `None` when a link has no candidate.
fn variables(problem: &Compiled) -> Option<(Vec<Vec<usize>>, Vec<Values>)> {
    let links = problem.class_of.len();
    let mut seen = vec![false; links];
    let mut variables = Vec::new();
    let mut values = Vec::new();
    for start in 0..links {
        if std::mem::replace(&mut seen[start], true) {
            continue;
        }
        // Breadth first: each link after the one it is tied to.
        let mut tied = vec![start];
        let mut next = 0;
        while next < tied.len() {
            for (other, _) in ties(problem, tied[next]) {
                if !std::mem::replace(&mut seen[other], true) {
                    tied.push(other);
                }
            }
            next += 1;
        }
        if tied.len() > 1
            && let Some(joint) = joint_values(problem, &tied)
        {
            variables.push(tied);
            values.push(joint);
            continue;
        }
        for link in tied {
            let list = candidates(problem, link);
            if list.is_empty() {
                return None;
            }
            let domain = problem.classes[problem.class_of[link]].domain;
            variables.push(vec![link]);
            values.push(Values { domains: vec![domain], candidates: list });
        }
    }
    Some((variables, values))
}

/// The candidates a link may take: its lock, or all.
fn candidates(problem: &Compiled, link: usize) -> Vec<usize> {
    let domain = problem.classes[problem.class_of[link]].domain;
    match problem.locks[link] {
        Some(at) => vec![at],
        None => (0..problem.candidates_hz[domain].len()).collect(),
    }
}

/// Links at a hard exact distance from a link.
fn ties(problem: &Compiled, link: usize) -> impl Iterator<Item = (usize, i64)> + '_ {
    problem.pairs[link].iter().filter_map(|pair| match pair.relation {
        Relation::Exactly(hz) if pair.cost == HARD => Some((pair.other, hz)),
        _ => None,
    })
}

/// Every way to place tied links, each after one it is tied to.
fn joint_values(problem: &Compiled, tied: &[usize]) -> Option<Values> {
    let domains: Vec<usize> =
        tied.iter().map(|&link| problem.classes[problem.class_of[link]].domain).collect();
    let mut partial: Vec<Vec<usize>> =
        candidates(problem, tied[0]).into_iter().map(|at| vec![at]).collect();
    let most = partial.len() * MAX_FAN;
    for (slot, &link) in tied.iter().enumerate().skip(1) {
        let own = candidates(problem, link);
        let own_hz = &problem.candidates_hz[domains[slot]];
        let before: Vec<(usize, i64)> = ties(problem, link)
            .filter_map(|(other, hz)| {
                tied[..slot].iter().position(|&known| known == other).map(|i| (i, hz))
            })
            .collect();
        let mut longer = Vec::new();
        for chosen in &partial {
            let hz_of = |i: usize| problem.candidates_hz[domains[i]][chosen[i]];
            let &(first, apart) = before.first()?;
            let mut ends = vec![hz_of(first) - apart, hz_of(first) + apart];
            ends.dedup();
            for hz in ends {
                let at = own_hz.binary_search(&hz).ok().filter(|at| own.binary_search(at).is_ok());
                let fits = |at: &usize| {
                    before.iter().all(|&(i, apart)| (own_hz[*at] - hz_of(i)).abs() == apart)
                };
                if let Some(at) = at.filter(fits) {
                    let mut one = chosen.clone();
                    one.push(at);
                    longer.push(one);
                }
            }
        }
        partial = longer;
        if partial.is_empty() || partial.len() > most {
            return None;
        }
    }
    Some(Values { domains, candidates: partial.concat() })
}
