//! Local search for min-interference: every link placed, conflicts allowed and counted.
//!
//! Min-conflicts with a tabu list, after TabuCol (Hertz and de Werra 1987): a link in conflict moves to
//! the cheapest frequency it has not just left.

use super::construct::{Choice, open_links};
use super::stream::Stream;
use super::watch::Watch;
use crate::table::Table;

/// Improve a full plan until the budget is spent or nothing is left to gain.
pub(super) fn improve(table: &mut Table, stream: &mut Stream, watch: &mut Watch) {
    for link in open_links(table) {
        if let Some((_, at)) = Choice::Random(stream).of(table, link) {
            table.place(link, at);
        }
    }
    watch.offer(table);
    let free: Vec<usize> = {
        let locks = &table.problem().locks;
        (0..locks.len()).filter(|&i| locks[i].is_none() && table.choice(i).is_some()).collect()
    };
    // Per link: the candidate it left, and the iteration until which it may not return.
    let mut left = vec![(usize::MAX, 0_u64); table.problem().locks.len()];
    let mut suspects: Vec<usize> = Vec::new();
    let mut best = table.total();
    while !watch.met(0, table.total()) && watch.tick() {
        if suspects.is_empty() {
            suspects.clone_from(&free);
            stream.shuffle(&mut suspects);
        }
        let Some(link) = suspects.pop() else { break };
        let Some(former) = table.lift(link) else { continue };
        if table.cost(link, former) == 0 {
            table.place(link, former);
            continue;
        }
        let barred = if left[link].1 > watch.iterations { left[link].0 } else { usize::MAX };
        let at = cheapest_but(table, link, [former, barred], stream).unwrap_or(former);
        table.place(link, at);
        left[link] = (former, watch.iterations + 10 + stream.below(10 + free.len()) as u64);
        if table.cost(link, at) > 0 {
            let locks = &table.problem().locks;
            let near = table.conflicts(link);
            suspects.extend(near.into_iter().flatten().filter(|&other| locks[other].is_none()));
        }
        if table.total() < best {
            best = table.total();
            watch.offer(table);
        }
    }
}

/// One of the cheapest candidates of `link` outside `barred`, at random.
fn cheapest_but(
    table: &mut Table,
    link: usize,
    barred: [usize; 2],
    stream: &mut Stream,
) -> Option<usize> {
    let row = table.row(link);
    let allowed = || row.iter().enumerate().filter(|(at, _)| !barred.contains(at));
    let least = allowed().map(|(_, &cost)| cost).min()?;
    stream.pick(allowed().filter(|&(_, &cost)| cost == least).map(|(at, _)| at))
}
