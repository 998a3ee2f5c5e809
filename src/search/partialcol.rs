//! PartialCol (Bloechliger and Zufferey 2008): a clean partial plan, and a tabu list of exclusions.
//!
//! Each iteration looks at all frequencies of the refused links, takes the one that breaks fewest rules,
//! puts the link there, and takes off the links it cannot live with; they may not return to the frequency
//! they lost for a while.

use super::interference;
use super::service::eject;
use super::stream::Stream;
use super::tabu::Tabu;
use super::watch::Watch;
use crate::search::Objective;
use crate::table::{HARD, Table};

/// Refused links looked at in one iteration.
const LOOKED_AT: usize = 24;

/// Improve a clean plan until the budget is spent or nothing is left to gain.
pub(super) fn improve(table: &mut Table, stream: &mut Stream, watch: &mut Watch) {
    let locks = table.problem().locks.clone();
    let priorities = watch.run.priorities;
    clear(table, &locks, stream);
    let mut refused: Vec<usize> =
        (0..locks.len()).filter(|&i| locks[i].is_none() && table.choice(i).is_none()).collect();
    let weight = |link: usize| u64::from(priorities[link]);
    let locked_out: u64 = (0..locks.len())
        .filter(|&i| locks[i].is_some() && table.choice(i).is_none())
        .map(weight)
        .sum();
    let mut unserved = locked_out + refused.iter().map(|&link| weight(link)).sum::<u64>();
    let mut best = u64::MAX;
    let mut tabu = Tabu::new(locks.len());
    while !refused.is_empty() && !watch.met(unserved, table.total()) && watch.tick() {
        let now = watch.iterations;
        stream.shuffle(&mut refused);
        let mut found: Option<(i64, usize, usize)> = None;
        let mut ties = 0;
        for (slot, &link) in refused.iter().enumerate().take(LOOKED_AT) {
            // Rules broken per priority won.
            let scale = 64 / i64::from(priorities[link].clamp(1, 64));
            let row = tabu.masked(table, link, now, 0);
            let Some(least) = row.iter().copied().min().filter(|&cost| cost < crate::table::BAR)
            else {
                continue;
            };
            let price = (least / HARD) * scale;
            if found.is_some_and(|(known, ..)| price > known) {
                continue;
            }
            if found.is_none_or(|(known, ..)| price < known) {
                ties = 0;
            }
            for (at, _) in row.iter().enumerate().filter(|&(_, &cost)| cost == least) {
                ties += 1;
                if stream.below(ties) == 0 {
                    found = Some((price, slot, at));
                }
            }
        }
        let Some((_, slot, at)) = found else { continue };
        let link = refused[slot];
        table.place(link, at);
        let ejected = if table.total() < HARD {
            Vec::new()
        } else {
            let (clean, ejected) = eject(table, link, &locks, priorities, stream);
            if !clean {
                // A locked link is in the way: this frequency is of no use for long.
                table.lift(link);
                for (other, former) in ejected {
                    table.place(other, former);
                }
                tabu.forbid(link, at, now + 1_000);
                continue;
            }
            ejected
        };
        refused.swap_remove(slot);
        unserved -= weight(link);
        let tenure = stream.below(10) as u64 + 6 * (refused.len() + ejected.len()) as u64 / 10;
        for (other, former) in ejected {
            tabu.forbid(other, former, now + 1 + tenure);
            unserved += weight(other);
            refused.push(other);
        }
        if unserved < best {
            best = unserved;
            watch.offer(table);
        }
    }
    watch.offer(table);
    if watch.run.objective == Objective::MinInterference {
        interference::improve(table, stream, watch);
    }
}

/// Take links off until no hard rule is broken.
fn clear(table: &mut Table, locks: &[Option<usize>], stream: &mut Stream) {
    let mut order: Vec<usize> = (0..locks.len()).filter(|&link| locks[link].is_none()).collect();
    stream.shuffle(&mut order);
    for link in order {
        if table.total() < HARD {
            break;
        }
        let before = table.total();
        if let Some(former) = table.lift(link)
            && before - table.total() < HARD
        {
            table.place(link, former);
        }
    }
}
