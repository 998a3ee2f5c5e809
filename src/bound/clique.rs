//! Cliques: classes of which no two may share a frequency.

use super::gaps::Gaps;

/// Maximal cliques are listed in full up to this many steps of the listing.
const LISTING: usize = 20_000;
/// Beyond that, greedy cliques are grown from so many classes.
const GROWN: usize = 250;
/// Only so many of the heaviest cliques are kept.
const KEPT: usize = 500;
/// Steps of the exact search for the heaviest clique.
const EXACT: usize = 100_000;
/// With so many classes a step counts twice, with twice as many three times, and so on.
const LARGE: usize = 250;

/// A set of classes as bits.
type Set = Vec<u64>;

fn has(set: &Set, i: usize) -> bool {
    set[i / 64] >> (i % 64) & 1 == 1
}

fn meet(a: &Set, b: &Set) -> Set {
    a.iter().zip(b).map(|(x, y)| x & y).collect()
}

fn common(a: &Set, b: &Set) -> u32 {
    a.iter().zip(b).map(|(x, y)| (x & y).count_ones()).sum()
}

fn members(set: &Set) -> impl Iterator<Item = usize> + '_ {
    set.iter().enumerate().flat_map(|(i, &word)| {
        let mut rest = word;
        std::iter::from_fn(move || {
            (rest != 0).then(|| {
                let bit = rest.trailing_zeros() as usize;
                rest &= rest - 1;
                i * 64 + bit
            })
        })
    })
}

fn first(set: &Set) -> Option<usize> {
    members(set).next()
}

/// The maximal cliques, or where they are too many, greedy ones and the heaviest one found.
pub(super) fn cliques(gaps: &Gaps) -> Vec<Vec<usize>> {
    let n = gaps.len();
    let near: Vec<Set> = (0..n)
        .map(|a| {
            let mut set = vec![0; n.div_ceil(64)];
            for b in (0..n).filter(|&b| gaps.joined(a, b)) {
                set[b / 64] |= 1 << (b % 64);
            }
            set
        })
        .collect();
    let weights: Vec<i64> =
        (0..n).map(|k| if gaps.between(k, k) > 0 { gaps.sizes[k] } else { 1 }).collect();
    let mut all = full(n);
    let mut listing = Listing { near: &near, found: Vec::new(), steps: 0 };
    if listing.expand(&mut Vec::new(), all.clone(), vec![0; n.div_ceil(64)]) {
        return heaviest_first(gaps, listing.found);
    }
    let mut heavy: Vec<usize> = (0..n).collect();
    heavy.sort_by_key(|&k| (std::cmp::Reverse(common(&near[k], &all)), k));
    let mut found: Vec<Vec<usize>> =
        heavy.iter().take(GROWN).map(|&k| grow(&near, &weights, k)).collect();
    let weigh = |clique: &Vec<usize>| clique.iter().map(|&k| weights[k]).sum::<i64>();
    let best = found.iter().max_by_key(|clique| weigh(clique)).cloned().unwrap_or_default();
    let mut heaviest =
        Heaviest { near: &near, weights: &weights, weight: weigh(&best), best, steps: 0 };
    heaviest.expand(&mut Vec::new(), 0, &mut all);
    found.push(heaviest.best);
    for clique in &mut found {
        clique.sort_unstable();
    }
    heaviest_first(gaps, found)
}

fn heaviest_first(gaps: &Gaps, mut found: Vec<Vec<usize>>) -> Vec<Vec<usize>> {
    found.sort_by_cached_key(|clique| {
        (std::cmp::Reverse(clique.iter().map(|&k| gaps.sizes[k]).sum::<i64>()), clique.clone())
    });
    found.dedup();
    found.truncate(KEPT);
    found
}

fn full(n: usize) -> Set {
    (0..n.div_ceil(64))
        .map(|i| if n >= i * 64 + 64 { u64::MAX } else { (1 << (n % 64)) - 1 })
        .collect()
}

/// Grow a clique from one class: each time the heaviest class with the most common neighbours.
fn grow(near: &[Set], weights: &[i64], start: usize) -> Vec<usize> {
    let mut clique = vec![start];
    let mut open = near[start].clone();
    while let Some(next) = members(&open)
        .max_by_key(|&k| (i64::from(common(&near[k], &open)) * weights[k], std::cmp::Reverse(k)))
    {
        clique.push(next);
        open = meet(&open, &near[next]);
    }
    clique
}

/// Listing of all maximal cliques (Bron and Kerbosch 1973, with pivoting).
struct Listing<'g> {
    near: &'g [Set],
    found: Vec<Vec<usize>>,
    steps: usize,
}

impl Listing<'_> {
    /// Whether the listing was finished.
    fn expand(&mut self, clique: &mut Vec<usize>, mut open: Set, mut closed: Set) -> bool {
        self.steps += 1;
        if self.steps > LISTING {
            return false;
        }
        let pivot = members(&open)
            .chain(members(&closed))
            .max_by_key(|&p| (common(&self.near[p], &open), std::cmp::Reverse(p)));
        let Some(pivot) = pivot else {
            let mut sorted = clique.clone();
            sorted.sort_unstable();
            self.found.push(sorted);
            return true;
        };
        let branches: Vec<usize> = members(&open).filter(|&k| !has(&self.near[pivot], k)).collect();
        for k in branches {
            clique.push(k);
            let near = &self.near[k];
            let done = self.expand(clique, meet(&open, near), meet(&closed, near));
            clique.pop();
            if !done {
                return false;
            }
            open[k / 64] &= !(1 << (k % 64));
            closed[k / 64] |= 1 << (k % 64);
        }
        true
    }
}

/// Branch and bound for the heaviest clique, bounded by a greedy colouring (Tomita and Seki 2003).
struct Heaviest<'g> {
    near: &'g [Set],
    weights: &'g [i64],
    best: Vec<usize>,
    weight: i64,
    steps: usize,
}

impl Heaviest<'_> {
    fn expand(&mut self, clique: &mut Vec<usize>, weight: i64, open: &mut Set) {
        self.steps += 1 + self.near.len() / LARGE;
        if weight > self.weight {
            self.weight = weight;
            self.best.clone_from(clique);
        }
        // Colour the open classes: a clique takes at most one from each colour.
        let mut ordered: Vec<(i64, usize)> = Vec::new();
        let mut left = open.clone();
        let mut bound = 0;
        while left.iter().any(|&word| word != 0) {
            let mut colour = left.clone();
            let mut heaviest = 0;
            let mut inside = Vec::new();
            while let Some(k) = first(&colour) {
                colour[k / 64] &= !(1 << (k % 64));
                left[k / 64] &= !(1 << (k % 64));
                colour.iter_mut().zip(&self.near[k]).for_each(|(word, near)| *word &= !near);
                heaviest = heaviest.max(self.weights[k]);
                inside.push(k);
            }
            bound += heaviest;
            ordered.extend(inside.into_iter().map(|k| (bound, k)));
        }
        while let Some((bound, k)) = ordered.pop() {
            if weight + bound <= self.weight || self.steps > EXACT {
                return;
            }
            clique.push(k);
            self.expand(clique, weight + self.weights[k], &mut meet(open, &self.near[k]));
            clique.pop();
            open[k / 64] &= !(1 << (k % 64));
        }
    }
}
