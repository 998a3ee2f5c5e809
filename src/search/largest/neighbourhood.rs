//! Large neighbourhood search on clean sets: take some carriers off, complete depth-first by one more.

use super::complete::{Complete, Completion};
use super::marks::Marks;
use crate::search::stream::Stream;

/// Nodes one completion may visit; small ones, often, beat large ones.
const NODES: u64 = 1_000;

/// A set being improved.
pub(super) struct Neighbourhood {
    marks: Marks,
    pub(super) set: Vec<usize>,
    /// How many carriers to take off; adapts so that completions stay within their nodes.
    off: usize,
}

impl Neighbourhood {
    /// Start from a clean set.
    pub(super) fn new(marks: Marks, set: Vec<usize>) -> Self {
        Self { marks, set, off: 4 }
    }

    /// A random clean set, each carrier among the lowest eighth of what is free.
    pub(super) fn random(mut marks: Marks, stream: &mut Stream) -> Self {
        marks.clear();
        loop {
            let free = marks.free();
            if free.is_empty() {
                break;
            }
            marks.push(free[stream.below(free.len().div_ceil(8))]);
        }
        let set = marks.taken.clone();
        Self::new(marks, set)
    }

    /// One step: the set grows by one, or moves to another of its size; whether it grew.
    pub(super) fn step(&mut self, stream: &mut Stream, go_on: impl Fn() -> bool) -> bool {
        // Every other time neighbours in frequency go together.
        if stream.one_in(2) {
            stream.shuffle(&mut self.set);
        } else {
            self.set.sort_unstable();
            let turn = stream.below(self.set.len().max(1));
            self.set.rotate_left(turn);
        }
        let keep = self.set.len() - self.off.min(self.set.len());
        self.marks.clear();
        for &position in &self.set[..keep] {
            self.marks.push(position);
        }
        let need = self.set.len() - keep + 1;
        let mut complete = Complete::new(&mut self.marks, need, NODES, go_on).keeping_near(stream);
        let grown = match complete.run() {
            Completion::Found(more) => Some(more),
            Completion::Impossible | Completion::Open => None,
        };
        let (near, nodes) = (complete.near.take(), complete.nodes());
        if nodes * 4 > NODES * 3 {
            self.off = self.off.saturating_sub(1).max(2);
        } else if nodes * 10 < NODES {
            self.off = (self.off + 1).min(self.set.len());
        }
        let grew = grown.is_some();
        if let Some(more) = grown.or(near) {
            self.set.truncate(keep);
            self.set.extend(more);
        }
        grew
    }

    /// Add whatever still fits, lowest first, under other marks (a wider choice of positions).
    pub(super) fn fill(&mut self, mut wider: Marks) -> &[usize] {
        wider.clear();
        for &position in &self.set {
            wider.push(position);
        }
        while let Some(position) = wider.next_free(0) {
            wider.push(position);
            self.set.push(position);
        }
        self.marks = wider;
        &self.set
    }
}
