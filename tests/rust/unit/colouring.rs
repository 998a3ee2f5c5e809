//! The parts of the colouring search against recounts, on random graphs.

use std::sync::Arc;

use proptest::prelude::*;

use super::climb::Climb;
use super::graph::Graph;
use super::iterated::Iterated;
use super::kernel::Kernel;
use super::partial::{Partial, Tenure};
use super::tabu::Tabu;
use super::{Colour, NONE, compact, cross, greedy, keep_largest};
use crate::search::stream::Stream;

fn graph(n: usize, edges: &[(usize, usize)]) -> Graph {
    let mut lists = vec![Vec::new(); n];
    for &(a, b) in edges {
        let (a, b) = (a % n, b % n);
        if a != b {
            lists[a].push(b as u32);
            lists[b].push(a as u32);
        }
    }
    Graph::new(&lists)
}

/// Edges whose ends have the same colour.
fn conflicts(graph: &Graph, plan: &[Colour]) -> usize {
    let alike = |v: usize| {
        let near = graph.near(v).iter().filter(|&&u| plan[u as usize] == plan[v]);
        if plan[v] == NONE { 0 } else { near.count() }
    };
    (0..graph.len()).map(alike).sum::<usize>() / 2
}

fn edges() -> impl Strategy<Value = (usize, Vec<(usize, usize)>, u64)> {
    (5_usize..90)
        .prop_flat_map(|n| (Just(n), prop::collection::vec((0..n, 0..n), 0..n * 12), 0_u64..1000))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn lists_and_bits_say_the_same((n, edges, _) in edges()) {
        let graph = graph(n, &edges);
        for a in 0..n {
            let listed: Vec<u32> = graph.near(a).to_vec();
            let joined: Vec<u32> = (0..n).filter(|&b| graph.joined(a, b)).map(|b| b as u32).collect();
            prop_assert_eq!(listed, joined);
        }
    }

    #[test]
    fn greedy_colourings_are_proper_and_the_kernel_is_put_back((n, edges, seed) in edges()) {
        let graph = graph(n, &edges);
        let mut stream = Stream::new(seed, 0);
        for mut plan in [greedy::dsatur(&graph, &mut stream), greedy::rlf(&graph, &mut stream)] {
            prop_assert!(plan.iter().all(|&colour| colour != NONE));
            prop_assert_eq!(conflicts(&graph, &plan), 0);
            let used = compact(&mut plan);
            let kernel = Kernel::of(&graph, used);
            let whole = kernel.restore(&graph, &kernel.part(&plan), used);
            prop_assert!(whole.iter().all(|&colour| usize::from(colour) < used));
            prop_assert_eq!(conflicts(&graph, &whole), 0);
        }
    }

    #[test]
    fn conflicts_are_kept_up_under_moves((n, edges, seed) in edges(), colours in 2_usize..20) {
        let graph = Arc::new(graph(n, &edges));
        let mut stream = Stream::new(seed, 1);
        let mut tabu = Tabu::new(Arc::clone(&graph), colours);
        tabu.load(&vec![NONE; n]);
        for _ in 0..100 {
            tabu.assign(stream.below(n), stream.below(colours) as Colour);
            prop_assert_eq!(tabu.total, tabu.recount());
        }
        for _ in 0..100 {
            tabu.step(&mut stream);
            prop_assert_eq!(tabu.total, tabu.recount());
        }
        prop_assert_eq!(tabu.best.0 as usize, conflicts(&graph, &tabu.best.1));
    }

    #[test]
    fn a_partial_colouring_never_has_a_conflict(
        (n, edges, seed) in edges(),
        colours in 2_usize..20,
    ) {
        let graph = Arc::new(graph(n, &edges));
        let mut stream = Stream::new(seed, 2);
        for (tenure, weighed) in [(Tenure::Dynamic, false), (Tenure::Reactive, true)] {
            let mut partial = Partial::new(Arc::clone(&graph), colours, tenure, weighed);
            // Whatever it begins with.
            let any: Vec<Colour> = (0..n).map(|_| stream.below(colours + 1) as Colour).collect();
            partial.load(&any);
            for _ in 0..200 {
                partial.step(&mut stream);
                prop_assert_eq!(conflicts(&graph, partial.plan()), 0);
                let open = partial.plan().iter().filter(|&&colour| colour == NONE).count();
                prop_assert_eq!(partial.open.list.len(), open);
            }
            let open = |plan: &[Colour]| plan.iter().filter(|&&colour| colour == NONE).count();
            prop_assert_eq!(partial.best.0 == 0, open(&partial.best.1) == 0);
            if !weighed {
                prop_assert_eq!(partial.best.0 as usize, open(&partial.best.1));
                prop_assert_eq!(partial.total as usize, open(partial.plan()));
            }
        }
    }

    #[test]
    fn colouring_again_takes_no_more_colours((n, edges, seed) in edges()) {
        let graph = Arc::new(graph(n, &edges));
        let mut stream = Stream::new(seed, 3);
        let mut plan = greedy::dsatur(&graph, &mut stream);
        compact(&mut plan);
        // Parts of colourings have gaps in the names of their colours.
        for colour in &mut plan {
            *colour = 2 * *colour + 1;
        }
        let mut iterated = Iterated::new(Arc::clone(&graph), plan);
        for _ in 0..30 {
            let before = iterated.used;
            iterated.pass(&mut stream);
            prop_assert!(iterated.used <= before);
            prop_assert_eq!(conflicts(&graph, &iterated.plan), 0);
            prop_assert_eq!(compact(&mut iterated.plan.clone()), iterated.used);
        }
    }

    #[test]
    fn a_child_of_proper_parents_is_proper((n, edges, seed) in edges()) {
        let graph = graph(n, &edges);
        let mut stream = Stream::new(seed, 4);
        let mut a = greedy::dsatur(&graph, &mut stream);
        let mut b = greedy::rlf(&graph, &mut stream);
        let colours = compact(&mut a).min(compact(&mut b));
        keep_largest(&mut a, colours);
        keep_largest(&mut b, colours);
        let child = cross::child([&a, &b], colours, &mut stream);
        prop_assert!(child.iter().all(|&colour| colour == NONE || usize::from(colour) < colours));
        prop_assert_eq!(conflicts(&graph, &child), 0);
        // The first class taken over is a largest one of the first parent, as a whole.
        let size = |plan: &[Colour], colour| plan.iter().filter(|&&it| it == colour).count();
        prop_assert_eq!(size(&child, 0), size(&a, 0));
        prop_assert!(cross::same(&a, &a, colours));
    }
}

#[test]
fn a_kernel_of_trees_and_twins_is_empty() {
    // Two colours suffice for a tree; and with two colours a complete bipartite graph folds to one edge,
    // because vertices of one side have the same neighbours.
    let path: Vec<(usize, usize)> = (1..20).map(|v| (v - 1, v)).collect();
    assert_eq!(Kernel::of(&graph(20, &path), 2).kept.len(), 0);
    let sides: Vec<(usize, usize)> = (0..6).flat_map(|a| (6..12).map(move |b| (a, b))).collect();
    assert_eq!(Kernel::of(&graph(12, &sides), 2).kept.len(), 0);
    // An odd cycle is its own kernel.
    let cycle: Vec<(usize, usize)> = (0..9).map(|v| (v, (v + 1) % 9)).collect();
    assert_eq!(Kernel::of(&graph(9, &cycle), 2).kept.len(), 9);
}
