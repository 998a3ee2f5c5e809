//! Visiting every hit of a form: meet in the middle on the form's letters.
//!
//! The letters are split into two halves, the victim with the left one. A hit is a right half-sum
//! in a window around victim - left half-sum; the right half-sums are sorted, the left ones are
//! tried against each victim.

use std::cmp::Reverse;

use rayon::prelude::*;

use crate::error::{Error, Result};

use super::Form;
use super::buckets::Buckets;
use super::carriers::{Carriers, Guarded};

/// The most half-sums kept on either side, 16 bytes each.
const MAX_HALF_SUMS: u128 = 1 << 24;

/// The most half-sums made and looked up; some seconds of work.
const MAX_STEPS: u128 = 100_000_000;

/// The most near-coincidences of half-sums looked at; some seconds of work.
const MAX_NEAR: u128 = 1_000_000_000;

/// The most letters a form can have.
pub(super) const MAX_LETTERS: usize = super::form::MAX_ORDER as usize;

/// The sum of some letters and their carriers, packed.
#[derive(Debug, Clone, Copy)]
struct HalfSum {
    sum: i64,
    carriers: u64,
}

/// Some of the letters of a form.
#[derive(Debug, Clone)]
struct Half {
    /// Their places in the form, ascending, and their coefficients.
    places: Vec<usize>,
    coefficients: Vec<i64>,
}

/// How the letters of a form are split, and what that costs.
#[derive(Debug, Clone)]
pub(super) struct Split {
    left: Half,
    right: Half,
    left_sums: u128,
    right_sums: u128,
    carriers: u128,
}

impl Half {
    /// Packed carriers take equal shares of 64 bits.
    fn bits(&self) -> u32 {
        64 / self.places.len().max(1) as u32
    }

    fn unpack(&self, packed: u64, places: &mut [usize]) {
        let bits = self.bits();
        for (i, &place) in self.places.iter().enumerate() {
            let shifted = packed >> (bits * i as u32);
            places[place] = if bits == 64 { shifted } else { shifted & ((1 << bits) - 1) } as usize;
        }
    }

    /// Every way to put distinct carriers on the letters, ascending on equal coefficients.
    fn sums(&self, units: &[i64]) -> Vec<HalfSum> {
        let bits = self.bits();
        let mut sums = vec![HalfSum { sum: 0, carriers: 0 }];
        let mut places = [0; MAX_LETTERS];
        for (i, &coefficient) in self.coefficients.iter().enumerate() {
            let follows = i > 0 && self.coefficients[i - 1] == coefficient;
            let mut longer = Vec::new();
            for half in &sums {
                self.unpack(half.carriers, &mut places);
                let used = |c: usize| self.places[..i].iter().any(|&p| places[p] == c);
                let first = if follows { places[self.places[i - 1]] + 1 } else { 0 };
                longer.extend((first..units.len()).filter(|&c| !used(c)).map(|c| HalfSum {
                    sum: half.sum + coefficient * units[c],
                    carriers: half.carriers | (c as u64) << (bits * i as u32),
                }));
            }
            sums = longer;
        }
        sums
    }
}

impl Split {
    /// The cheapest split for this many carriers.
    fn best(form: &Form, carriers: usize) -> Self {
        // Letters with equal coefficients stay together, so that each choice of carriers for them
        // is met once.
        let classes = form.classes();
        (0..1 << classes.len())
            .map(|code| Self::numbered(&classes, carriers, code))
            .min_by_key(Self::steps)
            .expect("a form has letters")
    }

    /// The split in which the bits of `code` send classes of letters to the right.
    fn numbered(classes: &[(i32, usize)], carriers: usize, code: usize) -> Self {
        let empty = Half { places: Vec::new(), coefficients: Vec::new() };
        let (mut left, mut right) = (empty.clone(), empty);
        let mut place = 0;
        for (i, &(coefficient, letters)) in classes.iter().enumerate() {
            let half = if code >> i & 1 == 1 { &mut right } else { &mut left };
            half.places.extend(place..place + letters);
            half.coefficients.extend(vec![i64::from(coefficient); letters]);
            place += letters;
        }
        let count = |half: &Half| {
            let runs = half.coefficients.chunk_by(|a, b| a == b).map(<[i64]>::len);
            super::form::arrangements(runs, carriers)
        };
        let (left_sums, right_sums) = (count(&left), count(&right));
        Self { left, right, left_sums, right_sums, carriers: carriers as u128 }
    }

