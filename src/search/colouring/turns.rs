//! The methods that take turns at one number of colours, each by its share of the work.
//!
//! Work is counted, not timed, so that the same seed does the same.

use std::sync::Arc;

use super::climb::Climb;
use super::evolve::Evolve;
use super::graph::Graph;
use super::iterated::Iterated;
use super::kernel::Kernel;
use super::partial::{Partial, Tenure};
use super::{Colour, NONE, Sink, keep_largest};
use crate::search::stream::Stream;
use crate::search::watch::Watch;

/// Shares of the work: PartialCol, the same with weights, the hybrid, iterated greedy, and the probes together.
const SHARES: [u64; 5] = [2, 2, 2, 1, 2];
/// What is added to the share of the first three that is closest to its end.
const LEAD: u64 = 10;
/// Turns that go to the method that won last before the others have theirs.
const AGAIN: u64 = 2;
/// Turns before the first probe.
const FIRST: u64 = 15;
/// Iterations of a turn, for each vertex.
const TURN: u64 = 20;
/// How many colours fewer the standing probes try, and whether with weights.
const NEAR: [(usize, bool); 2] = [(1, true), (2, false)];
/// The far probes try so large a part fewer of the colours above the bound.
const FAR: [usize; 3] = [2, 4, 8];
/// A far probe goes on while two turns leave one in so many fewer without a colour.
const HASTE: i32 = 50;

/// A colouring with fewer colours than asked for is looked for beside the main search: hidden structure
/// may give way there and not in between.
#[derive(Debug)]
struct Probe {
    kernel: Kernel,
    colours: usize,
    partial: Partial,
}

impl Probe {
    fn new(whole: &Graph, plan: &[Colour], colours: usize, tenure: Tenure, weighed: bool) -> Self {
        let kernel = Kernel::of(whole, colours);
        let mut plan = plan.to_vec();
        keep_largest(&mut plan, colours);
        let mut partial = Partial::new(Arc::clone(&kernel.graph), colours, tenure, weighed);
        partial.load(&kernel.part(&plan));
        Self { kernel, colours, partial }
    }

    fn search(
        &mut self,
        whole: &Graph,
        steps: u64,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> (bool, Option<Vec<Colour>>) {
        let on = self.partial.search(steps, stream, watch);
        let (open, part) = &self.partial.best;
        (on, (*open == 0).then(|| self.kernel.restore(whole, part, self.colours)))
    }
}

impl Probe {
    /// Search while it gets on: hidden structure shows itself in steady progress, where else there is none.
    fn hurry(
        &mut self,
        whole: &Graph,
        turn: u64,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> (bool, Option<Vec<Colour>>) {
        loop {
            let before = self.partial.best.0;
            let (on, found) = self.search(whole, 2 * turn, stream, watch);
            let gained = before - self.partial.best.0;
            if found.is_some() || !on || gained < before / HASTE + 1 {
                return (on, found);
            }
        }
    }
}

/// What the search for more colours has shown.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Past {
    /// It was looked far below.
    probed: bool,
    /// The method that found the last colouring.
    winner: usize,
}

/// The search for one number of colours.
#[derive(Debug)]
pub(super) struct Turns<'w> {
    whole: &'w Graph,
    plan: &'w [Colour],
    colours: usize,
    kernel: Kernel,
    partial: Partial,
    weighed: Partial,
    iterated: Iterated,
    evolve: Evolve,
    near: Vec<Probe>,
    /// Whose turn it is among the near probes.
    next: usize,
    pub(super) past: Past,
    /// Turns taken.
    taken: u64,
}

impl<'w> Turns<'w> {
    /// Look for `colours` colours, from a proper colouring with more of them and another, perhaps partial, one.
    pub(super) fn new(
        whole: &'w Graph,
        plan: &'w [Colour],
        other: &[Colour],
        colours: usize,
        restart: u64,
        past: Past,
    ) -> Self {
        let kernel = Kernel::of(whole, colours);
        let parents = [plan, other].map(|plan| {
            let mut plan = plan.to_vec();
            keep_largest(&mut plan, colours);
            kernel.part(&plan)
        });
        let graph = &kernel.graph;
        let tenure = if restart.is_multiple_of(2) { Tenure::Dynamic } else { Tenure::Reactive };
        let mut partial = Partial::new(Arc::clone(graph), colours, tenure, false);
        let mut weighed = Partial::new(Arc::clone(graph), colours, Tenure::Reactive, true);
        weighed.load(&parents[0]);
        partial.load(&parents[0]);
        Self {
            whole,
            plan,
            colours,
            partial,
            weighed,
            iterated: Iterated::new(Arc::clone(graph), kernel.part(plan)),
            evolve: Evolve::new(Arc::clone(graph), colours, parents),
            kernel,
            near: Vec::new(),
            next: 0,
            past,
            taken: 0,
        }
    }

