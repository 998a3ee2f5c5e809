//! How many hits each carrier of a finished set takes, without listing them.

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::error::{Error, Result};

use super::Form;
use super::carriers::{Carriers, Guarded, Widths, reduce};
use super::halves::{self, Halves};
use super::pair_sums::PairSums;
use super::series::Series;

/// The most pair sums kept one by one, 8 bytes each.
const MAX_PAIR_SUMS: u128 = 1 << 23;

/// The most ordered pairs of carriers looked at; some seconds of work.
const MAX_PAIRS: u128 = 500_000_000;

/// The most additions of polynomials; some seconds of work.
const MAX_ADDITIONS: u128 = 20_000_000_000;

/// How many additions along a polynomial cost as much as one look-up among half-sums; measured
/// between 400 and 2,000.
const ADDITIONS_PER_LOOKUP: u128 = 500;

/// How many hits of each guard each carrier takes as the victim: `[guard][victim]`.
///
/// What is a hit is told at [`hits`](super::hits); the counts are the numbers of entries of that
/// list. No hit is visited where a form has two letters, is `A+B-C`, or the carriers share a raster
/// that is coarse enough, so that sets far too dense to list can be counted.
///
/// ```
/// use sidon::product::hit_counts;
/// let carriers = [500_000_000, 500_400_000, 500_800_000];
/// assert_eq!(hit_counts(&carriers, &[("2A-B".parse()?, 1)])?, [[1, 0, 1]]);
/// # Ok::<(), sidon::Error>(())
/// ```
///
/// # Complexity
/// Two letters: O(n^2). `A+B-C`: O(n^2) on a raster whose pair sums fit counters, O(n^2 log n)
/// otherwise. Other forms: O(n s) for s raster steps between the outermost carriers while
/// counters and 64-bit counts suffice, otherwise as [`hits`](super::hits).
///
/// # Errors
/// [`Error::Invalid`] as for [`hits`](super::hits); [`Error::TooLarge`] where counting would take more
/// than some seconds or some hundred megabytes.
pub fn hit_counts(frequencies_hz: &[i64], guards: &[(Form, i64)]) -> Result<Vec<Vec<u64>>> {
    count(frequencies_hz, guards.iter().map(|(form, width)| (form, Widths::Same(*width))))
}

/// [`hit_counts`] with one guard width per carrier as the victim.
///
/// # Errors
/// As [`hit_counts`]; [`Error::Invalid`] also when a guard does not have one width per carrier.
pub fn hit_counts_by_victim(
    frequencies_hz: &[i64],
    guards: &[(Form, Vec<i64>)],
) -> Result<Vec<Vec<u64>>> {
    count(frequencies_hz, guards.iter().map(|(form, widths)| (form, Widths::Each(widths))))
}

fn count<'a>(
    frequencies_hz: &[i64],
    guards: impl Iterator<Item = (&'a Form, Widths<'a>)>,
) -> Result<Vec<Vec<u64>>> {
    let (carriers, guarded) = reduce(frequencies_hz, guards)?;
    count_reduced(&carriers, &guarded)
}

/// The counts behind [`hit_counts`].
pub(super) fn count_reduced(carriers: &Carriers, guarded: &[Guarded]) -> Result<Vec<Vec<u64>>> {
    let unvisited: Vec<Option<Vec<u64>>> = guarded
        .par_iter()
        .map(|guard| match guard.form.coefficients() {
            _ if guard.radii.iter().all(Option::is_none) => Ok(Some(vec![0; guard.radii.len()])),
            [m, _] => two_tone(guard, carriers, i64::from(*m)).map(Some),
            [1, 1, -1] => three_tone(guard, carriers).map(Some),
            _ => Ok(series_pays(guard, carriers).then(|| by_series(guard, carriers))),
        })
        .collect::<Result<_>>()?;
    // Half-sums are large: one form at a time, its victims spread over the threads.
    let visit = |(guard, counts): (&Guarded, Option<Vec<u64>>)| {
        counts.map_or_else(|| by_visiting(guard, carriers), Ok)
    };
    guarded.iter().zip(unvisited).map(visit).collect()
}

/// The carriers in ascending order.
struct Sorted {
    units: Vec<i64>,
    /// The index each had before.
    carriers: Vec<usize>,
}

impl Sorted {
    fn new(carriers: &Carriers) -> Self {
        let mut order: Vec<usize> = (0..carriers.units.len()).collect();
        order.sort_unstable_by_key(|&c| carriers.units[c]);
        Self { units: order.iter().map(|&c| carriers.units[c]).collect(), carriers: order }
    }

    /// How many other carriers lie within `radius` of a carrier at `unit`.
    fn neighbours(&self, unit: i64, radius: i64) -> u64 {
        let from = self.units.partition_point(|&u| u < unit - radius);
        (self.units[from..].partition_point(|&u| u <= unit + radius) - 1) as u64
    }
}

/// Calls `count` for every victim with a guard: its place in ascending order, unit and radius.
fn each_victim(
    guard: &Guarded,
    sorted: &Sorted,
    count: impl Fn(usize, i64, i64) -> u64 + Sync,
) -> Vec<u64> {
    let ascending: Vec<u64> = (0..sorted.units.len())
        .into_par_iter()
        .map(|place| {
            let radius = guard.radii[sorted.carriers[place]];
            radius.map_or(0, |radius| count(place, sorted.units[place], radius))
        })
        .collect();
    let mut counts = vec![0; ascending.len()];
    for (&carrier, count) in sorted.carriers.iter().zip(ascending) {
        counts[carrier] = count;
    }
    counts
}

