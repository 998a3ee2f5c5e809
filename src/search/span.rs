//! Min-span: full plans in ever narrower windows, each searched by one of the methods.

use std::sync::atomic::Ordering;

use super::construct::{Choice, construct};
use super::sequence::Frame;
use super::stream::Stream;
use super::watch::{Goal, Watch};
use super::{Improve, Method, tile};
use crate::table::Table;

/// A sequence ends near to its bound within so many steps, or this part of the bound.
const NEAR: i64 = 3;
const PART: i64 = 32;

/// Narrow the span until the budget is spent or the bound is met.
pub(super) fn descend(table: &mut Table, improve: Improve, stream: &mut Stream, watch: &mut Watch) {
    if !fill(table, improve, stream, watch) {
        return;
    }
    let windows = Windows::of(table);
    let mut share = watch.left() / 8 + 1;
    while let Some(known) = watch.known().filter(|&known| known > watch.run.floor) {
        let open = windows.narrower(known as i64, stream);
        if open.is_empty() {
            // Even the links' own frequencies do not fit into less.
            return;
        }
        let mut found = false;
        for &(low, high) in open.iter().take(16) {
            if !watch.has_budget() {
                return;
            }
            let only = open.len() == 1;
            watch.limit = if only { u64::MAX } else { watch.iterations.saturating_add(share) };
            found = attempt(table, (low, high), improve, stream, watch);
            watch.limit = u64::MAX;
            if found {
                break;
            }
        }
        if !found {
            share = share.saturating_mul(2);
        }
        // A search that gives up at once must not be asked for ever.
        if !watch.tick() {
            return;
        }
    }
}

/// A first full plan, whatever its span.
fn fill(table: &mut Table, improve: Improve, stream: &mut Stream, watch: &mut Watch) -> bool {
    if watch.known().is_some() {
        return true;
    }
    watch.goal = Goal::Clean;
    improve(table, stream, watch);
    watch.goal = Goal::Best;
    watch.offer(table);
    watch.known().is_some()
}

/// Look for a full plan within one window; whether there was one.
fn attempt(
    table: &mut Table,
    (low, high): (i64, i64),
    improve: Improve,
    stream: &mut Stream,
    watch: &mut Watch,
) -> bool {
    let (below, above) = ((i64::MIN, low - 1), (high + 1, i64::MAX));
    for link in 0..watch.run.priorities.len() {
        if table.frequency_hz(link).is_some_and(|hz| hz < low || hz > high) {
            table.lift(link);
        }
    }
    table.bar(below.0, below.1, true);
    table.bar(above.0, above.1, true);
    watch.goal = Goal::Clean;
    improve(table, stream, watch);
    watch.goal = Goal::Best;
    table.bar(below.0, below.1, false);
    table.bar(above.0, above.1, false);
    let full = (0..watch.run.priorities.len()).all(|link| table.choice(link).is_some());
    let clean = full && table.total() < crate::table::HARD;
    watch.offer(table);
    clean
}

/// The windows of frequencies in which every link has a candidate.
struct Windows {
    /// All candidates, ascending.
    all_hz: Vec<i64>,
    /// Candidates of every domain in use.
    domains_hz: Vec<Vec<i64>>,
    /// Lowest and highest lock.
    locked: Option<(i64, i64)>,
    /// All links have the same evenly spaced candidates and no costs: one window stands for all.
    alike: bool,
}

impl Windows {
    fn of(table: &Table) -> Self {
        let problem = table.problem();
        let mut used: Vec<usize> = problem.classes.iter().map(|class| class.domain).collect();
        used.sort_unstable();
        used.dedup();
        let domains_hz: Vec<Vec<i64>> =
            used.iter().map(|&domain| problem.candidates_hz[domain].clone()).collect();
        let mut all_hz = domains_hz.concat();
        all_hz.sort_unstable();
        all_hz.dedup();
        let locks = problem.locks.iter().enumerate();
        let locked: Vec<i64> =
            locks.filter_map(|(link, at)| at.map(|at| table.candidates_hz(link)[at])).collect();
        let even = all_hz.windows(3).all(|f| f[2] - f[1] == f[1] - f[0]);
        let alike = even
            && locked.is_empty()
            && domains_hz.iter().all(|list| list.len() == all_hz.len())
            && problem.classes.iter().all(|class| class.costs.is_none());
        Self {
            locked: locked.iter().min().copied().zip(locked.iter().max().copied()),
            all_hz,
            domains_hz,
            alike,
        }
    }

    /// Maximal windows with a span below `known`, in random order.
    fn narrower(&self, known: i64, stream: &mut Stream) -> Vec<(i64, i64)> {
        let mut open: Vec<(i64, i64)> = self
            .all_hz
            .iter()
            .take(if self.alike { 1 } else { usize::MAX })
            .filter_map(|&low| {
                let end = self.all_hz.partition_point(|&hz| hz < low + known);
                let high = *self.all_hz.get(end.checked_sub(1)?)?;
                (high >= low).then_some((low, high))
            })
            .filter(|&(low, high)| {
                self.locked.is_none_or(|(first, last)| low <= first && last <= high)
                    && self.domains_hz.iter().all(|list| {
                        let next = list.partition_point(|&hz| hz < low);
                        list.get(next).is_some_and(|&hz| hz <= high)
                    })
            })
            .collect();
        stream.shuffle(&mut open);
        open
    }
}

/// Sequencing and periodic plans where the problem is nothing but least distances; leaves its plan placed.
///
/// Whether the sequence ends so near to the bound that another is worth more than any repair.
pub(super) fn sequence(
    table: &mut Table,
    frame: &Frame,
    stream: &mut Stream,
    watch: &mut Watch,
) -> bool {
    let open = |watch: &Watch| watch.known().is_none_or(|known| known > watch.run.floor);
    if watch.restart == 0 {
        construct(table, Method::Dsatur, watch, &mut Choice::Lowest);
        if open(watch)
            && let Some(plan) = tile::search(frame, watch)
        {
            put(table, &plan, watch);
        }
    }
    if open(watch)
        && let Some(plan) = frame.search(stream, watch)
    {
        put(table, &plan, watch);
        let top = plan.last().map_or(0, |&(_, top)| top);
        watch.run.sequenced.fetch_min((top * frame.step_hz) as u64, Ordering::Relaxed);
        return top <= frame.target + NEAR.max(frame.target / PART);
    }
    false
}

/// Put a plan of (class, raster position) on the table and offer it.
fn put(table: &mut Table, plan: &[(usize, i64)], watch: &mut Watch) {
    for link in 0..watch.run.priorities.len() {
        table.lift(link);
    }
    let problem = table.problem().clone();
    let mut next = vec![0; problem.classes.len()];
    for &(class, position) in plan {
        let link = problem.classes[class].members[next[class]];
        next[class] += 1;
        let at = position as usize;
        if at < table.candidates_hz(link).len() {
            table.place(link, at);
        }
    }
    watch.offer(table);
}
