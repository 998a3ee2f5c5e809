//! Which lattice of raster positions a beam search works on, and how wide it may be.

use std::time::{Duration, Instant};

use super::beam::{Beam, CHILDREN};
use super::marks::Rules;
use super::purse::Purse;
use super::raster::{Field, State};
use crate::search::stream::Stream;

/// Sets looked at that count as one iteration.
pub(super) const NODES: u64 = 1_000;
/// The first width, and what each is to the one before.
const NARROW: usize = 64;
const WIDER: f64 = 4.0;
/// The most lattices that are tried.
const OFFSETS: usize = 8;
/// Longer lattices are left to the other parts.
const MAX_LENGTH: usize = 8_192;
/// The share of what is left of a budget that goes into beams.
const SHARE: f64 = 0.6;
/// Of each beam, so many sets are handed on.
const KEEP: usize = 8;

/// What beams found and took.
#[derive(Debug, Default)]
pub(super) struct Beams {
    /// Sets on the raster, ascending positions, larger sets first.
    pub(super) sets: Vec<Vec<usize>>,
    pub(super) iterations: u64,
}

/// Every position from `offset` on in steps of the narrowest guard: products that miss a carrier at all miss it by that.
fn lattice(field: &Field, offset: usize) -> (Rules, Vec<bool>) {
    let free: Vec<bool> = field.free.iter().copied().skip(offset).step_by(field.grain()).collect();
    let Rules { separation, two_tone, three_tone, .. } = field.rules;
    let rules = Rules {
        length: free.len(),
        separation: separation.div_ceil(field.grain()),
        two_tone: two_tone.map(|guard| guard.div_ceil(field.grain())),
        three_tone: three_tone.div_ceil(field.grain()),
    };
    (rules, free)
}

/// Wider and wider beams, on all lattices first and then on the best, for a share of what is left.
///
/// They end where widening does not help and other parts of the portfolio are clearly ahead.
pub(super) fn beams(field: &Field, state: &State, left: Option<u64>) -> Beams {
    let (scale, mut all) = (field.grain(), Beams::default());
    let met = || state.best() >= state.upper();
    if met() || field.rules.length.div_ceil(scale) > MAX_LENGTH {
        return all;
    }
    let purse = Purse::new(state, left, SHARE);
    let tried = scale.min(OFFSETS).min(field.free.len());
    let mut offsets: Vec<usize> = (0..tried).map(|i| i * scale / tried).collect();
    let (mut width, mut before) = (NARROW, 0);
    // Of the lattice about half is open on the way, and there are a few dozen carriers.
    let open = (field.free.len() / scale / 2).min(CHILDREN);
    let first = (NARROW * open * tried * 24) as u64 / NODES;
    if purse.affords(first, Duration::ZERO) < 1.0 {
        return all;
    }
    for round in 0.. {
        let started = Instant::now();
        let (mut best, mut spent, mut widest) = ((0, offsets[0]), 0, false);
        for &offset in &offsets {
            let (rules, free) = lattice(field, offset);
            let mut stream = Stream::new(state.seed, (round * OFFSETS + offset) as u64 | 1 << 63);
            let beam = Beam::new(rules, &free, &mut stream);
            widest |= width >= beam.widest();
            let found = beam.run(width, &|| state.open(0));
            spent += found.evaluations.div_ceil(NODES);
            let size = found.sets[0].len();
            state.improved(size, 0, all.iterations + spent);
            if size > best.0 {
                best = (size, offset);
            }
            let raster = |set: &Vec<usize>| set.iter().map(|&at| at * scale + offset).collect();
            all.sets.extend(found.sets.iter().take(KEEP).map(raster));
        }
        all.iterations += spent;
        // The next beam, on one lattice, may be as much wider as the rest of the share pays for.
        let beams = offsets.len() as u32;
        let rest = purse.after(all.iterations);
        let wider = rest.affords(spent / u64::from(beams), started.elapsed() / beams).min(WIDER);
        let idle = round > 0 && best.0 <= before && best.0 + 2 <= state.best();
        if idle || met() || !state.open(0) || wider < 0.25 || widest {
            break;
        }
        offsets = vec![best.1];
        before = best.0;
        width = (width as f64 * wider) as usize;
    }
    all.sets.sort_by_key(|set| std::cmp::Reverse(set.len()));
    all
}
