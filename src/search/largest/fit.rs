//! Algebraic sets fitted to a raster: multipliers, rotations and offsets, counted against what is free.

use rayon::prelude::*;

use super::algebraic::{Modular, constructions};
use super::correlate::{Counts, Ring};
use super::two_tone::{self, Guards};
use crate::frequency::gcd;

/// Iterations of one slice of the fits; a few hundredths of a second.
pub(super) const SLICE: u64 = 300;
/// Additions of 64 rotations that count as one iteration.
const ADDITIONS: u64 = 10_000;
/// Of one multiple of a set so many rotations with one count are laid out.
const LAID: usize = 64;
/// And so many where carriers must be taken off again.
const THINNED: usize = 16;

/// What the sets must fit.
#[derive(Debug)]
pub(super) struct Ground<'g> {
    /// Which raster positions are free.
    pub(super) free: &'g [bool],
    /// Least distance between carriers, in raster steps.
    pub(super) separation: usize,
    /// Raster steps to one step of the set: at least every guard.
    pub(super) scale: usize,
    /// Sums of how many carriers must be distinct.
    pub(super) fold: usize,
    /// Guards that distinct sums do not keep.
    pub(super) two_tone: Guards,
}

/// A set, and what is free on its ring at every offset.
#[derive(Debug)]
struct Wound {
    set: Modular,
    rings: Vec<Ring>,
}

/// All fits of all sets to one ground, a slice at a time.
///
/// A set whose modulus is shorter than the raster is wound around it: an element may stand at any free position
/// of its residue, which keeps sums distinct. Where much is taken, short and dense sets win by that.
#[derive(Debug)]
pub(super) struct Fits<'g> {
    ground: &'g Ground<'g>,
    clear: bool,
    sets: Vec<Wound>,
    /// Set and multiplier, evenly mixed.
    turns: Vec<(usize, i64)>,
    next: usize,
    /// Sets much smaller than the largest are not laid out.
    best: usize,
}

impl<'g> Fits<'g> {
    /// Nothing fitted yet.
    pub(super) fn new(ground: &'g Ground<'g>) -> Self {
        let window = ((ground.free.len() - 1) / ground.scale + 1) as i64;
        let clear = ground.free.iter().all(|&free| free);
        let offsets = if clear { 1 } else { ground.scale };
        let lattices: Vec<Vec<bool>> = (0..offsets)
            .map(|offset| ground.free.iter().copied().skip(offset).step_by(ground.scale).collect())
            .collect();
        let [shortest, longest] =
            if clear { [window / 2, 2 * window] } else { [window / 8, window + window / 2] };
        let sets: Vec<Wound> = constructions(ground.fold, [shortest, window, longest])
            .into_iter()
            .map(|set| {
                let ring = |free: &Vec<bool>| Ring::new(free, set.modulus as usize);
                Wound { rings: lattices.iter().map(ring).collect(), set }
            })
            .collect();
        let all: Vec<(usize, i64)> = (0..sets.len())
            .flat_map(|i| multipliers(&sets[i].set, clear).map(move |unit| (i, unit)))
            .collect();
        // Steps of the golden section spread every beginning of the list evenly over all of it.
        let n = all.len().max(1);
        let step =
            (1..=n).rev().filter(|&s| s * 1_000 <= n * 618).find(|&s| gcd(s as i64, n as i64) == 1);
        let step = step.unwrap_or(1);
        let turns = (0..all.len()).map(|i| all[i * step % n]).collect();
        Self { ground, clear, sets, turns, next: 0, best: 0 }
    }

    /// Whether everything was tried.
    pub(super) fn done(&self) -> bool {
        self.next == self.turns.len()
    }

    /// The best fits of the next slice, larger first, at most `most`; positions ascending.
    pub(super) fn slice(
        &mut self,
        most: usize,
        go_on: impl Fn() -> bool + Sync,
    ) -> Vec<Vec<usize>> {
        let (from, mut effort) = (self.next, 0);
        while effort < SLICE * ADDITIONS && !self.done() {
            let Wound { set, rings } = &self.sets[self.turns[self.next].0];
            effort +=
                (set.elements.len() as i64 * (set.modulus / 64 + 1)) as u64 * rings.len() as u64;
            self.next += 1;
        }
        let mut found: Vec<Vec<usize>> = self.turns[from..self.next]
            .par_iter()
            .filter(|_| go_on())
            .map_init(Counts::new, |counts, &(set, multiplier)| {
                self.fit(counts, &self.sets[set], multiplier)
            })
            .filter(|set| !set.is_empty())
            .collect();
        found.sort_by(|a, b| b.len().cmp(&a.len()).then_with(|| a.cmp(b)));
        found.dedup();
        found.truncate(most);
        self.best = self.best.max(found.first().map_or(0, Vec::len));
        found
    }

    /// The largest fit of one multiple of a set, over rotations and offsets; empty if far below the best.
    fn fit(
        &self,
        counts: &mut Counts,
        Wound { set, rings }: &Wound,
        multiplier: i64,
    ) -> Vec<usize> {
        let modulus = set.modulus;
        let mut residues: Vec<i64> =
            set.elements.iter().map(|a| a * multiplier % modulus).collect();
        residues.sort_unstable();
        // On a clear raster only rotations that start at a carrier matter.
        let starts: Option<Vec<i64>> =
            self.clear.then(|| residues.iter().map(|r| (modulus - r) % modulus).collect());
        let mut best: Vec<usize> = Vec::new();
        let (mut rotations, mut laid, mut hits) = (Vec::new(), Vec::new(), Vec::new());
        let thins = self.ground.two_tone.iter().any(|&guard| guard > 0);
        let tried = if thins { THINNED } else { LAID };
        for (offset, ring) in rings.iter().enumerate() {
            counts.fill(ring, &residues, starts.as_deref());
            for count in (self.best.saturating_sub(1).max(1)..=counts.most()).rev() {
                if count <= best.len() {
                    break;
                }
                counts.with(count, &mut rotations);
                for &rotation in rotations.iter().take(tried) {
                    self.lay(&residues, (modulus, rotation, offset), &mut laid);
                    if thins && laid.len() > best.len() {
                        two_tone::thin(&self.ground.two_tone, &mut laid, &mut hits);
                    }
                    if laid.len() > best.len() {
                        best.clone_from(&laid);
                    }
                }
            }
        }
        if best.len() + 1 < self.best { vec![] } else { best }
    }

