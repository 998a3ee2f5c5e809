//! Crossovers: what a child takes over from each of two parents.

use super::state::{Cost, Costs};
use crate::search::stream::Stream;

/// No value yet.
const NONE: u32 = u32::MAX;

/// A child of two parents.
pub(super) fn child<W: Cost>(
    costs: &Costs<W>,
    parents: [&[u32]; 2],
    stream: &mut Stream,
) -> Vec<u32> {
    match costs.plain {
        Some(values) => partition(parents, values, stream),
        None => block(costs, parents, stream),
    }
}

/// Greedy partition crossover (Galinier and Hao 1999): the largest class of either parent in turns.
///
/// Which value a class has does not matter in a plain colouring; its own is kept where it is free.
fn partition(parents: [&[u32]; 2], values: usize, stream: &mut Stream) -> Vec<u32> {
    let n = parents[0].len();
    let mut child = vec![NONE; n];
    let mut sizes = parents.map(|parent| {
        let mut sizes = vec![0_usize; values];
        for &value in parent {
            sizes[value as usize] += 1;
        }
        sizes
    });
    let in_use = sizes[0].iter().filter(|&&size| size > 0).count();
    let mut names: Vec<u32> =
        (0..values as u32).filter(|&value| sizes[0][value as usize] > 0).collect();
    for turn in 0..in_use {
        let from = turn % 2;
        let most = sizes[from].iter().copied().max().unwrap_or(0);
        if most == 0 {
            break;
        }
        let class = stream.pick((0..values).filter(|&value| sizes[from][value] == most));
        let Some(class) = class else { break };
        let slot = names.iter().position(|&name| name as usize == class).unwrap_or(names.len() - 1);
        let name = names.swap_remove(slot);
        for v in 0..n {
            if child[v] == NONE && parents[from][v] as usize == class {
                child[v] = name;
                for (sizes, parent) in sizes.iter_mut().zip(parents) {
                    sizes[parent[v] as usize] -= 1;
                }
            }
        }
    }
    child
}

/// A connected block of variables as in the first parent, the others as in the second.
fn block<W: Cost>(costs: &Costs<W>, parents: [&[u32]; 2], stream: &mut Stream) -> Vec<u32> {
    let n = parents[0].len();
    let mut child = parents[1].to_vec();
    let wanted = n * (3 + stream.below(5)) / 10;
    let mut inside = vec![false; n];
    let mut border: Vec<usize> = Vec::new();
    for _ in 0..wanted {
        let variable = if border.is_empty() {
            stream.below(n)
        } else {
            let slot = stream.below(border.len());
            border.swap_remove(slot)
        };
        if std::mem::replace(&mut inside[variable], true) {
            continue;
        }
        child[variable] = parents[0][variable];
        let near = costs.network.arcs[variable].iter().map(|arc| arc.other as usize);
        border.extend(near.filter(|&other| !inside[other]));
    }
    child
}

/// Whether two assignments are the same, but for the names of the classes in a plain colouring.
pub(super) fn same<W: Cost>(costs: &Costs<W>, parents: [&[u32]; 2]) -> bool {
    let Some(values) = costs.plain else { return parents[0] == parents[1] };
    let mut name = vec![NONE; values];
    parents[0].iter().zip(parents[1]).all(|(&a, &b)| {
        let known = &mut name[a as usize];
        if *known == NONE {
            *known = b;
        }
        *known == b
    })
}
