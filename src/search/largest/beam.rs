//! Beam search: many clean sets grow side by side, one carrier at a time, and those that leave most positions open stay.

#![allow(clippy::inline_always)] // a kernel gets the wide registers only where it is inlined

use pulp::Arch;
use rayon::prelude::*;

use super::marks::Rules;
use super::two_tone::{self, Guards};
use crate::search::stream::Stream;

/// Sets grown in one go before the best are sorted out.
const CHUNK: usize = 256;
/// Children kept between two sortings, in widths.
const SLACK: usize = 8;
/// Of each set about so many children are looked at: where it has more, a wider layer is worth more than all of them.
pub(super) const CHILDREN: usize = 48;
/// The most words a layer may hold.
const MAX_WORDS: usize = 1 << 24;

/// A search over one lattice of positions.
#[derive(Debug)]
pub(super) struct Beam {
    arch: Arch,
    length: usize,
    words: usize,
    separation: usize,
    /// Guards of products of two and of three carriers, 0 where they do not count.
    two_tone: Guards,
    three_tone: usize,
    /// Bits of the positions that may not be used.
    barred: Vec<u64>,
    /// A random word per position; a set is known by their exclusive or.
    names: Vec<u64>,
}

/// What a search came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Found {
    /// The last layer, best first; positions ascending.
    pub(super) sets: Vec<Vec<usize>>,
    /// Sets looked at.
    pub(super) evaluations: u64,
}

/// Sets of equally many carriers.
struct Layer {
    depth: usize,
    names: Vec<u64>,
    taken: Vec<u32>,
    /// For each set: what is blocked, the differences of both signs, the sums.
    bits: Vec<u64>,
}

/// A set of the next layer: a set of this one and one carrier more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Child {
    /// Positions still open, most first.
    open: std::cmp::Reverse<u32>,
    name: u64,
    parent: u32,
    at: u32,
}

impl Beam {
    /// A search on the free positions; `stream` breaks ties.
    pub(super) fn new(rules: Rules, free: &[bool], stream: &mut Stream) -> Self {
        let words = rules.length.div_ceil(64);
        let mut barred = vec![u64::MAX; words];
        for (at, _) in free.iter().enumerate().filter(|&(_, &free)| free) {
            barred[at / 64] &= !(1 << (at % 64));
        }
        let name = |_| (stream.below(1 << 32) << 32 | stream.below(1 << 32)) as u64;
        Self {
            arch: Arch::new(),
            length: rules.length,
            words,
            separation: rules.separation.max(1),
            two_tone: rules.two_tone,
            three_tone: rules.three_tone,
            barred,
            names: (0..rules.length).map(name).collect(),
        }
    }

    /// Words of one set.
    fn stride(&self) -> usize {
        5 * self.words + 2
    }

    /// The widest search that memory allows.
    pub(super) fn widest(&self) -> usize {
        MAX_WORDS / self.stride()
    }

    /// Grow until no set of the layer can, or `go_on` says no.
    ///
    /// O(width x children x length / 64) per layer; the same on any number of threads.
    pub(super) fn run(&self, width: usize, go_on: &(impl Fn() -> bool + Sync)) -> Found {
        let mut bits = self.barred.clone();
        bits.resize(self.stride(), 0);
        let mut layer = Layer { depth: 0, names: vec![0], taken: vec![], bits };
        let mut evaluations = 0;
        let width = width.min(self.widest()).max(1);
        while let Some(children) = self.children(&layer, width, &mut evaluations, go_on) {
            layer = self.next(&layer, &children);
        }
        let sets = (0..layer.names.len()).map(|i| {
            let mut set: Vec<usize> = layer.taken(i).iter().map(|&at| at as usize).collect();
            set.sort_unstable();
            set
        });
        Found { sets: sets.collect(), evaluations }
    }

    /// The best children of a layer, each once; `None` if there are none.
    fn children(
        &self,
        layer: &Layer,
        width: usize,
        evaluations: &mut u64,
        go_on: &(impl Fn() -> bool + Sync),
    ) -> Option<Vec<Child>> {
        let mut kept: Vec<Child> = Vec::new();
        let mut least = 0;
        let sort = |kept: &mut Vec<Child>| {
            kept.par_sort_unstable();
            kept.dedup_by_key(|child| child.name);
            kept.truncate(width);
        };
        for from in (0..layer.names.len()).step_by(CHUNK) {
            if !go_on() {
                return None;
            }
            let parents = from..(from + CHUNK).min(layer.names.len());
            let grown: Vec<(u64, Vec<Child>)> =
                parents.into_par_iter().map(|parent| self.grow(layer, parent, least)).collect();
            for (seen, children) in grown {
                *evaluations += seen;
                kept.extend(children);
            }
            if kept.len() > SLACK * width {
                sort(&mut kept);
                least = kept.get(width - 1).map_or(0, |child| child.open.0);
            }
        }
        sort(&mut kept);
        Some(kept).filter(|kept| !kept.is_empty())
    }

