//! Local search for max-service: a clean partial plan, and ejection chains that bring refused links in.
//!
//! In the manner of PartialCol (Bloechliger and Zufferey 2008): the plan never breaks a hard rule; a
//! refused link is put where it breaks fewest, and the links it cannot live with are taken off instead.

use std::collections::BTreeMap;

use super::construct::Choice;
use super::soften::softens;
use super::stream::Stream;
use super::watch::Watch;
use crate::table::{HARD, Table};

/// Iterations without a better plan after which served links wander whatever it costs.
const STUCK: u64 = 100;

/// Improve a clean plan until the budget is spent or nothing is left to gain.
pub(super) fn improve(table: &mut Table, stream: &mut Stream, watch: &mut Watch) {
    let locks = table.problem().locks.clone();
    let priorities = watch.run.priorities;
    let weight = |link: usize| u64::from(priorities[link]);
    let free: Vec<usize> = (0..locks.len()).filter(|&link| locks[link].is_none()).collect();
    let mut refused: Vec<usize> =
        free.iter().copied().filter(|&link| table.choice(link).is_none()).collect();
    let locked_out: u64 = (0..locks.len())
        .filter(|&i| locks[i].is_some() && table.choice(i).is_none())
        .map(weight)
        .sum();
    let mut unserved: u64 = locked_out + refused.iter().copied().map(weight).sum::<u64>();
    let (mut best, mut found) = (unserved, watch.iterations);
    let heaviest = free.iter().copied().map(weight).max().unwrap_or(0);
    let mut tabu = vec![0_u64; locks.len()];
    let softens = softens(table, watch);
    while !refused.is_empty() && unserved > watch.run.bound && watch.tick() {
        let now = watch.iterations;
        if stream.one_in(3)
            && let Some(link) = near(table, &refused, &free, stream)
        {
            wander(table, link, softens && now > found + STUCK, stream);
        }
        let open = (0..refused.len()).filter(|&i| tabu[refused[i]] <= now);
        let slot = stream.pick(open).unwrap_or_else(|| stream.below(refused.len()));
        let link = refused[slot];
        // Where soft costs always decide, the same links would change places for ever.
        let loose = softens && stream.one_in(2);
        let choice = if loose { Choice::Loose(stream) } else { Choice::Random(stream) };
        let Some((cost, at)) = { choice }.of(table, link) else {
            // A link without candidates can never be served.
            tabu[link] = u64::MAX;
            continue;
        };
        table.place(link, at);
        let (clean, ejected) = if cost < HARD {
            (true, Vec::new())
        } else {
            eject(table, link, &locks, priorities, stream)
        };
        let lost: u64 = ejected.iter().map(|&(other, _)| weight(other)).sum();
        // Plans a little worse than the best are worth passing through; now and then much worse ones.
        let slack = if stream.one_in(8) { heaviest } else { weight(link) };
        // Far apart on a large site as many can be passed through at a time.
        let slack = slack * (1 + refused.len() as u64 / 4);
        let keep = clean && unserved + lost - weight(link) <= best + slack;
        if keep {
            refused.swap_remove(slot);
            unserved = unserved + lost - weight(link);
            for (other, _) in ejected {
                tabu[other] = now + 5 + stream.below(10 + refused.len()) as u64;
                refused.push(other);
            }
        } else {
            table.lift(link);
            for (other, former) in ejected {
                table.place(other, former);
            }
            tabu[link] = now + 2 + stream.below(8) as u64;
        }
        if unserved < best {
            (best, found) = (unserved, now);
            watch.offer(table);
        }
    }
    polish(table, &free, stream, watch);
}

/// A served link, mostly one whose place a refused link feels.
fn near(table: &Table, refused: &[usize], free: &[usize], stream: &mut Stream) -> Option<usize> {
    let problem = table.problem();
    let link = if stream.one_in(8) {
        free[stream.below(free.len())]
    } else {
        let class = problem.class_of[refused[stream.below(refused.len())]];
        let felt = table.touched(class).iter().map(|&k| &problem.classes[k].members);
        let mut at = stream.below(felt.clone().map(Vec::len).sum::<usize>().max(1));
        felt.flatten().copied().find(|_| {
            let found = at == 0;
            at = at.saturating_sub(1);
            found
        })?
    };
    (table.choice(link).is_some() && problem.locks[link].is_none()).then_some(link)
}

