//! TabuCol (Hertz and de Werra 1987): full colourings with conflicts, the best move of all in conflict.
//!
//! Tenures as in Galinier and Hao (1999).

use std::sync::Arc;

use super::classes::{Bag, Classes};
use super::climb::{Choice, Climb};
use super::counts::Counts;
use super::graph::Graph;
use super::{Colour, NONE};
use crate::search::stream::Stream;

/// A full colouring under moves.
#[derive(Debug)]
pub(super) struct Tabu {
    graph: Arc<Graph>,
    colours: usize,
    counts: Counts,
    classes: Classes,
    /// Vertices in conflict.
    active: Bag,
    /// Edges in conflict.
    pub(super) total: i32,
    /// Least conflicts since the last load, and that colouring.
    pub(super) best: (i32, Vec<Colour>),
    choice: Choice,
}

impl Tabu {
    pub(super) fn new(graph: Arc<Graph>, colours: usize) -> Self {
        let n = graph.len();
        Self {
            graph,
            colours,
            counts: Counts::new(n, colours),
            classes: Classes::new(n, colours),
            active: Bag::new(n),
            total: 0,
            best: (i32::MAX, vec![NONE; n]),
            choice: Choice::default(),
        }
    }

    /// Take over a colouring; a vertex without a colour takes its cheapest, one after the other.
    pub(super) fn load(&mut self, plan: &[Colour]) {
        self.counts.clear();
        self.classes.clear();
        self.active.clear();
        self.total = 0;
        let coloured = |&(_, &colour): &(usize, &Colour)| usize::from(colour) < self.colours;
        for (v, &colour) in plan.iter().enumerate().filter(coloured) {
            self.classes.put(v, colour);
            self.counts.add(&self.graph, v, colour, 1);
        }
        for v in 0..plan.len() {
            if self.classes.colour[v] == NONE {
                let row = self.counts.row(v);
                let colour = (0..row.len()).min_by_key(|&c| row[c]).unwrap_or(0) as Colour;
                self.classes.put(v, colour);
                self.counts.add(&self.graph, v, colour, 1);
            }
        }
        for v in 0..plan.len() {
            let colour = self.classes.colour[v];
            let count = self.counts.count(v, colour);
            self.total += i32::from(count);
            self.active.set(v, count > 0);
            self.counts.mark_own(v, colour, true);
        }
        self.total /= 2;
        self.best.0 = self.total;
        self.best.1.copy_from_slice(&self.classes.colour);
    }

    /// What the search has cost so far.
    pub(super) fn work(&self) -> u64 {
        self.counts.work
    }

    /// Give a vertex another colour; the former one.
    pub(super) fn assign(&mut self, v: usize, colour: Colour) -> Colour {
        let former = self.classes.colour[v];
        let after = self.counts.count(v, colour);
        self.total += i32::from(after) - i32::from(self.counts.count(v, former));
        self.classes.take(v);
        self.counts.exchange(&self.graph, v, former, colour);
        for &other in self.classes.members(former) {
            let other = other as usize;
            if self.graph.joined(v, other) && self.counts.count(other, former) == 0 {
                self.active.set(other, false);
            }
        }
        for &other in self.classes.members(colour) {
            if self.graph.joined(v, other as usize) {
                self.active.set(other as usize, true);
            }
        }
        self.classes.put(v, colour);
        self.counts.mark_own(v, former, false);
        self.counts.mark_own(v, colour, true);
        self.active.set(v, after > 0);
        former
    }

    /// Edges in conflict, counted anew.
    #[cfg(test)]
    pub(super) fn recount(&self) -> i32 {
        let colour = &self.classes.colour;
        let twice: usize = (0..colour.len())
            .map(|v| {
                self.graph.near(v).iter().filter(|&&u| colour[u as usize] == colour[v]).count()
            })
            .sum();
        twice as i32 / 2
    }
}

impl Climb for Tabu {
    fn step(&mut self, stream: &mut Stream) {
        self.counts.step();
        self.counts.look(self.active.list.len());
        let wanted = self.best.0 - self.total - 1;
        let Self { counts, classes, active, choice, .. } = &mut *self;
        let here = |v: u32| i32::from(counts.count(v as usize, classes.colour[v as usize]));
        let found = choice.of(counts, &active.list, here, wanted, stream);
        let Some((vertex, colour)) = found else { return };
        let tenure = self.active.list.len() * 6 / 10 + stream.below(10);
        let former = self.assign(vertex as usize, colour);
        self.counts.ban(vertex as usize, former, tenure + 1);
        if self.total < self.best.0 {
            self.best.0 = self.total;
            self.best.1.copy_from_slice(&self.classes.colour);
        }
    }

    fn left(&self) -> i32 {
        self.best.0
    }
}
