//! Links in one air: as many of one kind as possible are a largest set, which is found faster than served.
//!
//! Where first-fit does not serve all links of such a part of a problem, the search for the largest set gives
//! the first plan to begin with, and a bound. What it knows of the rest of the problem is only where the locked
//! links let a link stand. Links of several kinds are given the strictest rules of all, and then take what they can
//! tune of the set; that is a plan, too, but no bound.

mod parts;

use std::time::Instant;

use self::parts::parts;
use super::construct;
use super::largest::{Sign, start};
use super::{Budget, Control, Event, EventKind, Method, Objective, Options};
use crate::table::{HARD, Table};

/// The share of a budget that goes into sets.
const SHARE: f64 = 0.4;
/// The same where sets are all there is to it.
const WHOLE: f64 = 0.8;
/// Fewer iterations than this find no set worth beginning with.
const LEAST: u64 = 500;
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
    /// Improvements that the sets brought.
    pub(super) events: Vec<Event>,
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
    let mut still = table.clone();
    if !parts.is_empty() {
        construct::fill(&mut table, options.objective, priorities, || !control.stopped());
        parts.retain(|part| part.links.iter().any(|&link| table.choice(link).is_none()));
    }
    let mut served = served(&table, priorities);
    if !parts.is_empty() {
        control.send(served);
    }
    let all = match options.budget {
        Budget { iterations: None, seconds: None } => Some(UNASKED),
        budget => budget.iterations,
    };
    let movable = problem.locks.iter().filter(|lock| lock.is_none()).count();
    let covered = parts.iter().map(|part| part.links.len()).sum::<usize>() == movable;
    let alone = covered && parts.iter().all(|part| part.alone);
    let share = if alone && !problem.source.has_soft_costs() { WHOLE } else { SHARE };
    let mut kinds = Kinds::default();
    let mut plan = problem.locks.clone();
    for (i, part) in parts.iter().enumerate() {
        // What one part leaves is for those after it.
        let others = (parts.len() - i) as f64;
        let left = |all: f64, gone: f64| (all * share - gone).max(0.0) / others;
        let budget = Budget {
            iterations: all.map(|all| left(all as f64, kinds.iterations as f64) as u64),
            seconds: (options.budget.seconds).map(|all| left(all, started.elapsed().as_secs_f64())),
        };
        if budget.iterations.is_some_and(|granted| granted < LEAST) {
            break;
        }
        served.time_s = started.elapsed().as_secs_f64();
        // Only a set that is the whole plan tells what the plan would be.
        let whole = alone && parts.len() == 1;
        let sign =
            Sign::new(served, if whole { left_out(&part.links, priorities) } else { vec![] });
        let options = Options { budget, ..*options };
        let fitted = part.links.iter().filter(|&&link| table.choice(link).is_some()).count();
        // Where links come by turns a set serves more than it has carriers.
        let sizes = [if part.together { fitted } else { 0 }, part.enough];
        let found = start(&part.question, sizes, &options, control, &sign);
        // A raster too fine for sets is none for the rest of the search.
        let Ok(found) = found else { continue };
        // The last step may be longer than what was left.
        kinds.iterations += found.iterations.min(budget.iterations.unwrap_or(u64::MAX));
        let beyond = part.links.len().saturating_sub(found.upper_bound);
        let beyond = if part.alone { beyond } else { 0 };
        let lightest = part.links.iter().rev().take(beyond);
        kinds.unserved += lightest.map(|&link| u64::from(priorities[link])).sum::<u64>();
        let given = part.given(&mut still, &found.frequencies_hz);
        // Under stricter rules than their own links of several kinds may be served worse than by first-fit.
        if given.len() < fitted {
            continue;
        }
        for (link, at) in given {
            plan[link] = Some(at);
        }
        kinds.plan = Some(plan.clone());
        let events = found.trace.iter().map(|event| sign.with(event.size, event.time_s));
        kinds.events.extend(events.filter(|event| event.kind == EventKind::Improvement));
        kinds.events.dedup_by_key(|event| event.unserved);
    }
    kinds
}

/// Links left out and their priority when the first 0, 1, 2, ... are served.
fn left_out(links: &[usize], priorities: &[u32]) -> Vec<(u64, u64)> {
    let mut left = vec![(0, 0)];
    for (refused, &link) in (1..).zip(links.iter().rev()) {
        left.push((refused, left[left.len() - 1].1 + u64::from(priorities[link])));
    }
    left.reverse();
    left
}

/// The plan of first-fit, as a listener is told of it.
fn served(table: &Table, priorities: &[u32]) -> Event {
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
