//! Reduction before a search for `k` colours, and the way back.
//!
//! A vertex with fewer than `k` neighbours always finds a colour at the end, and one whose neighbours are
//! all neighbours of another, to which it is not joined, takes that one's colour (Cheeseman, Kanefsky and
//! Taylor 1991). Both are taken off until neither is left.

use std::sync::Arc;

use super::graph::Graph;
use super::{Colour, NONE};

#[derive(Debug, Clone, Copy)]
enum Step {
    /// Fewer neighbours than colours were left.
    Peeled(u32),
    /// All neighbours left were neighbours of the other.
    Dominated(u32, u32),
}

/// What is left of a graph, and how to put the rest back.
#[derive(Debug)]
pub(super) struct Kernel {
    /// The graph on the vertices left.
    pub(super) graph: Arc<Graph>,
    /// Their names in the whole graph.
    pub(super) kept: Vec<u32>,
    steps: Vec<Step>,
}

impl Kernel {
    /// Reduce for `k` colours. O(vertices * edges) at worst, and close to the edges as a rule.
    pub(super) fn of(whole: &Graph, k: usize) -> Self {
        let n = whole.len();
        let mut left = Left {
            whole,
            alive: vec![0; n.div_ceil(64)],
            degree: (0..n).map(|v| whole.degree(v)).collect(),
        };
        (0..n).for_each(|v| left.alive[v / 64] |= 1 << (v % 64));
        let mut steps = Vec::new();
        let mut waiting: Vec<u32> = (0..n as u32).rev().collect();
        let mut queued = vec![true; n];
        while let Some(vertex) = waiting.pop() {
            let v = vertex as usize;
            queued[v] = false;
            if !left.has(v) {
                continue;
            }
            let step = if left.degree[v] < k {
                Step::Peeled(vertex)
            } else if let Some(other) = left.dominating(v) {
                Step::Dominated(vertex, other)
            } else {
                continue;
            };
            steps.push(step);
            left.alive[v / 64] &= !(1 << (v % 64));
            for &other in whole.near(v) {
                let u = other as usize;
                left.degree[u] -= 1;
                if left.has(u) && !queued[u] {
                    queued[u] = true;
                    waiting.push(other);
                }
            }
        }
        let kept: Vec<u32> = (0..n as u32).filter(|&v| left.has(v as usize)).collect();
        Self { graph: Arc::new(whole.induced(&kept)), kept, steps }
    }

    /// The part of a colouring of the whole graph that lies in the kernel.
    pub(super) fn part(&self, whole: &[Colour]) -> Vec<Colour> {
        self.kept.iter().map(|&v| whole[v as usize]).collect()
    }

    /// A colouring of the whole graph from a proper one of the kernel.
    pub(super) fn restore(&self, whole: &Graph, part: &[Colour], k: usize) -> Vec<Colour> {
        let mut colours = vec![NONE; whole.len()];
        for (&v, &colour) in self.kept.iter().zip(part) {
            colours[v as usize] = colour;
        }
        let mut taken = vec![false; k];
        for step in self.steps.iter().rev() {
            match *step {
                Step::Dominated(v, by) => colours[v as usize] = colours[by as usize],
                Step::Peeled(v) => {
                    taken.fill(false);
                    for &other in whole.near(v as usize) {
                        if colours[other as usize] != NONE {
                            taken[colours[other as usize] as usize] = true;
                        }
                    }
                    let free = taken.iter().position(|&taken| !taken);
                    colours[v as usize] = free.map_or(NONE, |colour| colour as Colour);
                }
            }
        }
        colours
    }
}

/// The vertices not yet taken off.
struct Left<'g> {
    whole: &'g Graph,
    alive: Vec<u64>,
    degree: Vec<usize>,
}

impl Left<'_> {
    fn has(&self, v: usize) -> bool {
        self.alive[v / 64] >> (v % 64) & 1 == 1
    }

    /// A vertex beside which `v` can have the same colour whatever the others have.
    fn dominating(&self, v: usize) -> Option<u32> {
        let near = self.whole.near(v).iter().map(|&u| u as usize).filter(|&u| self.has(u));
        // Whoever dominates is joined to every neighbour: look among those of the one with the fewest.
        let rarest = near.min_by_key(|&u| self.degree[u])?;
        let own = self.whole.row(v);
        self.whole.near(rarest).iter().copied().find(|&other| {
            let u = other as usize;
            u != v
                && self.has(u)
                && self.degree[u] >= self.degree[v]
                && !self.whole.joined(u, v)
                && own
                    .iter()
                    .zip(self.whole.row(u))
                    .zip(&self.alive)
                    .all(|((own, other), alive)| own & alive & !other == 0)
        })
    }
}
