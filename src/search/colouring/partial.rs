//! PartialCol (Bloechliger and Zufferey 2008): partial colourings without conflicts; whoever comes to a
//! colour drives its neighbours out of it.

use std::sync::Arc;

use super::classes::{Bag, Classes};
use super::climb::{Choice, Climb};
use super::counts::{COUNT, Counts};
use super::graph::Graph;
use super::{Colour, NONE};
use crate::search::stream::Stream;

/// How long a vertex driven out may not come back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tenure {
    /// In proportion to the vertices without a colour.
    Dynamic,
    /// Longer while the number of them hardly changes (FOO-PartialCol).
    Reactive,
}

/// Iterations between two looks at how the search fluctuates, and by how much the tenure then rises.
const PHASES: [(u32, usize); 9] = [
    (10_000, 10),
    (10_000, 15),
    (10_000, 5),
    (5_000, 15),
    (5_000, 10),
    (5_000, 5),
    (1_000, 15),
    (1_000, 10),
    (1_000, 5),
];

/// The heaviest weight of a vertex.
const HEAVIEST: usize = 12;

/// A partial colouring under moves.
#[derive(Debug)]
pub(super) struct Partial {
    graph: Arc<Graph>,
    colours: usize,
    counts: Counts,
    classes: Classes,
    /// Vertices without a colour.
    pub(super) open: Bag,
    /// What each vertex counts while it has none.
    weights: Vec<u16>,
    /// What they count together now.
    pub(super) total: i32,
    /// The least they counted since the last load, and that colouring.
    pub(super) best: (i32, Vec<Colour>),
    tenure: Tenure,
    reactive: usize,
    phase: usize,
    since: u32,
    range: (usize, usize),
    choice: Choice,
    driven: Vec<u32>,
}

impl Partial {
    /// With weights, vertices of high degree are coloured first of all; else all count the same.
    pub(super) fn new(graph: Arc<Graph>, colours: usize, tenure: Tenure, weighed: bool) -> Self {
        let n = graph.len();
        let weights = if weighed { weights(&graph) } else { vec![1; n] };
        Self {
            graph,
            colours,
            counts: Counts::new(n, colours),
            classes: Classes::new(n, colours),
            open: Bag::new(n),
            best: (i32::MAX, vec![NONE; n]),
            weights,
            total: 0,
            tenure,
            reactive: 10,
            phase: 0,
            since: 0,
            range: (usize::MAX, 0),
            choice: Choice::default(),
            driven: Vec::new(),
        }
    }

    /// Take over a colouring, without those that are in conflict, one after the other.
    pub(super) fn load(&mut self, plan: &[Colour]) {
        self.counts.clear();
        self.classes.clear();
        self.open.clear();
        for (v, &colour) in plan.iter().enumerate() {
            if usize::from(colour) < self.colours && self.counts.count(v, colour) == 0 {
                self.classes.put(v, colour);
                self.counts.add(&self.graph, v, colour, self.weights[v]);
            } else {
                self.open.set(v, true);
            }
        }
        self.total = self.open.list.iter().map(|&v| i32::from(self.weights[v as usize])).sum();
        self.best.0 = self.total;
        self.best.1.copy_from_slice(&self.classes.colour);
        self.range = (usize::MAX, 0);
        self.since = 0;
    }

    /// What the search has cost so far.
    pub(super) fn work(&self) -> u64 {
        self.counts.work
    }

    fn react(&mut self, stream: &mut Stream) {
        let open = self.open.list.len();
        self.range = (self.range.0.min(open), self.range.1.max(open));
        self.since += 1;
        let (often, more) = PHASES[self.phase];
        if self.since >= often {
            self.since = 0;
            if self.range.1 - self.range.0 <= 1 {
                self.reactive += more;
                self.phase = stream.below(PHASES.len());
            } else {
                self.reactive = self.reactive.saturating_sub(1).max(1);
            }
            self.range = (usize::MAX, 0);
        }
    }

    /// Colour an open vertex; its neighbours of that colour are driven out.
    pub(super) fn colour(&mut self, v: usize, colour: Colour) {
        let Self { graph, counts, classes, open, driven, weights, total, .. } = self;
        driven.clear();
        driven.extend(
            classes.members(colour).iter().filter(|&&other| graph.joined(v, other as usize)),
        );
        for &other in driven.iter() {
            classes.take(other as usize);
            counts.remove(graph, other as usize, colour, weights[other as usize]);
            *total += i32::from(weights[other as usize]);
            open.set(other as usize, true);
        }
        open.set(v, false);
        classes.put(v, colour);
        counts.add(graph, v, colour, weights[v]);
        *total -= i32::from(weights[v]);
    }

    /// The colouring as it is.
    #[cfg(test)]
    pub(super) fn plan(&self) -> &[Colour] {
        &self.classes.colour
    }
}

impl Climb for Partial {
    fn step(&mut self, stream: &mut Stream) {
        self.counts.step();
        if self.tenure == Tenure::Reactive {
            self.react(stream);
        }
        self.counts.look(self.open.list.len());
        let wanted = self.best.0 - self.total - 1;
        let Self { counts, open, choice, weights, .. } = &mut *self;
        let here = |v: u32| i32::from(weights[v as usize]);
        let found = choice.of(counts, &open.list, here, wanted, stream);
        let Some((vertex, colour)) = found else { return };
        self.colour(vertex as usize, colour);
        let tenure = match self.tenure {
            Tenure::Dynamic => self.open.list.len() * 6 / 10 + stream.below(10),
            Tenure::Reactive => self.reactive,
        };
        for i in 0..self.driven.len() {
            self.counts.ban(self.driven[i] as usize, colour, tenure + 1);
        }
        if self.total < self.best.0 {
            self.best.0 = self.total;
            self.best.1.copy_from_slice(&self.classes.colour);
        }
    }

    fn left(&self) -> i32 {
        self.best.0
    }
}

/// Weights in proportion to the degrees (Malaguti, Monaci and Toth 2008), small enough to be counted.
fn weights(graph: &Graph) -> Vec<u16> {
    let n = graph.len();
    let most = (0..n).map(|v| graph.degree(v)).max().unwrap_or(0).max(1);
    let scale = HEAVIEST.min(usize::from(COUNT) / most).max(1);
    (0..n).map(|v| (graph.degree(v) * scale).div_ceil(most).max(1) as u16).collect()
}
