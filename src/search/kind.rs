//! Links in one air: as many of one kind as possible are a largest set, which is found faster than served.
//!
//! Where first-fit does not serve all links of such a part of a problem, the search for the largest set gives
//! the first plan to begin with, and a bound. What it knows of the rest of the problem is only where the locked
//! links let a link stand. Links of several kinds are given the strictest rules of all, and then take what they can
//! tune of the set; that is a plan, too, but no bound.

use std::collections::BTreeMap;
use std::time::Instant;

use super::construct;
use super::largest::{SetQuestion, start};
use super::{Budget, Control, Event, EventKind, Method, Objective, Options};
use crate::problem::compile::Compiled;
use crate::problem::{Guard, Profile, Weight};
use crate::product::Form;
use crate::table::{HARD, Table};

/// The share of a budget that goes into sets.
const SHARE: f64 = 0.4;
/// Fewer iterations than this find no set worth beginning with.
const LEAST: u64 = 200;
/// The budget that is shared where none is given.
const UNASKED: u64 = 20_000;

/// What the sets of all parts come to.
#[derive(Debug, Default)]
pub(super) struct Kinds {
    /// A plan to begin with, if any part has one.
    pub(super) plan: Option<Vec<Option<usize>>>,
    /// Priority that no plan serves.
    pub(super) unserved: u64,
    pub(super) iterations: u64,
}

/// One part: links each of which hears every other.
#[derive(Debug)]
struct Part {
    /// Links that are free to move, by falling priority.
    links: Vec<usize>,
    question: SetQuestion,
    /// How large a set is large enough: where kinds differ, not every link can take what is left.
    enough: usize,
    /// Where the links of each class could stand beside what stands still, ascending.
    open_hz: BTreeMap<usize, Vec<i64>>,
    /// Whether they are of one kind and nothing stands still among them: then what the set cannot hold the
    /// problem cannot.
    alone: bool,
}

impl Part {
    /// Which link takes which frequency of a set: as many as possible, the weightier ones first.
    fn matched(&self, problem: &Compiled, set_hz: &[i64]) -> Vec<(usize, i64)> {
        let takes = |link: usize, hz: &i64| {
            let open = self.open_hz.get(&problem.class_of[link]);
            open.is_some_and(|open| open.binary_search(hz).is_ok())
        };
        let mut holder = vec![None; set_hz.len()];
        for &link in &self.links {
            let mut seen = vec![false; set_hz.len()];
            settle(link, &mut holder, &mut seen, &|link, at| takes(link, &set_hz[at]));
        }
        holder.iter().zip(set_hz).filter_map(|(link, &hz)| Some(((*link)?, hz))).collect()
    }
}

/// Give a link a place, moving others along where that helps (an augmenting path, Kuhn 1955).
fn settle(
    link: usize,
    holder: &mut [Option<usize>],
    seen: &mut [bool],
    takes: &impl Fn(usize, usize) -> bool,
) -> bool {
    for at in 0..holder.len() {
        if seen[at] || !takes(link, at) {
            continue;
        }
        seen[at] = true;
        if holder[at].is_none_or(|other| settle(other, holder, seen, takes)) {
            holder[at] = Some(link);
            return true;
        }
    }
    false
}

/// The largest sets of all parts of a problem that first-fit leaves links out of, within a share of the budget.
pub(super) fn kinds(
    table: &Table,
    options: &Options,
    priorities: &[u32],
    control: &Control,
) -> Kinds {
    let started = Instant::now();
    let applies = matches!(options.method, Method::LocalSearch | Method::Portfolio);
    if options.objective != Objective::MaxService || !applies {
        return Kinds::default();
    }
    let (mut table, problem) = (table.clone(), table.problem().clone());
    construct::place_locked(&mut table, options.objective);
    let mut parts = parts(&problem, &mut table, priorities);
    if !parts.is_empty() {
        construct::fill(&mut table, options.objective, priorities, || !control.stopped());
        parts.retain(|part| part.links.iter().any(|&link| table.choice(link).is_none()));
    }
    let mut sign = sign(&table, priorities);
    if !parts.is_empty() {
        control.send(sign);
    }
    let all = match options.budget {
        Budget { iterations: None, seconds: None } => Some(UNASKED),
        budget => budget.iterations,
    };
    let mut kinds = Kinds::default();
    let mut plan = problem.locks.clone();
    for (i, part) in parts.iter().enumerate() {
        // What one part leaves is for those after it.
        let others = (parts.len() - i) as f64;
        let left = |all: f64, gone: f64| (all * SHARE - gone).max(0.0) / others;
        let budget = Budget {
            iterations: all.map(|all| left(all as f64, kinds.iterations as f64) as u64),
            seconds: (options.budget.seconds).map(|all| left(all, started.elapsed().as_secs_f64())),
        };
        if budget.iterations.is_some_and(|granted| granted < LEAST) {
            break;
        }
        sign.time_s = started.elapsed().as_secs_f64();
        let found =
            start(&part.question, part.enough, &Options { budget, ..*options }, control, sign);
        // A raster too fine for sets is none for the rest of the search.
        let Ok(found) = found else { continue };
        kinds.iterations += found.iterations;
        let beyond = part.links.len().saturating_sub(found.upper_bound);
        let beyond = if part.alone { beyond } else { 0 };
        let lightest = part.links.iter().rev().take(beyond);
        kinds.unserved += lightest.map(|&link| u64::from(priorities[link])).sum::<u64>();
        for (link, hz) in part.matched(&problem, &found.frequencies_hz) {
            let candidates = &problem.candidates_hz[problem.source.links[link].domain];
            plan[link] = candidates.binary_search(&hz).ok();
        }
        kinds.plan = Some(plan.clone());
    }
    kinds
}

