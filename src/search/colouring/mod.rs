//! Plain graph colouring: fewer and fewer colours, each number searched by several methods in turns.
//!
//! For every number of colours the graph is reduced first (`kernel`); what is left is searched in turns by
//! PartialCol, with weights and without, by a hybrid of crossover and TabuCol, and by iterated greedy, which
//! keep their state from turn to turn; most of the work goes to the one that is closest (`turns`).

mod classes;
mod climb;
mod counts;
mod cross;
mod evolve;
mod graph;
mod greedy;
mod iterated;
mod kernel;
mod partial;
mod plain;
mod tabu;
#[cfg(test)]
#[path = "../../../tests/rust/unit/colouring.rs"]
mod tests;
mod turns;

use self::graph::Graph;
pub(super) use self::plain::Plain;
use self::turns::{Past, Turns};
use super::stream::Stream;
use super::watch::Watch;

/// The colour of a vertex.
pub(super) type Colour = u16;
/// No colour.
const NONE: Colour = Colour::MAX;
/// The most vertices that are served.
pub(super) const MOST: usize = counts::MOST;
/// Iterations between two looks at the clock.
const BATCH: u64 = 64;

/// The most vertices that are coloured largest first, which takes time in their cube.
const FILLED: usize = 4_000;

/// Where a descent stands.
pub(super) trait Sink {
    /// A proper colouring was found.
    fn found(&mut self, plan: &[Colour], watch: &mut Watch);
    /// A colouring must have fewer colours than this to be of use; `None` when nothing better is needed.
    fn below(&self, watch: &Watch) -> Option<usize>;
    /// No colouring has fewer colours.
    fn floor(&self, watch: &Watch) -> usize;
}

/// Colour with fewer and fewer colours until the watch says enough or the sink is content.
///
/// A start is a proper colouring.
pub(super) fn descend(
    graph: &Graph,
    start: Option<Vec<Colour>>,
    sink: &mut dyn Sink,
    stream: &mut Stream,
    watch: &mut Watch,
) {
    let mut best = greedy::dsatur(graph, stream);
    let mut used = compact(&mut best);
    if graph.len() <= FILLED {
        let mut filled = greedy::rlf(graph, stream);
        let colours = compact(&mut filled);
        if colours < used {
            (best, used) = (filled, colours);
        }
    }
    if let Some(mut start) = start {
        let given = compact(&mut start);
        if given < used {
            (best, used) = (start, given);
        }
    }
    sink.found(&best, watch);
    let mut other = evolve::random(graph.len(), used, stream);
    let mut past = Past::default();
    // While colours fall easily, several are left out at once.
    let mut leap = 0;
    while let Some(below) = sink.below(watch) {
        let colours = below.min(used) - 1;
        if colours == 0 {
            return;
        }
        leap = leap.min(colours.saturating_sub(sink.floor(watch)));
        let mut turns = Turns::new(graph, &best, &other, colours - leap, watch.restart, past);
        let found =
            if leap > 0 { turns.glance(stream, watch) } else { turns.run(sink, stream, watch) };
        let easy = turns.easy();
        past = turns.past;
        match found {
            None if leap == 0 => return,
            None => leap = 0,
            Some(found) => {
                other = turns.mate();
                best = found;
                used = compact(&mut best);
                sink.found(&best, watch);
                leap = if easy { 2 * leap + 1 } else { 0 };
            }
        }
    }
}

/// Name the colours in use from 0 up, largest class first; how many there are.
fn compact(plan: &mut [Colour]) -> usize {
    let order = by_size(plan);
    rename(plan, &order, order.len());
    order.len()
}

/// Keep the largest classes; the members of the others lose their colour.
fn keep_largest(plan: &mut [Colour], k: usize) {
    let order = by_size(plan);
    rename(plan, &order, k);
}

/// Colours in use, largest class first.
fn by_size(plan: &[Colour]) -> Vec<Colour> {
    let most = plan.iter().filter(|&&colour| colour != NONE).max().map_or(0, |&c| c as usize + 1);
    let mut sizes = vec![0_usize; most];
    plan.iter().filter(|&&colour| colour != NONE).for_each(|&colour| sizes[colour as usize] += 1);
    let mut order: Vec<Colour> =
        (0..most as Colour).filter(|&colour| sizes[colour as usize] > 0).collect();
    order.sort_by_key(|&colour| (std::cmp::Reverse(sizes[colour as usize]), colour));
    order
}

fn rename(plan: &mut [Colour], order: &[Colour], k: usize) {
    let mut name = vec![NONE; order.iter().max().map_or(0, |&colour| colour as usize + 1)];
    for (new, &old) in order.iter().take(k).enumerate() {
        name[old as usize] = new as Colour;
    }
    for colour in plan.iter_mut().filter(|colour| **colour != NONE) {
        *colour = name[*colour as usize];
    }
}
