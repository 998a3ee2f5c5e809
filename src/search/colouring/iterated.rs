//! Iterated greedy (Culberson and Luo 1996): colouring again, class by class, never takes more colours.
//!
//! Structure that no single move sees, as in graphs of places and distances, gives way to it.

use std::sync::Arc;

use super::graph::Graph;
use super::{BATCH, Colour, compact};
use crate::search::stream::Stream;
use crate::search::watch::Watch;

/// Vertices coloured anew that count as one iteration.
const COUNTED: usize = 8;

/// A proper colouring that is coloured again and again.
#[derive(Debug)]
pub(super) struct Iterated {
    graph: Arc<Graph>,
    words: usize,
    /// A proper colouring.
    pub(super) plan: Vec<Colour>,
    /// Its colours.
    pub(super) used: usize,
    /// Vertices by class, in the order to be coloured.
    order: Vec<u32>,
    /// Neighbours of every new class, as bits.
    shut: Vec<u64>,
    /// Entries touched so far, by and large.
    pub(super) work: u64,
}

impl Iterated {
    pub(super) fn new(graph: Arc<Graph>, mut plan: Vec<Colour>) -> Self {
        // A part of a colouring may lack some of its colours.
        let used = compact(&mut plan);
        let words = graph.len().div_ceil(64);
        Self { graph, words, plan, used, order: Vec::new(), shut: Vec::new(), work: 0 }
    }

    /// Colour again until there are no more than `wanted` colours, for about so many iterations at most;
    /// whether the search may go on.
    pub(super) fn search(
        &mut self,
        wanted: usize,
        steps: u64,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> bool {
        let pass = (self.plan.len() / COUNTED) as u64 + 1;
        let mut left = steps.max(pass);
        while left >= pass && self.used > wanted {
            let mut owed = pass;
            while owed > 0 {
                let granted = watch.ticks(BATCH.min(owed));
                if granted == 0 {
                    return false;
                }
                owed -= granted;
            }
            left -= pass;
            self.pass(stream);
        }
        true
    }

    /// Colour all vertices again, class by class in another order.
    pub(super) fn pass(&mut self, stream: &mut Stream) {
        let mut classes = vec![Vec::new(); self.used];
        for (v, &colour) in self.plan.iter().enumerate() {
            classes[colour as usize].push(v as u32);
        }
        match stream.below(13) {
            0..5 => classes.reverse(),
            5..8 => stream.shuffle(&mut classes),
            _ => {
                stream.shuffle(&mut classes);
                classes.sort_by_key(|class| std::cmp::Reverse(class.len()));
            }
        }
        self.order.clear();
        for class in &mut classes {
            stream.shuffle(class);
            self.order.extend_from_slice(class);
        }
        self.shut.clear();
        let mut used = 0;
        for &vertex in &self.order {
            let v = vertex as usize;
            let (word, bit) = (v / 64, v % 64);
            let free = |class: &[u64]| class[word] >> bit & 1 == 0;
            let colour = self.shut.chunks_exact(self.words).position(free).unwrap_or(used);
            if colour == used {
                used += 1;
                self.shut.resize(used * self.words, 0);
            }
            self.work += (colour + self.words) as u64;
            let class = &mut self.shut[colour * self.words..(colour + 1) * self.words];
            for (shut, near) in class.iter_mut().zip(self.graph.row(v)) {
                *shut |= near;
            }
            self.plan[v] = colour as Colour;
        }
        self.used = used;
    }
}
