//! Hit counts of any form on a raster by generating polynomials, without visiting the hits.
//!
//! Let z count steps of the raster and let t mark which letter a carrier takes. The product over
//! all carriers x of `1 + sum over the distinct coefficients c of t_c z^(c x)` has at `t^S` the
//! distribution of the products in which S letters are filled by distinct carriers, letters with
//! equal coefficients exchanged freely. Dividing by the victim's own factor leaves the products
//! that do not contain the victim; the quotient of one such factor is a short alternating sum, so
//! that the counts around a victim cost one window of prefix sums per term.

use super::Form;
use super::carriers::Carriers;

/// The most counters held for one form, 8 bytes each.
const MAX_COUNTERS: u128 = 1 << 23;

/// The polynomials of one form over one set of carriers.
#[derive(Debug)]
pub(super) struct Series {
    states: Vec<State>,
    /// Coefficient, how many letters have it, and the distance between states that differ in one.
    classes: Vec<Class>,
}

#[derive(Debug, Clone, Copy)]
struct Class {
    coefficient: i64,
    letters: usize,
    stride: usize,
}

/// The products of one choice of filled letters.
#[derive(Debug)]
struct State {
    /// How many letters of each class are filled.
    filled: Vec<usize>,
    /// The sum of the filled positive coefficients, and of the negative ones' magnitudes.
    plus: i64,
    minus: i64,
    /// Number of products per sum, the first one at `-minus * span`; modulo 2^64.
    counts: Vec<u64>,
}

impl Series {
    /// The additions it takes, or `None` when the counters or the counts would not fit.
    pub(super) fn work(form: &Form, carriers: &Carriers) -> Option<u128> {
        let (states, classes) = layout(form);
        let span = carriers.span as u128;
        let length = |s: &State| (s.plus + s.minus) as u128 * span + 1;
        let fits = states.iter().map(length).sum::<u128>() <= MAX_COUNTERS
            && form.products(carriers.units.len()) <= u128::from(u64::MAX);
        let additions: u128 = states
            .iter()
            .enumerate()
            .flat_map(|(i, state)| predecessors(i, state, &classes))
            .map(|(before, _)| length(&states[before]))
            .sum();
        fits.then(|| additions * carriers.units.len() as u128)
    }

    /// Multiplies the factors of all carriers. O(carriers x span) for a given form.
    pub(super) fn new(form: &Form, carriers: &Carriers) -> Self {
        let (mut states, classes) = layout(form);
        let span = carriers.span;
        for state in &mut states {
            state.counts = vec![0; ((state.plus + state.minus) * span + 1) as usize];
        }
        states[0].counts[0] = 1;
        let mut units = carriers.units.clone();
        units.sort_unstable();
        // Ascending order keeps the occupied part of every polynomial short.
        let mut reach = 0;
        for unit in units {
            // Fuller states first: they need the emptier ones as they were before this carrier.
            for i in (1..states.len()).rev() {
                let (emptier, rest) = states.split_at_mut(i);
                let state = &mut rest[0];
                for (before, coefficient) in predecessors(i, state, &classes) {
                    let source = &emptier[before];
                    let start = source.minus * (span - reach);
                    let length = (source.plus + source.minus) * reach + 1;
                    let shifted = start + (state.minus - source.minus) * span + coefficient * unit;
                    let from = &source.counts[start as usize..(start + length) as usize];
                    let to = &mut state.counts[shifted as usize..(shifted + length) as usize];
                    for (sum, term) in to.iter_mut().zip(from) {
                        *sum = sum.wrapping_add(*term);
                    }
                }
            }
            reach = unit;
        }
        for state in &mut states {
            let mut total = 0_u64;
            for count in &mut state.counts {
                total = total.wrapping_add(*count);
                *count = total;
            }
        }
        Self { states, classes }
    }

    /// How many products without the carrier at `unit` lie within `radius` of it. O(states).
    pub(super) fn around(&self, unit: i64, radius: i64, span: i64) -> u64 {
        let full = self.states.len() - 1;
        let mut total = 0_u64;
        for (i, taken) in self.states.iter().enumerate() {
            // 1 / (1 + sum t_c z^(c d)): the multinomial number of orders, alternating in sign.
            let terms = orders(&taken.filled);
            let weight: i64 = self
                .classes
                .iter()
                .zip(&taken.filled)
                .map(|(c, &n)| c.coefficient * n as i64)
                .sum();
            let left = &self.states[full - i];
            let centre = unit * (1 - weight) + left.minus * span;
            let window = prefix(&left.counts, centre + radius)
                .wrapping_sub(prefix(&left.counts, centre - radius - 1));
            let signed = if taken.filled.iter().sum::<usize>() % 2 == 0 {
                terms
            } else {
                terms.wrapping_neg()
            };
            total = total.wrapping_add(signed.wrapping_mul(window));
        }
        total
    }
}

/// The states of a form, emptiest first and without counts, and its classes of letters.
fn layout(form: &Form) -> (Vec<State>, Vec<Class>) {
    let mut stride = 1;
    let mut classes = Vec::new();
    for (coefficient, letters) in form.classes() {
        classes.push(Class { coefficient: i64::from(coefficient), letters, stride });
        stride *= letters + 1;
    }
    let states = (0..stride)
        .map(|i| {
            let filled: Vec<usize> =
                classes.iter().map(|c| i / c.stride % (c.letters + 1)).collect();
            let side = |sign: i64| -> i64 {
                let parts = classes.iter().zip(&filled);
                parts.map(|(c, &n)| (sign * c.coefficient).max(0) * n as i64).sum()
            };
            State { plus: side(1), minus: side(-1), filled, counts: Vec::new() }
        })
        .collect();
    (states, classes)
}

/// The states one letter emptier than state `i`, each with the coefficient of that letter.
fn predecessors(i: usize, state: &State, classes: &[Class]) -> Vec<(usize, i64)> {
    let some = classes.iter().zip(&state.filled).filter(|&(_, &n)| n > 0);
    some.map(|(class, _)| (i - class.stride, class.coefficient)).collect()
}

/// The number of orders in which letters of these classes can be drawn: at most 9!.
fn orders(filled: &[usize]) -> u64 {
    let factorial = |n: usize| (1..=n as u64).product::<u64>();
    factorial(filled.iter().sum()) / filled.iter().map(|&n| factorial(n)).product::<u64>()
}

/// The sum of the entries up to and including `last`, from prefix sums.
fn prefix(sums: &[u64], last: i64) -> u64 {
    if last < 0 { 0 } else { sums[(last as usize).min(sums.len() - 1)] }
}