    /// A proper colouring of the whole graph, if there is one before the end.
    pub(super) fn run(
        &mut self,
        sink: &dyn Sink,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> Option<Vec<Colour>> {
        let turn = TURN * self.kernel.kept.len() as u64;
        // Work done by each, in parts of its share.
        let mut done = [0_u64; 5];
        loop {
            if sink.below(watch).is_none_or(|below| below <= self.colours) {
                return None;
            }
            self.taken += 1;
            let whose = if self.taken <= AGAIN {
                self.past.winner
            } else {
                (0..5).min_by_key(|&i| done[i]).unwrap_or(0)
            };
            let mut share = SHARES[whose];
            if whose == self.leader() {
                share += LEAD;
            }
            let (on, found, spent) = match whose {
                0..4 => self.take(whose, turn, stream, watch),
                _ if self.taken < FIRST => {
                    done[4] = done[0].max(done[4]) + 1;
                    continue;
                }
                _ => {
                    let (on, found, spent) = self.probe(sink, stream, watch);
                    if found.is_some() {
                        return found;
                    }
                    (on, None, spent)
                }
            };
            if let Some(part) = found {
                self.past.winner = whose;
                return Some(self.kernel.restore(self.whole, &part, self.colours));
            }
            if !on {
                return None;
            }
            done[whose] += spent / share + 1;
        }
    }

    /// A short look by the method that won last.
    pub(super) fn glance(&mut self, stream: &mut Stream, watch: &mut Watch) -> Option<Vec<Colour>> {
        let turn = TURN * self.kernel.kept.len() as u64;
        for _ in 0..AGAIN {
            self.taken += 1;
            let (on, found, _) = self.take(self.past.winner.min(3), turn, stream, watch);
            if let Some(part) = found {
                return Some(self.kernel.restore(self.whole, &part, self.colours));
            }
            if !on {
                return None;
            }
        }
        None
    }

    /// Whether the first turns were enough.
    pub(super) fn easy(&self) -> bool {
        self.taken <= AGAIN
    }

    /// A turn of one of the first four methods: whether the search may go on, a colouring of the kernel,
    /// and the work done.
    fn take(
        &mut self,
        whose: usize,
        turn: u64,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> (bool, Option<Vec<Colour>>, u64) {
        match whose {
            0 | 1 => {
                let partial = if whose == 0 { &mut self.partial } else { &mut self.weighed };
                let before = partial.work();
                let on = partial.search(turn, stream, watch);
                let (total, plan) = &partial.best;
                (on, (*total == 0).then(|| plan.clone()), partial.work() - before)
            }
            2 => {
                let before = self.evolve.work();
                let (on, found) = self.evolve.step(stream, watch);
                (on, found, self.evolve.work() - before)
            }
            _ => {
                let before = self.iterated.work;
                let on = self.iterated.search(self.colours, turn, stream, watch);
                let met = self.iterated.used <= self.colours;
                let found = met.then(|| self.iterated.plan.clone());
                (on, found, self.iterated.work - before)
            }
        }
    }

    /// Which of the first three methods has the least left to settle.
    fn leader(&self) -> usize {
        let open = |partial: &Partial| partial.best.1.iter().filter(|&&it| it == NONE).count();
        let left = [open(&self.partial), open(&self.weighed), self.evolve.best.max(0) as usize];
        (0..3).rev().min_by_key(|&i| left[i]).unwrap_or(2)
    }

    /// A look at fewer colours: far below at first, later close by.
    fn probe(
        &mut self,
        sink: &dyn Sink,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> (bool, Option<Vec<Colour>>, u64) {
        let n = self.whole.len() as u64;
        let floor = sink.floor(watch).max(2);
        let mut spent = 0;
        if !std::mem::replace(&mut self.past.probed, true) {
            for part in FAR {
                let colours = self.colours - self.colours.saturating_sub(floor) / part;
                if colours + 2 > self.colours {
                    break;
                }
                let mut probe = Probe::new(self.whole, self.plan, colours, Tenure::Dynamic, false);
                let (on, found) = probe.hurry(self.whole, TURN * n, stream, watch);
                spent += probe.partial.work();
                if found.is_some() || !on {
                    return (on, found, spent);
                }
            }
        }
        if self.near.is_empty() {
            self.near = NEAR
                .iter()
                .filter(|(depth, _)| depth + floor <= self.colours)
                .map(|&(depth, weighed)| {
                    let colours = self.colours - depth;
                    Probe::new(self.whole, self.plan, colours, Tenure::Reactive, weighed)
                })
                .collect();
        }
        let count = self.near.len().max(1);
        self.next = (self.next + 1) % count;
        let Some(probe) = self.near.get_mut(self.next) else { return (true, None, spent) };
        let before = probe.partial.work();
        let (on, found) = probe.search(self.whole, TURN * n, stream, watch);
        spent += probe.partial.work() - before;
        (on, found, spent)
    }

    /// Another colouring than the one found, to go on with.
    pub(super) fn mate(&self) -> Vec<Colour> {
        let mut mate = vec![NONE; self.whole.len()];
        for (&v, &colour) in self.kernel.kept.iter().zip(&self.evolve.parents()[1]) {
            mate[v as usize] = colour;
        }
        mate
    }
}
