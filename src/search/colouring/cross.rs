//! Greedy partition crossover (Galinier and Hao 1999): the largest class of either parent in turns.

use super::{Colour, NONE};
use crate::search::stream::Stream;

/// A child of two colourings; who is in none of the classes taken over has no colour.
pub(super) fn child(parents: [&[Colour]; 2], colours: usize, stream: &mut Stream) -> Vec<Colour> {
    let n = parents[0].len();
    let mut child = vec![NONE; n];
    let mut classes = parents.map(|parent| {
        let mut classes = vec![Vec::new(); colours];
        for (v, &colour) in parent.iter().enumerate().filter(|&(_, &colour)| colour != NONE) {
            classes[colour as usize].push(v as u32);
        }
        classes
    });
    let mut sizes = classes.each_ref().map(|it| it.iter().map(Vec::len).collect::<Vec<_>>());
    for colour in 0..colours {
        let from = colour % 2;
        let most = sizes[from].iter().copied().max().unwrap_or(0);
        let largest = (0..colours).filter(|&class| sizes[from][class] == most);
        let Some(class) = stream.pick(largest).filter(|_| most > 0) else { continue };
        for v in std::mem::take(&mut classes[from][class]) {
            let v = v as usize;
            if child[v] == NONE {
                child[v] = colour as Colour;
                for (sizes, parent) in sizes.iter_mut().zip(parents) {
                    if parent[v] != NONE {
                        sizes[parent[v] as usize] -= 1;
                    }
                }
            }
        }
    }
    child
}

/// Whether two colourings are the same but for the names of the colours.
pub(super) fn same(a: &[Colour], b: &[Colour], colours: usize) -> bool {
    let mut name = vec![NONE; colours];
    a.iter().zip(b).all(|(&a, &b)| {
        let Some(known) = name.get_mut(a as usize) else { return a == b };
        if *known == NONE {
            *known = b;
        }
        *known == b
    })
}
