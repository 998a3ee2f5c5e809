//! TabuCol (Hertz and de Werra 1987): a full plan with conflicts; the best move of all links in conflict.
//!
//! Where a link's own carrier does not change its row (pair rules alone), all moves of all links in
//! conflict are compared without a move being made. Elsewhere links in conflict are taken one at a time,
//! as in [`super::interference`].

use super::construct::{Choice, open_links};
use super::interference;
use super::service::harvest;
use super::stream::Stream;
use super::tabu::Tabu;
use super::watch::{Goal, Watch};
use crate::search::{Method, Objective};
use crate::table::{HARD, Table};

/// Improve a full plan until the budget is spent or nothing is left to gain.
pub(super) fn improve(table: &mut Table, stream: &mut Stream, watch: &mut Watch) {
    for link in open_links(table) {
        if let Some((_, at)) = Choice::Random(stream).of(table, link) {
            table.place(link, at);
        }
    }
    if let Some(pairwise) = &watch.run.pairwise
        && pairwise.improve(Method::Tabucol, table, stream, watch)
    {
        return;
    }
    let locks = table.problem().locks.clone();
    let free: Vec<usize> =
        (0..locks.len()).filter(|&i| locks[i].is_none() && table.choice(i).is_some()).collect();
    if free.iter().all(|&link| table.steady(link)) {
        steady(table, &free, stream, watch);
    } else {
        interference::improve(table, stream, watch);
    }
    if watch.goal == Goal::Best && watch.run.objective == Objective::MaxService {
        harvest(table, stream, watch);
    }
}

fn steady(table: &mut Table, free: &[usize], stream: &mut Stream, watch: &mut Watch) {
    let hard_only = watch.goal == Goal::Clean || watch.run.objective == Objective::MaxService;
    let enough = if hard_only { HARD } else { 1 };
    let mut tabu = Tabu::new(table.problem().locks.len());
    let mut best = table.total();
    watch.offer(table);
    while !watch.met(0, table.total()) && watch.tick() {
        let now = watch.iterations;
        let mut found: Option<(i64, usize, usize, usize)> = None;
        let (mut ties, mut conflicts) = (0, 0_u64);
        for &link in free {
            let Some(former) = table.choice(link) else { continue };
            let cost = table.cost(link, former);
            if cost < enough {
                continue;
            }
            conflicts += 1;
            // Forbidden moves are taken when they lead to a new best.
            let aspired = best - table.total() + cost - 1;
            let row = tabu.masked(table, link, now, aspired);
            row[former] = i64::MAX;
            let Some(least) = row.iter().copied().min().filter(|&cost| cost < i64::MAX) else {
                continue;
            };
            let gain = least - cost;
            if found.is_some_and(|(known, ..)| gain > known) {
                continue;
            }
            if found.is_none_or(|(known, ..)| gain < known) {
                ties = 0;
            }
            for (at, _) in row.iter().enumerate().filter(|&(_, &cost)| cost == least) {
                ties += 1;
                if stream.below(ties) == 0 {
                    found = Some((gain, link, at, former));
                }
            }
        }
        let Some((_, link, at, former)) = found else {
            if conflicts == 0 {
                break;
            }
            continue;
        };
        table.lift(link);
        table.place(link, at);
        // Where soft rules put every link in conflict, a tenure in proportion would freeze the search.
        let tenure = (conflicts * 6 / 10).min(10 + free.len() as u64 / 20);
        tabu.forbid(link, former, now + 1 + stream.below(10) as u64 + tenure);
        if table.total() < best {
            best = table.total();
            watch.offer(table);
        }
    }
}