/// `m A - (m - 1) B`: for every victim and B, the fitting A are a window that moves up with B.
fn two_tone(guard: &Guarded, carriers: &Carriers, m: i64) -> Result<Vec<u64>> {
    check_pairs(guard, carriers)?;
    let sorted = Sorted::new(carriers);
    let units = &sorted.units[..];
    Ok(each_victim(guard, &sorted, |victim, unit, radius| {
        let (mut from, mut to, mut total) = (0, 0, 0);
        for (place, b) in units.iter().enumerate() {
            let centre = (m - 1) * b + unit;
            while from < units.len() && m * units[from] < centre - radius {
                from += 1;
            }
            while to < units.len() && m * units[to] <= centre + radius {
                to += 1;
            }
            if place != victim {
                total += (to - from) as u64;
            }
        }
        // A = B puts the product on B; A = victim puts it m - 1 times B's distance away.
        total - sorted.neighbours(unit, radius) - sorted.neighbours(unit, radius / (m - 1))
    }))
}

/// `A+B-C` on D: pair sums A+B near the pair sum C+D, less the pairs that share a carrier.
fn three_tone(guard: &Guarded, carriers: &Carriers) -> Result<Vec<u64>> {
    check_pairs(guard, carriers)?;
    let sorted = Sorted::new(carriers);
    let units = &sorted.units[..];
    let kept = PairSums::kept(units.len(), carriers.span);
    if kept > MAX_PAIR_SUMS {
        return Err(too_large(guard, carriers, &format!("{kept} pair sums off any coarse raster")));
    }
    let sums = PairSums::new(units, carriers.span);
    let mut neighbourhoods = BTreeMap::new();
    for &radius in guard.radii.iter().flatten() {
        neighbourhoods
            .entry(radius)
            .or_insert_with(|| units.iter().map(|&u| sorted.neighbours(u, radius)).sum::<u64>());
    }
    Ok(each_victim(guard, &sorted, |victim, unit, radius| {
        let total: u64 = units
            .iter()
            .enumerate()
            .filter(|&(place, _)| place != victim)
            .map(|(_, c)| sums.within(c + unit - radius, c + unit + radius))
            .sum();
        // Of the pairs counted for {C, D}, one is {C, D} itself; {C, X} shares C and is near where
        // X is a neighbour of D; {D, X} where X is a neighbour of C. X is never C or D. Summed over
        // all C, with `near` neighbours of D:
        let others = units.len() as u64 - 1;
        let near = sorted.neighbours(unit, radius);
        total + 3 * near - others * (1 + near) - neighbourhoods[&radius]
    }))
}

/// The additions of polynomials that count a form, where they are possible.
fn additions(guard: &Guarded, carriers: &Carriers) -> Option<u128> {
    Series::work(guard.form, carriers).filter(|&additions| additions <= MAX_ADDITIONS)
}

/// Whether polynomials are possible and cheaper than half-sums.
fn series_pays(guard: &Guarded, carriers: &Carriers) -> bool {
    let lookups = halves::steps(guard.form, carriers.units.len());
    additions(guard, carriers).is_some_and(|n| n <= lookups.saturating_mul(ADDITIONS_PER_LOOKUP))
}

/// Any form by generating polynomials.
fn by_series(guard: &Guarded, carriers: &Carriers) -> Vec<u64> {
    let series = Series::new(guard.form, carriers);
    let around = |(&unit, radius): (&i64, &Option<i64>)| {
        radius.map_or(0, |radius| series.around(unit, radius, carriers.span))
    };
    carriers.units.par_iter().zip(&guard.radii).map(around).collect()
}

/// Any form by visiting every hit; by polynomials after all when those are too many.
fn by_visiting(guard: &Guarded, carriers: &Carriers) -> Result<Vec<u64>> {
    let halves = match Halves::new(guard, carriers)
        .and_then(|halves| halves.check_near().map(|()| halves))
    {
        Ok(halves) => halves,
        Err(refusal) => {
            let possible = additions(guard, carriers).map(|_| by_series(guard, carriers));
            return possible.ok_or(refusal);
        }
    };
    let count = |victim| {
        let mut hits = 0;
        halves.visit(victim, |_, _| hits += 1);
        hits
    };
    Ok((0..carriers.units.len()).into_par_iter().map(count).collect())
}

/// Refuses more pairs of carriers than can be looked at.
fn check_pairs(guard: &Guarded, carriers: &Carriers) -> Result<()> {
    let pairs = (carriers.units.len() as u128).pow(2);
    if pairs > MAX_PAIRS {
        return Err(too_large(guard, carriers, &format!("{pairs} pairs of carriers")));
    }
    Ok(())
}

fn too_large(guard: &Guarded, carriers: &Carriers, why: &str) -> Error {
    Error::TooLarge {
        what: format!("the count of {} among {} carriers", guard.form, carriers.units.len()),
        why: format!("{why}, above the limit"),
        remedy: "count fewer carriers at once".into(),
    }
}
