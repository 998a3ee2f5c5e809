//! Greedy colourings to begin with: DSATUR (Brelaz 1979) and recursive largest first (Leighton 1979).

use super::graph::{Graph, members};
use super::{Colour, NONE};
use crate::search::stream::Stream;

/// Colour the vertex with the most colours among its neighbours next, ties by most open neighbours, then
/// at random; each takes the first colour that is free. O(vertices^2 + edges).
pub(super) fn dsatur(graph: &Graph, stream: &mut Stream) -> Vec<Colour> {
    let n = graph.len();
    let mut colours = vec![NONE; n];
    let mut seen: Vec<Vec<u64>> = vec![Vec::new(); n];
    let mut saturation = vec![0_u32; n];
    let mut free: Vec<u32> = (0..n).map(|v| graph.degree(v) as u32).collect();
    let mut order: Vec<u32> = (0..n as u32).collect();
    stream.shuffle(&mut order);
    while !order.is_empty() {
        let key = |at: &usize| {
            let v = order[*at] as usize;
            (saturation[v], free[v])
        };
        let Some(at) = (0..order.len()).max_by_key(key) else { break };
        let v = order.swap_remove(at) as usize;
        let first = seen[v].iter().enumerate().find(|&(_, &word)| word != u64::MAX);
        let colour =
            first.map_or(seen[v].len() * 64, |(i, &word)| i * 64 + word.trailing_ones() as usize);
        colours[v] = colour as Colour;
        for &other in graph.near(v) {
            let u = other as usize;
            free[u] -= 1;
            if colours[u] == NONE {
                if seen[u].len() <= colour / 64 {
                    seen[u].resize(colour / 64 + 1, 0);
                }
                if seen[u][colour / 64] >> (colour % 64) & 1 == 0 {
                    seen[u][colour / 64] |= 1 << (colour % 64);
                    saturation[u] += 1;
                }
            }
        }
    }
    colours
}

/// Fill one colour after the other, each time with the vertex that has the most neighbours already shut
/// out, ties by fewest others, then at random. O(colours * vertices * degree).
pub(super) fn rlf(graph: &Graph, stream: &mut Stream) -> Vec<Colour> {
    let n = graph.len();
    let words = n.div_ceil(64);
    let mut colours = vec![NONE; n];
    let mut open = vec![0_u64; words];
    (0..n).for_each(|v| open[v / 64] |= 1 << (v % 64));
    let common = |v: usize, set: &[u64]| -> u32 {
        graph.row(v).iter().zip(set).map(|(a, b)| (a & b).count_ones()).sum()
    };
    for colour in 0.. {
        let mut fit = open.clone();
        let first =
            members(&open).map(|v| (common(v as usize, &open), stream.below(1 << 16), v)).max();
        let Some((.., first)) = first else { break };
        // Neighbours among the open that are shut out, and that are not, of every open vertex.
        let mut shut = vec![0_u32; n];
        let mut loose: Vec<u32> = (0..n).map(|v| common(v, &open)).collect();
        let mut next = Some(first);
        while let Some(v) = next {
            colours[v as usize] = colour as Colour;
            let v = v as usize;
            open[v / 64] &= !(1 << (v % 64));
            fit[v / 64] &= !(1 << (v % 64));
            let out: Vec<u32> = graph
                .near(v)
                .iter()
                .copied()
                .filter(|&u| fit[u as usize / 64] >> (u % 64) & 1 == 1)
                .collect();
            for &u in &out {
                fit[u as usize / 64] &= !(1 << (u % 64));
            }
            for &u in &out {
                for &w in graph.near(u as usize) {
                    shut[w as usize] += 1;
                    loose[w as usize] -= 1;
                }
            }
            let key = |&v: &u32| (shut[v as usize], u32::MAX - loose[v as usize]);
            next =
                members(&fit).map(|v| (key(&v), stream.below(1 << 16), v)).max().map(|(.., v)| v);
        }
    }
    colours
}