    /// Children of one set that leave at least so many positions open, and how many were looked at.
    fn grow(&self, layer: &Layer, parent: usize, least: u32) -> (u64, Vec<Child>) {
        let (set, taken) = (layer.bits(parent, self.stride()), layer.taken(parent));
        let mut after = vec![0; self.words];
        let mut children = Vec::new();
        let mut seen = 0;
        let total: u32 = set[..self.words].iter().map(|word| word.count_zeros()).sum();
        let pass = ((CHILDREN as u64) << 32) / u64::from(total.max(1));
        let mut draw = layer.names[parent];
        self.arch.dispatch(
            #[inline(always)]
            || {
                for word in 0..self.words {
                    let mut open = !set[word];
                    while open != 0 {
                        let at = word * 64 + open.trailing_zeros() as usize;
                        open &= open - 1;
                        // Knuth's linear congruential generator, of which the upper half is used.
                        draw = draw.wrapping_mul(6_364_136_223_846_793_005);
                        draw = draw.wrapping_add(1_442_695_040_888_963_407);
                        if draw >> 32 >= pass {
                            continue;
                        }
                        seen += 1;
                        self.block(set, taken, at, &mut after);
                        let open = after.iter().map(|word| word.count_zeros()).sum();
                        if open >= least {
                            children.push(Child {
                                open: std::cmp::Reverse(open),
                                name: layer.names[parent] ^ self.names[at],
                                parent: parent as u32,
                                at: at as u32,
                            });
                        }
                    }
                }
            },
        );
        (seen, children)
    }

    /// What is blocked once a carrier stands at `x`.
    #[inline(always)]
    fn block(&self, set: &[u64], taken: &[u32], x: usize, after: &mut [u64]) {
        let (blocked, rest) = set.split_at(self.words);
        after.copy_from_slice(blocked);
        if self.three_tone > 0 {
            // One more carrier y makes y + c = x + b or y + x = b + c: y = x + d, x - d or sum - x.
            let (differences, sums) = rest.split_at(2 * self.words + 1);
            or_right(after, differences, self.length - 1 - x);
            or_right(after, sums, x);
        }
        let x = x as i64;
        let near = self.separation as i64 - 1;
        mark(after, x - near, x + near, self.length);
        for &b in taken {
            two_tone::barred(&self.two_tone, x, i64::from(b), |low, high| {
                mark(after, low, high, self.length);
            });
        }
    }

    /// The layer of these children.
    fn next(&self, layer: &Layer, children: &[Child]) -> Layer {
        let stride = self.stride();
        let mut bits = vec![0; stride * children.len()];
        bits.par_chunks_mut(stride).zip(children).for_each(|(new, child)| {
            let parent = child.parent as usize;
            let (old, taken) = (layer.bits(parent, stride), layer.taken(parent));
            let x = child.at as usize;
            let (after, rest) = new.split_at_mut(self.words);
            self.block(old, taken, x, after);
            rest.copy_from_slice(&old[self.words..]);
            let (differences, sums) = rest.split_at_mut(2 * self.words + 1);
            if self.three_tone > 0 {
                let wide = self.three_tone as i64 - 1;
                let (zero, ends) = (self.length as i64 - 1, 2 * self.length);
                for &b in taken {
                    let (apart, sum) = (x.abs_diff(b as usize) as i64, x as i64 + i64::from(b));
                    mark(differences, zero + apart - wide, zero + apart + wide, ends);
                    mark(differences, zero - apart - wide, zero - apart + wide, ends);
                    mark(sums, sum - wide, sum + wide, ends);
                }
            }
        });
        let taken = children.iter().flat_map(|child| {
            layer.taken(child.parent as usize).iter().copied().chain(std::iter::once(child.at))
        });
        Layer {
            depth: layer.depth + 1,
            names: children.iter().map(|child| child.name).collect(),
            taken: taken.collect(),
            bits,
        }
    }
}

