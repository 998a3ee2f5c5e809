//! A hybrid evolutionary search with two individuals (after Moalic and Gondran 2018, HEAD).
//!
//! Two plans are crossed both ways, and each child is improved by the tabu search; the best of the last
//! cycles comes back from time to time, which keeps the two apart.

use super::book::Book;
use super::cross;
use super::state::{Cost, State};
use super::tabu::Tabu;
use crate::search::stream::Stream;
use crate::search::watch::Watch;

/// Iterations of tabu search for each variable of a child.
const EFFORT: u64 = 20;
/// Generations of a cycle.
const CYCLE: usize = 10;

pub(super) fn search<W: Cost>(
    state: &mut State<W>,
    book: &mut Book,
    stream: &mut Stream,
    watch: &mut Watch,
) {
    // Where values differ from variable to variable, structure traps a search; weights free it.
    let raises =
        state.costs.plain.is_none() && (!state.costs.network.alike() || watch.restart % 4 == 2);
    let mut tabu = Tabu::new(raises);
    let n = state.value.len() as u64;
    let mut effort = (EFFORT * n).max(2_000);
    // The plan at hand is improved first; what it becomes is the first parent.
    if !tabu.search(state, effort * 4, book, stream, watch) {
        return;
    }
    let mut parents = [(book.present(), book.plan().to_vec()), (i64::MAX, Vec::new())];
    loop {
        if parents[1].1.is_empty() {
            let plan = random(state, stream);
            state.load(&plan);
            if !tabu.search(state, effort, book, stream, watch) {
                return;
            }
            parents[1] = (book.present(), book.plan().to_vec());
        }
        let mut elites: [Option<(i64, Vec<u32>)>; 2] = [None, None];
        let before = book.best().0;
        for generation in 1.. {
            let [a, b] = &parents;
            let children = [[a, b], [b, a]]
                .map(|[a, b]| cross::child(state.costs, [a.1.as_slice(), b.1.as_slice()], stream));
            for (parent, child) in parents.iter_mut().zip(children) {
                state.load(&child);
                if !tabu.search(state, effort, book, stream, watch) {
                    return;
                }
                *parent = (book.present(), book.plan().to_vec());
                if elites[0].as_ref().is_none_or(|elite| parent.0 < elite.0) {
                    elites[0] = Some(parent.clone());
                }
            }
            if generation % CYCLE == 0 {
                let [young, old] = &mut elites;
                if let Some(old) = old.take() {
                    parents[0] = old;
                }
                *old = young.take();
            }
            let [a, b] = &parents;
            if cross::same(state.costs, [a.1.as_slice(), b.1.as_slice()]) {
                break;
            }
        }
        // The two have become one: another partner, and longer climbs if that was in vain.
        if book.best().0 >= before {
            effort = effort.saturating_mul(3) / 2;
        }
        let (cost, plan) = book.best();
        parents = [(cost, plan.to_vec()), (i64::MAX, Vec::new())];
    }
}

/// A plan with random values for half of the variables, the others on their cheapest.
fn random<W: Cost>(state: &State<W>, stream: &mut Stream) -> Vec<u32> {
    (0..state.value.len())
        .map(|variable| {
            let (low, high) = state.open[variable];
            let value = low + stream.below((high - low) as usize) as u32;
            let free = stream.one_in(2) && !state.is_barred(variable, value);
            if free { value } else { super::state::NOWHERE }
        })
        .collect()
}
