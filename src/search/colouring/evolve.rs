//! A hybrid evolutionary search with two individuals (after Moalic and Gondran 2018, HEAD).
//!
//! Two colourings are crossed both ways, and each child is improved by TabuCol; the best of the last
//! cycles comes back from time to time, which keeps the two apart.

use std::sync::Arc;

use super::climb::Climb;
use super::graph::Graph;
use super::tabu::Tabu;
use super::{Colour, NONE, cross};
use crate::search::stream::Stream;
use crate::search::watch::Watch;

/// Iterations of TabuCol for each vertex of a child.
const EFFORT: u64 = 20;
/// Generations of a cycle.
const CYCLE: u64 = 10;

type Rated = (i32, Vec<Colour>);

/// The two individuals, and what they have been.
#[derive(Debug)]
pub(super) struct Evolve {
    tabu: Tabu,
    colours: usize,
    effort: u64,
    parents: [Vec<Colour>; 2],
    /// Best of this cycle and of the last.
    elites: [Option<Rated>; 2],
    generation: u64,
    pub(super) best: i32,
    before: i32,
}

impl Evolve {
    pub(super) fn new(graph: Arc<Graph>, colours: usize, parents: [Vec<Colour>; 2]) -> Self {
        let effort = (EFFORT * graph.len() as u64).max(1_000);
        Self {
            tabu: Tabu::new(graph, colours),
            colours,
            effort,
            parents,
            elites: [None, None],
            generation: 0,
            best: i32::MAX,
            before: i32::MAX,
        }
    }

    /// What the search has cost so far.
    pub(super) fn work(&self) -> u64 {
        self.tabu.work()
    }

    /// The individuals as they are.
    pub(super) fn parents(&self) -> &[Vec<Colour>; 2] {
        &self.parents
    }

    /// One generation; whether the search may go on, and a colouring without conflicts if one was met.
    pub(super) fn step(
        &mut self,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> (bool, Option<Vec<Colour>>) {
        let [a, b] = &self.parents;
        let children = if self.generation == 0 {
            // As they come, they have not been improved yet.
            [a.clone(), b.clone()]
        } else {
            [[a, b], [b, a]].map(|[a, b]| cross::child([a, b], self.colours, stream))
        };
        for (i, child) in children.iter().enumerate() {
            self.tabu.load(child);
            let on = self.tabu.search(self.effort, stream, watch);
            let (conflicts, plan) = &self.tabu.best;
            self.parents[i].copy_from_slice(plan);
            if *conflicts == 0 {
                return (on, Some(plan.clone()));
            }
            if !on {
                return (false, None);
            }
            self.best = self.best.min(*conflicts);
            if self.elites[0].as_ref().is_none_or(|elite| *conflicts < elite.0) {
                self.elites[0] = Some((*conflicts, plan.clone()));
            }
        }
        self.generation += 1;
        if self.generation.is_multiple_of(CYCLE) {
            let [young, old] = &mut self.elites;
            if let Some((_, old)) = old.take() {
                self.parents[0] = old;
            }
            *old = young.take();
        }
        let [a, b] = &self.parents;
        if cross::same(a, b, self.colours) {
            self.renew(stream);
        }
        (true, None)
    }

    /// The two have become one: another partner, and longer climbs if the last ones were in vain.
    fn renew(&mut self, stream: &mut Stream) {
        if self.best >= self.before {
            self.effort = self.effort.saturating_mul(3) / 2;
        }
        self.before = self.best;
        self.elites = [None, None];
        self.generation = 1;
        self.parents[1] = random(self.parents[0].len(), self.colours, stream);
    }
}

/// Random colours for half of the vertices, none for the others.
pub(super) fn random(vertices: usize, colours: usize, stream: &mut Stream) -> Vec<Colour> {
    (0..vertices)
        .map(|_| if stream.one_in(2) { stream.below(colours) as Colour } else { NONE })
        .collect()
}
