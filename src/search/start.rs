//! Warm starts: a plan to begin with, checked, and put on the table as far as the objective allows.

use std::collections::BinaryHeap;

use super::Objective;
use super::construct::place_locked;
use crate::error::{Error, Fault, Result};
use crate::problem::compile::Compiled;
use crate::table::{HARD, Table};

/// The candidates of a start. A locked link stands on its lock, whatever the start says of it.
///
/// Every fault at once: a wrong length, a frequency that is no candidate of its link.
pub(super) fn candidates(problem: &Compiled, start: &[Option<i64>]) -> Result<Vec<Option<usize>>> {
    let links = &problem.source.links;
    if start.len() != links.len() {
        return Err(Error::Invalid(vec![Fault::new(
            "start",
            format!("it has {} entries for {} links", start.len(), links.len()),
            "give one frequency, or none, per link in the order of the links",
        )]));
    }
    let mut faults = Vec::new();
    let mut all = problem.locks.clone();
    for (link, &hz) in start.iter().enumerate() {
        let Some(hz) = hz.filter(|_| links[link].locked_hz.is_none()) else { continue };
        all[link] = problem.candidates_hz[links[link].domain].binary_search(&hz).ok();
        if all[link].is_none() {
            faults.push(Fault::new(
                format!("start[{link}]"),
                format!("{hz} Hz is no candidate of {:?}", links[link].id),
                "leave a link without a frequency where it must move in any case",
            ));
        }
    }
    if faults.is_empty() { Ok(all) } else { Err(Error::Invalid(faults)) }
}

/// Put a start on an empty table; where hard rules must hold, links are taken off until they do, each
/// time the one that breaks most for its priority. O(links * move), and more where much is broken.
pub(super) fn place(
    table: &mut Table,
    start: &[Option<usize>],
    objective: Objective,
    priorities: &[u32],
) {
    place_locked(table, objective);
    let problem = table.problem().clone();
    let free = || (0..start.len()).filter(|&link| problem.locks[link].is_none());
    for link in free() {
        if let Some(at) = start[link] {
            table.place(link, at);
        }
    }
    if objective == Objective::MinInterference || table.total() < HARD {
        return;
    }
    // What a link takes part in breaking only shrinks as others go: an entry that is still the
    // greatest when it is looked at again needs no look at the rest.
    let mut heap: BinaryHeap<(i64, usize)> =
        free().map(|link| (mended(table, link, priorities), link)).collect();
    while table.total() >= HARD
        && let Some((_, link)) = heap.pop()
    {
        let mends = mended(table, link, priorities);
        if heap.peek().is_some_and(|&(next, _)| next > mends) {
            heap.push((mends, link));
        } else {
            table.lift(link);
        }
    }
}

/// Hard rules that would hold again without a placed link, for its priority.
fn mended(table: &mut Table, link: usize, priorities: &[u32]) -> i64 {
    let before = table.total();
    let Some(at) = table.lift(link) else { return 0 };
    let mends = (before - table.total()) / HARD;
    table.place(link, at);
    (mends << 16) / i64::from(priorities[link].max(1))
}