/// Move a served link to another of its cheapest frequencies.
fn wander(table: &mut Table, link: usize, loose: bool, stream: &mut Stream) {
    let Some(former) = table.lift(link) else { return };
    let choice = if loose { Choice::Loose(stream) } else { Choice::Random(stream) };
    let at = match { choice }.of(table, link) {
        Some((cost, at)) if cost < HARD => at,
        _ => former,
    };
    table.place(link, at);
}

/// Take off links until placed `link` is clean: each time the one whose absence mends most per priority.
///
/// Whether that made the plan clean (locked links never go), and the links taken off with their former candidates.
pub(super) fn eject(
    table: &mut Table,
    link: usize,
    locks: &[Option<usize>],
    priorities: &[u32],
    stream: &mut Stream,
) -> (bool, Vec<(usize, usize)>) {
    let mut broken = table.conflicts(link);
    let mut ejected = Vec::new();
    while !broken.is_empty() {
        let mut counts: BTreeMap<usize, u64> = BTreeMap::new();
        for other in broken.iter().flatten().filter(|&&other| locks[other].is_none()) {
            *counts.entry(*other).or_default() += 1;
        }
        // Compare count / priority without division.
        let worth =
            |(&other, &count): (&usize, &u64)| (count << 32) / u64::from(priorities[other].max(1));
        let most = counts.iter().map(worth).max();
        let victim = stream.pick(counts.iter().filter(|&entry| Some(worth(entry)) == most));
        let Some((&victim, _)) = victim else { return (false, ejected) };
        ejected.extend(table.lift(victim).map(|former| (victim, former)));
        broken.retain(|rule| !rule.contains(&victim));
        if broken.is_empty() && table.total() >= HARD {
            // The list was capped: look again.
            broken = table.conflicts(link);
        }
    }
    // Products of several still carriers between raster positions cost before they conflict.
    (table.total() < HARD, ejected)
}

/// Make a full plan with conflicts clean, offer it, and put everything back.
pub(super) fn harvest(table: &mut Table, stream: &mut Stream, watch: &mut Watch) {
    let locks = table.problem().locks.clone();
    let mut taken: Vec<(usize, usize)> = Vec::new();
    let mut order: Vec<usize> = (0..locks.len()).filter(|&link| locks[link].is_none()).collect();
    stream.shuffle(&mut order);
    // Low priority goes first; what turns out to be clean after all comes back.
    order.sort_by_key(|&link| watch.run.priorities[link]);
    for &link in &order {
        if table.total() < HARD {
            break;
        }
        let before = table.total();
        let Some(former) = table.lift(link) else { continue };
        if before - table.total() < HARD {
            table.place(link, former);
        } else {
            taken.push((link, former));
        }
    }
    for &(link, _) in taken.iter().rev() {
        if let Some((cost, at)) = Choice::Random(stream).of(table, link)
            && cost < HARD
        {
            table.place(link, at);
        }
    }
    watch.offer(table);
    for (link, former) in taken {
        table.lift(link);
        table.place(link, former);
    }
}

/// Move served links to cheaper clean frequencies until none gains. Soft costs only.
fn polish(table: &mut Table, free: &[usize], stream: &mut Stream, watch: &mut Watch) {
    let mut order = free.to_vec();
    let mut gained = true;
    while gained && table.total() > 0 && watch.may_go_on() {
        gained = false;
        stream.shuffle(&mut order);
        for &link in &order {
            if !watch.tick() {
                break;
            }
            let before = table.total();
            let Some(former) = table.lift(link) else { continue };
            let at = Choice::Lowest.of(table, link).map_or(former, |(_, at)| at);
            table.place(link, at);
            if table.total() > before {
                table.lift(link);
                table.place(link, former);
            }
            gained |= table.total() < before;
        }
        watch.offer(table);
    }
}
