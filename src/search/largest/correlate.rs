//! How many elements of a set fall on free positions, for every rotation of the set at once.
//!
//! The counts of 64 rotations stand in the bits of a few words, one word per binary digit. Adding an element
//! is the addition of one more word of free positions, with carry; no rotation is looked at on its own.

#![allow(clippy::inline_always)] // a kernel gets the wide registers only where it is inlined

use pulp::Arch;

/// Rotations counted in one go.
const LANES: usize = 4;

/// Free positions modulo something, twice in a row, so that every rotation is one stretch.
#[derive(Debug)]
pub(super) struct Ring {
    bits: Vec<u64>,
    modulus: usize,
}

impl Ring {
    /// The ring on which `free` is seen once it is wound up.
    pub(super) fn new(free: &[bool], modulus: usize) -> Self {
        let words = modulus.div_ceil(64).next_multiple_of(LANES);
        let mut bits = vec![0; (modulus / 64) + words + 2];
        let mut mark = |at: usize| {
            if let Some(word) = bits.get_mut(at / 64) {
                *word |= 1 << (at % 64);
            }
        };
        for (at, _) in free.iter().enumerate().filter(|&(_, &free)| free) {
            mark(at % modulus);
            mark(at % modulus + modulus);
        }
        Self { bits, modulus }
    }

    fn words(&self) -> usize {
        self.modulus.div_ceil(64).next_multiple_of(LANES)
    }
}

/// Counts of all rotations, one row of words per binary digit.
#[derive(Debug)]
pub(super) struct Counts {
    arch: Arch,
    digits: Vec<Vec<u64>>,
    /// Rotations that count at all.
    allowed: Vec<u64>,
}

impl Counts {
    pub(super) fn new() -> Self {
        Self { arch: Arch::new(), digits: Vec::new(), allowed: Vec::new() }
    }

    /// For every rotation `t` that is allowed (all of them, if none is named), how many `a + t` are free.
    ///
    /// O(elements x modulus / 64 x log elements).
    pub(super) fn fill(&mut self, ring: &Ring, residues: &[i64], only: Option<&[i64]>) {
        let words = ring.words();
        let top = usize::BITS as usize - residues.len().leading_zeros() as usize;
        self.digits.resize(top, Vec::new());
        for digit in &mut self.digits {
            digit.clear();
            digit.resize(words, 0);
        }
        self.allowed.clear();
        self.allowed.resize(words, 0);
        match only {
            Some(rotations) => {
                for &t in rotations {
                    self.allowed[t as usize / 64] |= 1 << (t % 64);
                }
            }
            None => (0..words).for_each(|word| {
                let left = ring.modulus.saturating_sub(word * 64).min(64);
                self.allowed[word] = u64::MAX.checked_shr(64 - left as u32).unwrap_or(0);
            }),
        }
        let digits = &mut self.digits;
        self.arch.dispatch(
            #[inline(always)]
            || {
                for (i, &a) in residues.iter().enumerate() {
                    let upto = usize::BITS as usize - (i + 1).leading_zeros() as usize;
                    add(&mut digits[..upto], &ring.bits, a as usize, words);
                }
            },
        );
    }

    /// The greatest count.
    pub(super) fn most(&self) -> usize {
        let mut among = self.allowed.clone();
        let mut most = 0;
        for (digit, row) in self.digits.iter().enumerate().rev() {
            if among.iter().zip(row).any(|(a, d)| a & d != 0) {
                among.iter_mut().zip(row).for_each(|(a, d)| *a &= d);
                most |= 1 << digit;
            }
        }
        most
    }

    /// All rotations with this count, ascending.
    pub(super) fn with(&self, count: usize, found: &mut Vec<i64>) {
        found.clear();
        for (word, &allowed) in self.allowed.iter().enumerate() {
            let digits = self.digits.iter().enumerate();
            let mut left = digits.fold(allowed, |left, (digit, row)| {
                left & if count >> digit & 1 == 1 { row[word] } else { !row[word] }
            });
            while left != 0 {
                found.push(word as i64 * 64 + i64::from(left.trailing_zeros()));
                left &= left - 1;
            }
        }
    }
}

/// Add the stretch that begins at bit `from` to the counts.
#[inline(always)]
fn add(digits: &mut [Vec<u64>], bits: &[u64], from: usize, words: usize) {
    let (whole, rest) = (from / 64, from % 64);
    let source = &bits[whole..=whole + words];
    for at in (0..words).step_by(LANES) {
        let mut carry = [0; LANES];
        for (lane, carry) in carry.iter_mut().enumerate() {
            // Twice by halves, so that a shift by nothing needs no branch.
            *carry = source[at + lane] >> rest | source[at + lane + 1] << 1 << (63 - rest);
        }
        for row in &mut *digits {
            let row = &mut row[at..at + LANES];
            for (digit, carry) in row.iter_mut().zip(&mut carry) {
                let over = *digit & *carry;
                *digit ^= *carry;
                *carry = over;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::search::stream::Stream;

    #[test]
    fn counts_are_those_of_a_loop_over_rotations() {
        let mut stream = Stream::new(1, 0);
        let mut counts = Counts::new();
        for modulus in [1_usize, 2, 63, 64, 65, 127, 256, 300, 1_057] {
            for length in [modulus / 2 + 1, modulus, 2 * modulus + 3] {
                let free: Vec<bool> = (0..length).map(|_| stream.one_in(2)).collect();
                let residues: Vec<i64> = (0..modulus as i64).filter(|_| stream.one_in(5)).collect();
                let open = |r: usize| free.iter().skip(r % modulus).step_by(modulus).any(|&f| f);
                let by_loop: Vec<usize> = (0..modulus)
                    .map(|t| residues.iter().filter(|&&a| open(a as usize + t)).count())
                    .collect();
                counts.fill(&Ring::new(&free, modulus), &residues, None);
                assert_eq!(Some(counts.most()), by_loop.iter().copied().max());
                let mut found = Vec::new();
                for count in 0..=residues.len() {
                    counts.with(count, &mut found);
                    let expected = (0..modulus).filter(|&t| by_loop[t] == count);
                    assert!(found.iter().copied().eq(expected.map(|t| t as i64)));
                }
                counts.fill(&Ring::new(&free, modulus), &residues, Some(&[0]));
                assert_eq!(counts.most(), by_loop[0]);
            }
        }
    }
}