    /// Put elements on free positions from low to high, each once and far enough from the last.
    fn lay(
        &self,
        residues: &[i64],
        (modulus, rotation, offset): (i64, i64, usize),
        laid: &mut Vec<usize>,
    ) {
        let Ground { free, separation, scale, .. } = *self.ground;
        laid.clear();
        let cut = residues.partition_point(|&r| r < modulus - rotation);
        let turned = residues[cut..].iter().map(|r| r + rotation - modulus);
        let turned: Vec<i64> = turned.chain(residues[..cut].iter().map(|r| r + rotation)).collect();
        let mut used = vec![false; turned.len()];
        let mut clear_from = 0;
        for round in 0.. {
            if (round * modulus) as usize * scale >= free.len() {
                break;
            }
            for (element, used) in turned.iter().zip(&mut used) {
                let position = (element + round * modulus) as usize * scale + offset;
                if position >= free.len() {
                    break;
                }
                if free[position] && position >= clear_from && !*used {
                    laid.push(position);
                    clear_from = position + separation;
                    *used = true;
                }
            }
        }
    }
}

/// Multipliers that give different sets: units, one of each orbit under the set's own multiplier, and where
/// the ground is its own mirror image under the sign.
fn multipliers(set: &Modular, mirrored: bool) -> impl Iterator<Item = i64> {
    let Modular { modulus, multiplier, .. } = *set;
    let units = (1..=modulus / 2).filter(move |&unit| {
        let mut image = unit * multiplier % modulus;
        while image != unit && image.min(modulus - image) >= unit {
            image = image * multiplier % modulus;
        }
        gcd(unit, modulus) == 1 && image.min(modulus - image) == unit
    });
    units.flat_map(move |unit| {
        [Some(unit), (!mirrored).then_some(modulus - unit)].into_iter().flatten()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether no sum of two carriers comes nearer to another such sum than the scale.
    fn clean(set: &[usize], ground: &Ground) -> bool {
        let apart = set.windows(2).all(|pair| pair[1] - pair[0] >= ground.separation);
        let mut sums: Vec<usize> = (0..set.len())
            .flat_map(|i| (i..set.len()).map(move |j| (i, j)))
            .map(|(i, j)| set[i] + set[j])
            .collect();
        sums.sort_unstable();
        apart && sums.windows(2).all(|pair| pair[1] - pair[0] >= ground.scale)
    }

    fn all(ground: &Ground) -> Vec<Vec<usize>> {
        let (mut fits, mut found) = (Fits::new(ground), vec![]);
        while !fits.done() {
            found.extend(fits.slice(64, || true));
        }
        found
    }

    #[test]
    fn every_fit_keeps_the_rules_also_where_a_set_is_wound_around_the_raster() {
        for (separation, scale) in [(1, 1), (5, 2), (14, 4), (3, 4)] {
            let free: Vec<bool> =
                (0..500).map(|at| at / 30 % 4 == 1 || at % 7 == 0 && at > 400).collect();
            let ground = Ground { free: &free, separation, scale, fold: 2, two_tone: [0; 4] };
            let found = all(&ground);
            assert!(!found.is_empty());
            for set in &found {
                assert!(set.iter().all(|&at| free[at]) && clean(set, &ground), "{set:?}");
            }
            let stricter = Ground { two_tone: [0, scale, 0, 1], ..ground };
            for set in all(&stricter) {
                assert!(clean(&set, &stricter), "{set:?}");
                for (&a, &b) in set.iter().flat_map(|a| set.iter().map(move |b| (a, b))) {
                    for (p, guard) in [(3, scale as i64), (5, 1)] {
                        let product = p * a as i64 - (p - 1) * b as i64;
                        let met = |&&c: &&usize| {
                            a != b && c != a && c != b && (product - c as i64).abs() < guard
                        };
                        assert_eq!(set.iter().find(met), None, "{p} of {a}, {b}: {set:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_set_that_is_there_is_found_whole() {
        // Singer 1938: 10 numbers modulo 91 with distinct differences; here multiplied by 5 and turned by 17.
        let set = crate::search::largest::algebraic::singer(9).expect("a prime power");
        let mut free = vec![false; 92];
        set.elements.iter().for_each(|a| free[((a * 5 + 17) % 91) as usize] = true);
        let ground = Ground { free: &free, separation: 1, scale: 1, fold: 2, two_tone: [0; 4] };
        let most = all(&ground).iter().map(Vec::len).max();
        assert_eq!(most, Some(10));
        // Half of the elements once round the raster: still the same residues.
        let mut wound = vec![false; 183];
        for (i, a) in set.elements.iter().enumerate() {
            wound[((a * 5 + 17) % 91) as usize + 91 * (i % 2)] = true;
        }
        let ground = Ground { free: &wound, separation: 1, scale: 1, fold: 2, two_tone: [0; 4] };
        assert_eq!(all(&ground).iter().map(Vec::len).max(), Some(10));
    }
}
