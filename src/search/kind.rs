//! Links of one kind in one air: as many of them as possible are a largest set, which is found faster than served.
//!
//! Where first-fit does not serve all links of such a part of a problem, the search for the largest set gives
//! the first plan to begin with, and a bound. What it knows of the rest of the problem is only where the locked
//! links let a link stand.

use std::time::Instant;

use super::construct;
use super::largest::{SetQuestion, start};
use super::{Budget, Control, Event, EventKind, Method, Objective, Options};
use crate::problem::Weight;
use crate::problem::compile::Compiled;
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

/// One part: links of one profile on one choice of frequencies, each of which hears every other.
#[derive(Debug)]
struct Part {
    /// Links that are free to move, by falling priority.
    links: Vec<usize>,
    question: SetQuestion,
    /// Whether nothing stands still among them: then what the set cannot hold the problem cannot.
    alone: bool,
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
            start(&part.question, part.links.len(), &Options { budget, ..*options }, control, sign);
        // A raster too fine for sets is none for the rest of the search.
        let Ok(found) = found else { continue };
        kinds.iterations += found.iterations;
        let beyond = part.links.len().saturating_sub(found.upper_bound);
        let beyond = if part.alone { beyond } else { 0 };
        let lightest = part.links.iter().rev().take(beyond);
        kinds.unserved += lightest.map(|&link| u64::from(priorities[link])).sum::<u64>();
        let candidates = &problem.candidates_hz[problem.source.links[part.links[0]].domain];
        for (&link, hz) in part.links.iter().zip(&found.frequencies_hz) {
            plan[link] = candidates.binary_search(hz).ok();
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
        let profile = &problem.source.profiles[problem.classes[first].profile];
        let alike = free.iter().all(|&class| {
            let (one, other) = (&problem.classes[first], &problem.classes[class]);
            (one.profile, one.domain) == (other.profile, other.domain)
        });
        if !alike || !profile.mixes || links.len() < 3 {
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
        let spacing = problem.classes[first].neighbours.iter();
        let spacing = spacing.filter(|(other, _)| free.contains(other)).map(|&(_, hz)| hz).max();
        let (true, false, Some(separation_hz)) = (apart, paired, spacing) else { continue };
        let still = |class: usize| {
            let members = problem.classes[class].members.iter();
            members.filter(|&&link| problem.locks[link].is_some()).count()
        };
        let alone = free.iter().all(|&class| still(class) == 0 && others(class).next().is_none());
        // Wherever any of them could stand beside what stands still.
        let candidates = &problem.candidates_hz[problem.classes[first].domain];
        let mut clean = vec![false; candidates.len()];
        for &class in &free {
            for (clean, &cost) in clean.iter_mut().zip(table.class_row(class)) {
                *clean |= cost < HARD;
            }
        }
        let candidates = candidates.iter().zip(clean).filter(|&(_, clean)| clean);
        let candidates_hz: Vec<i64> = candidates.map(|(&hz, _)| hz).collect();
        if candidates_hz.is_empty() {
            continue;
        }
        let guards = profile.guards.iter().filter(|guard| guard.weight == Weight::Hard);
        let guards = guards.map(|guard| (guard.form.clone(), guard.guard_hz)).collect();
        let question = SetQuestion { candidates_hz, separation_hz, guards };
        parts.push(Part { links, question, alone });
    }
    parts
}