/// The plan of first-fit, as a listener is told of it.
fn sign(table: &Table, priorities: &[u32]) -> Event {
    let refused = (0..priorities.len()).filter(|&link| table.choice(link).is_none());
    let unserved = refused.clone().map(|link| u64::from(priorities[link])).sum();
    Event {
        time_s: 0.0,
        iteration: 0,
        restart: 0,
        kind: EventKind::Progress,
        refused: refused.count() as u64,
        unserved,
        hard: (table.total() / HARD) as u64,
        soft: (table.total() % HARD) as u64,
        bound: 0,
        objective: Some(unserved),
        evaluations: table.evaluations(),
    }
}

/// All parts of a problem, given a table on which nothing but the locked links stands.
fn parts(problem: &Compiled, table: &mut Table, priorities: &[u32]) -> Vec<Part> {
    let open = |class: usize| {
        let members = problem.classes[class].members.iter().copied();
        members.filter(|&link| problem.locks[link].is_none())
    };
    let mut parts = Vec::new();
    for group in problem.groups.iter().filter(|group| group.maximal) {
        let free: Vec<usize> =
            group.classes.iter().copied().filter(|&class| open(class).next().is_some()).collect();
        let Some(&first) = free.first() else { continue };
        let mut links: Vec<usize> = free.iter().flat_map(|&class| open(class)).collect();
        links.sort_by_key(|&link| (std::cmp::Reverse(priorities[link]), link));
        let alike = free.iter().all(|&class| {
            let (one, other) = (&problem.classes[first], &problem.classes[class]);
            (one.profile, one.domain) == (other.profile, other.domain)
        });
        let profile = |class: usize| &problem.source.profiles[problem.classes[class].profile];
        let mixing = free.iter().all(|&class| profile(class).mixes && guarded(profile(class)));
        if !mixing || links.len() < 3 {
            continue;
        }
        // Who else may move is in no rule with them.
        let others = |class: usize| {
            let heard = problem.groups.iter().filter(move |group| group.classes.contains(&class));
            let near = problem.neighbours_of(class);
            near.chain(heard.flat_map(|group| group.classes.iter().copied()))
                .filter(|other| !free.contains(other))
        };
        let apart = free.iter().all(|&class| others(class).all(|it| open(it).next().is_none()));
        let paired = links.iter().any(|&link| !problem.pairs[link].is_empty());
        let spacing = free.iter().flat_map(|&class| &problem.classes[class].neighbours);
        let spacing = spacing.filter(|(other, _)| free.contains(other)).map(|&(_, hz)| hz).max();
        let (true, false, Some(separation_hz)) = (apart, paired, spacing) else { continue };
        let still = |class: usize| {
            let members = problem.classes[class].members.iter();
            members.filter(|&&link| problem.locks[link].is_some()).count()
        };
        let alone =
            alike && free.iter().all(|&class| still(class) == 0 && others(class).next().is_none());
        // Wherever any of them could stand beside what stands still.
        let mut open_hz = BTreeMap::new();
        for &class in &free {
            let candidates = problem.candidates_hz[problem.classes[class].domain].iter();
            let row = table.class_row(class).iter();
            let clean = candidates.zip(row).filter(|&(_, &cost)| cost < HARD);
            open_hz.insert(class, clean.map(|(&hz, _)| hz).collect::<Vec<i64>>());
        }
        let mut candidates_hz: Vec<i64> = open_hz.values().flatten().copied().collect();
        candidates_hz.sort_unstable();
        candidates_hz.dedup();
        if candidates_hz.is_empty() {
            continue;
        }
        let mut strictest: BTreeMap<Form, i64> = BTreeMap::new();
        for guard in free.iter().flat_map(|&class| hard_guards(profile(class))) {
            let widest = strictest.entry(guard.form.clone()).or_default();
            *widest = guard.guard_hz.max(*widest);
        }
        let guards = strictest.into_iter().collect();
        let question = SetQuestion { candidates_hz, separation_hz, guards };
        let enough = if alike { links.len() } else { links.len() + links.len() / 4 };
        parts.push(Part { links, question, enough, open_hz, alone });
    }
    parts
}

fn hard_guards(profile: &Profile) -> impl Iterator<Item = &Guard> {
    profile.guards.iter().filter(|guard| guard.weight == Weight::Hard)
}

/// Whether some product must keep off.
fn guarded(profile: &Profile) -> bool {
    hard_guards(profile).any(|guard| guard.guard_hz > 0)
}
