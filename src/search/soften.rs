//! Soft costs of a clean plan: chains of moves that serve as much as before and break no hard rule.
//!
//! A link that costs something goes where it costs less; links it cannot live with there are put
//! elsewhere or left out, and so on a few steps deep. What makes the plan worse is undone. With costs on every
//! frequency but the present one of each link this is repair with the fewest retuned links.

use super::construct::Choice;
use super::service::eject;
use super::stream::Stream;
use super::watch::{Goal, Watch};
use super::{Improve, Objective};
use crate::table::{BAR, HARD, Table};

/// Links that one chain may put elsewhere.
const LONGEST: usize = 12;

/// One chain in so many may make the plan worse for a while.
const KICK: usize = 12;

/// Whether a search is after the least soft cost of what it can serve.
pub(super) fn softens(table: &Table, watch: &Watch) -> bool {
    watch.goal == Goal::Best
        && watch.run.objective == Objective::MaxService
        && table.problem().source.has_soft_costs()
}

/// Run a method, and lower the soft cost of its best plan in the last third of the budget: what cannot
/// be served must not take all the time from what costs.
pub(super) fn improve(table: &mut Table, method: Improve, stream: &mut Stream, watch: &mut Watch) {
    if !softens(table, watch) {
        return method(table, stream, watch);
    }
    watch.limit = watch.iterations.saturating_add(watch.left() / 3 * 2);
    method(table, stream, watch);
    watch.limit = u64::MAX;
    let links = 0..watch.run.priorities.len();
    if let Some((_, plan)) = &watch.best {
        let at = |link: usize| {
            plan[link].and_then(|hz| table.candidates_hz(link).binary_search(&hz).ok())
        };
        let moved: Vec<(usize, Option<usize>)> = links
            .clone()
            .map(|link| (link, at(link)))
            .filter(|&(l, at)| table.choice(l) != at)
            .collect();
        for &(link, _) in &moved {
            table.lift(link);
        }
        for (link, at) in moved {
            if let Some(at) = at {
                table.place(link, at);
            }
        }
    }
    let locks = &table.problem().locks;
    let free: Vec<usize> = links.filter(|&link| locks[link].is_none()).collect();
    soften(table, &free, stream, watch);
}

/// Lower the soft cost until the budget is spent or nothing costs; what is served never weighs less.
fn soften(table: &mut Table, free: &[usize], stream: &mut Stream, watch: &mut Watch) {
    let mut dear: Vec<usize> = Vec::new();
    let priorities = watch.run.priorities;
    let refused = (0..priorities.len()).filter(|&link| table.choice(link).is_none());
    let unserved: i64 = refused.map(|link| i64::from(priorities[link])).sum();
    // Priority not served, and cost.
    let mut now = (unserved, table.total());
    let mut best = now;
    while !free.is_empty() && !watch.met(now.0 as u64, now.1) && watch.tick() {
        if dear.is_empty() {
            dear.extend(free.iter().copied().filter(|&link| {
                table.choice(link).is_none_or(|at| table.cost(link, at) % HARD != 0)
            }));
            stream.shuffle(&mut dear);
        }
        // Two thirds of the chains begin with a link that costs or is left out; the others drift.
        let drifts = stream.one_in(3);
        let link = dear.pop().filter(|_| !drifts).unwrap_or_else(|| free[stream.below(free.len())]);
        let slack = (best.0 - now.0, best.1 - now.1);
        if let Some(lost) = Chain::new(table, priorities).run(link, slack, stream) {
            now = (now.0 + lost, table.total());
            if now < best {
                best = now;
                watch.offer(table);
            }
        }
    }
}

/// One chain of moves, which can be undone.
struct Chain<'t> {
    table: &'t mut Table,
    priorities: &'t [u32],
    locks: Vec<Option<usize>>,
    /// Where the links moved stood before.
    moved: Vec<(usize, Option<usize>)>,
    /// Links to be placed again.
    open: Vec<usize>,
    /// Priority that is served no more.
    lost: i64,
}