    /// Look-ups and sums together; a sum is sorted, which costs about as much as a look-up.
    fn steps(&self) -> u128 {
        self.left_sums.saturating_mul(self.carriers).saturating_add(self.right_sums)
    }
}

/// The half-sums of one form over one set of carriers.
#[derive(Debug)]
pub(super) struct Halves<'a> {
    guarded: &'a Guarded<'a>,
    units: &'a [i64],
    split: Split,
    /// Descending, so that the windows of a victim ascend.
    left: Vec<HalfSum>,
    /// Ascending.
    right: Vec<HalfSum>,
    index: Buckets,
}

/// The steps [`Halves`] takes, near-coincidences aside.
pub(super) fn steps(form: &Form, carriers: usize) -> u128 {
    Split::best(form, carriers).steps()
}

impl<'a> Halves<'a> {
    /// Prepares the half-sums: O(n^h log n) where h is half the letters with the victim, rounded
    /// up.
    ///
    /// # Errors
    /// [`Error::TooLarge`] when there would be too many half-sums or look-ups.
    pub(super) fn new(guarded: &'a Guarded<'a>, carriers: &'a Carriers) -> Result<Self> {
        let units = &carriers.units[..];
        let split = Split::best(guarded.form, units.len());
        let largest = split.left_sums.max(split.right_sums);
        if largest > MAX_HALF_SUMS {
            return Err(too_large(guarded, units, &format!("{largest} half-sums")));
        }
        if split.steps() > MAX_STEPS {
            return Err(too_large(guarded, units, &format!("{} look-ups", split.steps())));
        }
        let mut left = split.left.sums(units);
        left.par_sort_unstable_by_key(|half| (Reverse(half.sum), half.carriers));
        let mut right = split.right.sums(units);
        right.par_sort_unstable_by_key(|half| (half.sum, half.carriers));
        let index = Buckets::new(right.iter().map(|half| half.sum));
        Ok(Self { guarded, units, split, left, right, index })
    }

    /// Refuses to look at too many near-coincidences, which only counting them can tell.
    ///
    /// # Errors
    /// [`Error::TooLarge`].
    pub(super) fn check_near(&self) -> Result<()> {
        let near: u128 = (0..self.units.len())
            .into_par_iter()
            .map(|victim| {
                let windows = self.windows(victim).map(|(_, window)| window.len() as u128);
                windows.sum::<u128>()
            })
            .sum();
        if near > MAX_NEAR {
            let why = format!("{near} near-coincidences");
            return Err(too_large(self.guarded, self.units, &why));
        }
        Ok(())
    }

    /// Calls `visit` with the sources of every hit on `victim`, in the order of the form's letters,
    /// and the product's distance from the victim in steps.
    pub(super) fn visit(&self, victim: usize, mut visit: impl FnMut(&[usize], i64)) {
        let mut sources = [0; MAX_LETTERS];
        let letters = self.guarded.form.letters();
        for (left, window) in self.windows(victim) {
            if window.is_empty() {
                continue;
            }
            self.split.left.unpack(left.carriers, &mut sources);
            if self.split.left.places.iter().any(|&p| sources[p] == victim) {
                continue;
            }
            for right in window {
                self.split.right.unpack(right.carriers, &mut sources);
                let clash = self.split.right.places.iter().any(|&p| {
                    sources[p] == victim
                        || self.split.left.places.iter().any(|&q| sources[q] == sources[p])
                });
                if !clash {
                    visit(&sources[..letters], left.sum + right.sum - self.units[victim]);
                }
            }
        }
    }

    /// Each left half-sum with the right ones that bring the product near the victim.
    fn windows(&self, victim: usize) -> impl Iterator<Item = (&HalfSum, &[HalfSum])> {
        let radius = self.guarded.radii[victim];
        let left = if radius.is_some() { &self.left[..] } else { &[] };
        let radius = radius.unwrap_or(0);
        left.iter().map(move |half| {
            let centre = self.units[victim] - half.sum;
            let below = |sum| self.index.below(sum, &self.right, |right| right.sum);
            (half, &self.right[below(centre - radius)..below(centre + radius + 1)])
        })
    }
}

fn too_large(guarded: &Guarded, units: &[i64], why: &str) -> Error {
    Error::TooLarge {
        what: format!("the search for hits of {} among {} carriers", guarded.form, units.len()),
        why: format!("{why}, above the limit"),
        remedy: "ask for fewer carriers, a form with fewer letters, or a smaller guard".into(),
    }
}