impl Layer {
    fn taken(&self, set: usize) -> &[u32] {
        &self.taken[set * self.depth..(set + 1) * self.depth]
    }

    fn bits(&self, set: usize, stride: usize) -> &[u64] {
        &self.bits[set * stride..(set + 1) * stride]
    }
}

/// Set the bits `low..=high` that lie within `0..length`.
#[inline(always)]
fn mark(bits: &mut [u64], low: i64, high: i64, length: usize) {
    let (low, high) = (low.max(0), high.min(length as i64 - 1));
    if low > high {
        return;
    }
    let (first, last) = (low as usize / 64, high as usize / 64);
    let (from, to) = (u64::MAX << (low % 64), u64::MAX >> (63 - high % 64));
    if first == last {
        bits[first] |= from & to;
    } else {
        bits[first] |= from;
        bits[first + 1..last].fill(u64::MAX);
        bits[last] |= to;
    }
}

/// `dst |= src >> shift`; `src` reaches a word past the last bit wanted.
#[inline(always)]
fn or_right(dst: &mut [u64], src: &[u64], shift: usize) {
    let (words, bits) = (shift / 64, shift % 64);
    let src = &src[words..=words + dst.len()];
    // Twice by halves, so that a shift by nothing needs no branch.
    for (i, d) in dst.iter_mut().enumerate() {
        *d |= src[i] >> bits | src[i + 1] << 1 << (63 - bits);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(rules: Rules, free: &[bool], width: usize) -> Found {
        Beam::new(rules, free, &mut Stream::new(1, 0)).run(width, &|| true)
    }

    fn ruler(length: usize) -> Rules {
        Rules { length: length + 1, separation: 1, two_tone: [1, 0, 0, 0], three_tone: 1 }
    }

    /// No product of two or three carriers on a carrier, counted out.
    fn clean(set: &[usize], forms: [bool; 2]) -> bool {
        let all = || set.iter().map(|&x| x as i64);
        all().all(|v| {
            let others = || all().filter(move |&a| a != v);
            !others().any(|a| {
                others().filter(|&b| b != a).any(|b| {
                    forms[0] && 2 * a - b == v
                        || forms[1] && others().any(|c| c != a && c != b && a + b - c == v)
                })
            })
        })
    }

    #[test]
    fn short_rulers_have_the_published_size() {
        // OEIS A003022: least lengths from two marks up.
        for (marks, length) in (2..).zip([1, 3, 6, 11, 17, 25, 34, 44, 55]) {
            let found = found(ruler(length), &vec![true; length + 1], 2_000);
            assert!(found.sets.iter().all(|set| set.len() == marks), "length {length}");
        }
    }

    #[test]
    fn every_set_is_clean_and_none_can_grow() {
        for (forms, separation) in [([1, 1], 3), ([1, 0], 2), ([0, 1], 1), ([0, 0], 5)] {
            let [two_tone, three_tone] = forms;
            let two_tone = [two_tone, 0, 0, 0];
            let rules = Rules { length: 130, separation, two_tone, three_tone };
            let free: Vec<bool> = (0..130).map(|at| at / 10 % 4 != 1).collect();
            let forms = forms.map(|guard| guard > 0);
            let fits = |set: &[usize]| {
                set.windows(2).all(|pair| pair[1] - pair[0] >= separation) && clean(set, forms)
            };
            for set in found(rules, &free, 20).sets {
                assert!(set.iter().all(|&at| free[at]) && fits(&set), "{forms:?}: {set:?}");
                for more in (0..130).filter(|&at| free[at] && !set.contains(&at)) {
                    let mut larger = set.clone();
                    larger.push(more);
                    larger.sort_unstable();
                    assert!(!fits(&larger), "{forms:?}: {set:?} and {more}");
                }
            }
        }
    }

    #[test]
    fn sets_of_a_layer_differ_and_threads_do_not_change_them() {
        let run = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            pool.expect("threads").install(|| found(ruler(150), &[true; 151], 300))
        };
        let one = run(1);
        let mut sets = one.sets.clone();
        sets.sort_unstable();
        sets.dedup();
        assert_eq!(sets.len(), one.sets.len());
        assert_eq!(one, run(3));
    }

    #[test]
    fn a_stop_leaves_what_has_grown() {
        let stopped = Beam::new(ruler(50), &[true; 51], &mut Stream::new(1, 0)).run(9, &|| false);
        assert_eq!(stopped, Found { sets: vec![vec![]], evaluations: 0 });
    }
}