impl<'t> Chain<'t> {
    fn new(table: &'t mut Table, priorities: &'t [u32]) -> Self {
        let locks = table.problem().locks.clone();
        Self { table, priorities, locks, moved: Vec::new(), open: Vec::new(), lost: 0 }
    }

    /// Move `link` and whatever must make way. The priority lost if the plan changed, which then is
    /// worth no less; now and then it may be worth as much less than the best as the move costs, where
    /// `slack` is how far above the present plan the best is.
    fn run(mut self, link: usize, slack: (i64, i64), stream: &mut Stream) -> Option<i64> {
        let kick = stream.one_in(KICK);
        let before = self.table.total();
        let former = self.table.lift(link);
        self.moved.push((link, former));
        let own = if former.is_some() { before - self.table.total() } else { HARD };
        if former.is_none() {
            self.lost -= self.weight(link);
        }
        let own = if kick { HARD } else { own };
        let Some(at) = self.target(link, former, own, kick, stream) else {
            self.undo();
            return None;
        };
        let paid = self.table.cost(link, at) % HARD;
        let kept = self.take(link, at, stream) && self.place_open(stream);
        let limit = if kick { (slack.0, slack.1 + paid).max((0, 0)) } else { (0, 0) };
        if kept && (self.lost, self.table.total() - before) <= limit {
            return Some(self.lost);
        }
        self.undo();
        None
    }

    fn weight(&self, link: usize) -> i64 {
        i64::from(self.priorities[link])
    }

    /// A candidate with less soft cost than `own`, or none; one that breaks fewest rules, or any.
    fn target(
        &mut self,
        link: usize,
        former: Option<usize>,
        own: i64,
        kick: bool,
        stream: &mut Stream,
    ) -> Option<usize> {
        let any = stream.one_in(4);
        let row = self.table.row(link);
        let fits = |&(at, &cost): &(usize, &i64)| {
            Some(at) != former && cost < BAR && cost % HARD < own.max(1)
        };
        let open = row.iter().enumerate().filter(fits);
        if any {
            return stream.pick(open).map(|(at, _)| at);
        }
        // A kick looks at the rules alone.
        let worth = |cost: i64| if kick { cost / HARD } else { cost };
        let least = open.clone().map(|(_, &cost)| worth(cost)).min()?;
        stream.pick(open.filter(|&(_, &cost)| worth(cost) == least)).map(|(at, _)| at)
    }

    /// Place `link` on `at` and take off what cannot live with it; false where that cannot be.
    fn take(&mut self, link: usize, at: usize, stream: &mut Stream) -> bool {
        self.table.place(link, at);
        if self.table.total() < HARD {
            return true;
        }
        let (clean, ejected) = eject(self.table, link, &self.locks, self.priorities, stream);
        let mut whole = clean;
        for (other, former) in ejected {
            if self.moved.iter().any(|&(moved, _)| moved == other) {
                // A chain that comes back to where it was goes round in a circle.
                whole = false;
                continue;
            }
            self.moved.push((other, Some(former)));
            self.open.push(other);
        }
        whole
    }

    /// Find places for the links that made way, or leave them out.
    fn place_open(&mut self, stream: &mut Stream) -> bool {
        while let Some(link) = self.open.pop() {
            let (loose, longer) = (stream.one_in(8), !stream.one_in(4));
            let choice = if loose { Choice::Loose(stream) } else { Choice::Random(stream) };
            let clean = |&(cost, _): &(i64, usize)| cost < HARD;
            let going = longer && self.moved.len() < LONGEST;
            match { choice }.of(self.table, link) {
                Some(found) if clean(&found) => self.table.place(link, found.1),
                Some((cost, at)) if going && cost < BAR => {
                    if !self.take(link, at, stream) {
                        return false;
                    }
                }
                _ => self.lost += self.weight(link),
            }
            if self.lost > 0 && self.moved.len() >= LONGEST {
                return false;
            }
        }
        true
    }

    fn undo(&mut self) {
        for &(link, _) in &self.moved {
            self.table.lift(link);
        }
        for &(link, former) in &self.moved {
            if let Some(at) = former {
                self.table.place(link, at);
            }
        }
    }
}
