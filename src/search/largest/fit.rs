//! Algebraic sets fitted to a raster: multipliers, rotations and offsets, counted against what is free.

use rayon::prelude::*;

use super::algebraic::{Modular, constructions};
use crate::frequency::gcd;

/// About how many carriers may be tried for a place in one call, all fits together.
const EFFORT: i64 = 400_000_000;

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
}

/// One multiple of a set, ready to be turned about.
struct Turn<'s> {
    set: &'s Modular,
    multiplier: i64,
}

/// The best fits, larger first, at most `most`; positions ascending.
///
/// On a clear raster only rotations that start at a carrier matter; with gaps every rotation and offset
/// does. Multipliers are thinned out evenly where all of them would be too many.
pub(super) fn fits(
    ground: &Ground,
    most: usize,
    go_on: impl Fn() -> bool + Sync,
) -> Vec<Vec<usize>> {
    let window = ((ground.free.len() - 1) / ground.scale + 1) as i64;
    let clear = ground.free.iter().all(|&free| free);
    let sets = constructions(ground.fold, window / 2, window + window / 2);
    let work: Vec<Turn> = sets
        .iter()
        .flat_map(|set| multipliers(set).map(move |multiplier| Turn { set, multiplier }))
        .collect();
    let effort = |turn: &Turn| {
        let size = turn.set.elements.len() as i64;
        size * if clear { size } else { turn.set.modulus * ground.scale as i64 }
    };
    let thin = (work.iter().map(effort).sum::<i64>() / EFFORT) as usize + 1;
    let chosen: Vec<&Turn> = work.iter().step_by(thin).collect();
    let mut found: Vec<Vec<usize>> = chosen
        .par_iter()
        .filter(|_| go_on())
        .map(|turn| best_rotation(ground, turn, clear))
        .collect();
    found.sort_by(|a, b| b.len().cmp(&a.len()).then_with(|| a.cmp(b)));
    found.dedup();
    found.truncate(most);
    found
}

/// Multipliers that give different sets: units, one of each orbit under the set's own multiplier and sign.
fn multipliers(set: &Modular) -> impl Iterator<Item = i64> {
    let Modular { modulus, multiplier, .. } = *set;
    (1..=modulus / 2).filter(move |&unit| {
        let mut image = unit * multiplier % modulus;
        while image != unit && image.min(modulus - image) >= unit {
            image = image * multiplier % modulus;
        }
        gcd(unit, modulus) == 1 && image.min(modulus - image) == unit
    })
}

/// The largest fit of one multiple of a set, over rotations and offsets.
fn best_rotation(ground: &Ground, turn: &Turn, clear: bool) -> Vec<usize> {
    let modulus = turn.set.modulus;
    let mut residues: Vec<i64> =
        turn.set.elements.iter().map(|a| a * turn.multiplier % modulus).collect();
    residues.sort_unstable();
    let rotations: Vec<i64> = if clear { residues.clone() } else { (0..modulus).collect() };
    let offsets = if clear { 1 } else { ground.scale };
    let mut best: Vec<usize> = Vec::new();
    let mut positions = Vec::with_capacity(residues.len());
    for rotation in rotations {
        let cut = residues.partition_point(|&r| r < rotation);
        let turned = residues[cut..]
            .iter()
            .map(|r| r - rotation)
            .chain(residues[..cut].iter().map(|r| r - rotation + modulus));
        for offset in 0..offsets {
            positions.clear();
            let mut clear_from = 0;
            for residue in turned.clone() {
                let position = residue as usize * ground.scale + offset;
                if position >= ground.free.len() {
                    break;
                }
                // From low to high, taking each carrier that is far enough from the last is optimal.
                if ground.free[position] && position >= clear_from {
                    positions.push(position);
                    clear_from = position + ground.separation;
                }
            }
            if positions.len() > best.len() {
                best.clone_from(&positions);
            }
        }
    }
    best
}
