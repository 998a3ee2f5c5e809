//! Large-neighbourhood search (Shaw 1998): take some links off, put them back better.
//!
//! Half of the time the links taken off are related (they touch one another's rows), else any. What is
//! rebuilt is kept when it is no worse than before, so that the search drifts across plateaus.

use super::construct::{Choice, open_links};
use super::soften::softens;
use super::stream::Stream;
use super::watch::{Goal, Watch};
use crate::search::Objective;
use crate::table::{BAR, HARD, Table};

/// The most links taken off at once.
const LARGEST: usize = 40;

/// Improve a plan until the budget is spent or nothing is left to gain.
pub(super) fn improve(table: &mut Table, stream: &mut Stream, watch: &mut Watch) {
    let tolerant = watch.goal == Goal::Best && watch.run.objective == Objective::MinInterference;
    let mut lns = Lns { limit: if tolerant { BAR } else { HARD }, loose: false };
    lns.rebuild(table, open_links(table), stream);
    lns.loose = softens(table, watch);
    watch.offer(table);
    let locks = table.problem().locks.clone();
    let free: Vec<usize> = (0..locks.len()).filter(|&link| locks[link].is_none()).collect();
    let mut now = worth(table, watch);
    let mut best = now;
    let mut size = 3_usize;
    while !free.is_empty() && !watch.met(now.0, now.1) && watch.tick() {
        let before: Vec<(usize, Option<usize>)> =
            free.iter().map(|&l| (l, table.choice(l))).collect();
        let chosen = pick(table, &free, size.min(free.len()), stream);
        for &link in &chosen {
            table.lift(link);
        }
        lns.rebuild(table, open_links(table), stream);
        let after = worth(table, watch);
        if after > now {
            restore(table, &before);
            // A larger neighbourhood once small ones fail.
            size = if size < LARGEST && stream.one_in(50) { size + 1 } else { size };
        } else {
            if after < now {
                size = 3;
            }
            now = after;
            if now < best {
                best = now;
                watch.offer(table);
            }
        }
    }
    watch.offer(table);
}

/// Unserved priority, then cost.
fn worth(table: &Table, watch: &Watch) -> (u64, i64) {
    let priorities = watch.run.priorities;
    let refused = (0..priorities.len()).filter(|&link| table.choice(link).is_none());
    (refused.map(|link| u64::from(priorities[link])).sum(), table.total())
}

fn restore(table: &mut Table, before: &[(usize, Option<usize>)]) {
    let changed: Vec<_> =
        before.iter().copied().filter(|&(link, at)| table.choice(link) != at).collect();
    for &(link, _) in &changed {
        table.lift(link);
    }
    for (link, at) in changed {
        if let Some(at) = at {
            table.place(link, at);
        }
    }
}

/// Links to take off: any, or such as touch one another.
fn pick(table: &Table, free: &[usize], size: usize, stream: &mut Stream) -> Vec<usize> {
    let mut chosen: Vec<usize> = Vec::new();
    let related = stream.one_in(2);
    let problem = table.problem();
    let mut seed = free[stream.below(free.len())];
    for _ in 0..4 * size {
        if chosen.len() == size {
            break;
        }
        let touched = table.touched(problem.class_of[seed]);
        let link = if related && !touched.is_empty() && !stream.one_in(8) {
            let members = &problem.classes[touched[stream.below(touched.len())]].members;
            members[stream.below(members.len())]
        } else {
            free[stream.below(free.len())]
        };
        if problem.locks[link].is_none() && !chosen.contains(&link) {
            chosen.push(link);
            seed = link;
        }
    }
    chosen
}

/// The rebuilding of a plan.
struct Lns {
    /// A link is left off when its cheapest candidate costs this or more.
    limit: i64,
    /// Now and then a link goes anywhere clean, whatever its soft cost.
    loose: bool,
}

impl Lns {
    /// Place open links: the one with the fewest cheapest candidates next, or any order where many are open.
    fn rebuild(&mut self, table: &mut Table, mut open: Vec<usize>, stream: &mut Stream) {
        stream.shuffle(&mut open);
        let choosy = open.len() <= LARGEST;
        while !open.is_empty() {
            let slot = if choosy {
                let scarce = |&i: &usize| {
                    let (least, all) = table.cheapest(open[i]);
                    (std::cmp::Reverse(least), all.count())
                };
                (0..open.len()).min_by_key(scarce).unwrap_or(0)
            } else {
                open.len() - 1
            };
            let link = open.swap_remove(slot);
            // Where soft costs always decide, the same links would come back to the same places.
            let loose = self.loose && stream.one_in(4);
            let choice = if loose { Choice::Loose(stream) } else { Choice::Random(stream) };
            if let Some((cost, at)) = { choice }.of(table, link)
                && cost < self.limit
            {
                table.place(link, at);
            }
        }
    }
}
