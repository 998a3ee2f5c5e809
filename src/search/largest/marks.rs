//! Clean sets on a raster as bitsets: which positions one more carrier may still take.
//!
//! Where the cost table counts hits, this only tells clean from not, which a few shifts of whole words do.

use super::two_tone::{self, Guards};

/// The rules in raster steps; 0 waives a guard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Rules {
    /// Number of raster positions.
    pub(super) length: usize,
    /// Least distance of two carriers.
    pub(super) separation: usize,
    /// Products of two carriers this near are hits: distance below the guard of their form.
    pub(super) two_tone: Guards,
    /// Products A+B-C this near are hits: distance below `three_tone`.
    pub(super) three_tone: usize,
}

/// Bits `0..length`.
pub(super) type Bits = Vec<u64>;

/// A set under construction: a stack of what is blocked after each carrier.
#[derive(Debug, Clone)]
pub(super) struct Marks {
    rules: Rules,
    words: usize,
    /// Positions taken, in the order of placing.
    pub(super) taken: Vec<usize>,
    levels: Vec<Level>,
}

/// What the carriers so far forbid.
#[derive(Debug, Clone)]
struct Level {
    /// Positions that one more carrier may not take.
    blocked: Bits,
    /// Differences of two carriers, widened by the three-tone guard.
    differences: Bits,
    /// The same, bit `length - 1 - d` for difference `d`.
    mirrored: Bits,
    /// Sums of two carriers, widened likewise.
    sums: Bits,
}

impl Marks {
    /// An empty set where only `free` may be used.
    pub(super) fn new(rules: Rules, free: &[bool]) -> Self {
        let words = rules.length.div_ceil(64);
        let mut blocked = vec![u64::MAX; words];
        for (i, _) in free.iter().enumerate().filter(|&(_, &free)| free) {
            blocked[i / 64] &= !(1 << (i % 64));
        }
        let base = Level {
            blocked,
            differences: vec![0; words],
            mirrored: vec![0; words],
            sums: vec![0; 2 * words + 1],
        };
        Self { rules, words, taken: Vec::new(), levels: vec![base] }
    }

    fn top(&self) -> &Level {
        &self.levels[self.taken.len()]
    }

    /// The least free position at or above `from`.
    pub(super) fn next_free(&self, from: usize) -> Option<usize> {
        let blocked = &self.top().blocked;
        let mut word = from / 64;
        let mut open = !blocked.get(word)? & (u64::MAX << (from % 64));
        while open == 0 {
            word += 1;
            open = !*blocked.get(word)?;
        }
        Some(word * 64 + open.trailing_zeros() as usize)
    }

    /// All free positions, ascending.
    pub(super) fn free(&self) -> Vec<usize> {
        std::iter::successors(self.next_free(0), |&at| self.next_free(at + 1)).collect()
    }

    /// The rules.
    pub(super) fn rules(&self) -> Rules {
        self.rules
    }

    /// Put a carrier on a free position.
    pub(super) fn push(&mut self, x: usize) {
        let depth = self.taken.len();
        if self.levels.len() == depth + 1 {
            self.levels.push(self.levels[depth].clone());
        }
        let (below, above) = self.levels.split_at_mut(depth + 1);
        let (old, new) = (&below[depth], &mut above[0]);
        new.blocked.copy_from_slice(&old.blocked);
        let Rules { length, separation, two_tone: guards, three_tone } = self.rules;
        if three_tone > 0 {
            new.differences.copy_from_slice(&old.differences);
            new.mirrored.copy_from_slice(&old.mirrored);
            new.sums.copy_from_slice(&old.sums);
            // One more carrier y makes y + c = x + b or y + x = b + c: y = x + d, x - d or sum - x.
            or_left(&mut new.blocked, &old.differences, x);
            or_right(&mut new.blocked, &old.mirrored, length - 1 - x);
            or_right(&mut new.blocked, &old.sums, x);
        }
        let near = separation.max(1) - 1;
        set(&mut new.blocked, x as i64 - near as i64, (x + near) as i64, length);
        for &b in &self.taken {
            two_tone::barred(&guards, x as i64, b as i64, |low, high| {
                set(&mut new.blocked, low, high, length);
            });
            if three_tone > 0 {
                let wide = three_tone as i64 - 1;
                let d = x.abs_diff(b) as i64;
                let mirror = length as i64 - 1 - d;
                set(&mut new.differences, d - wide, d + wide, length);
                set(&mut new.mirrored, mirror - wide, mirror + wide, length);
                let sum = (x + b) as i64;
                set(&mut new.sums, sum - wide, sum + wide, 2 * length);
            }
        }
        // Bits past the end must read as blocked.
        if !length.is_multiple_of(64) {
            new.blocked[self.words - 1] |= u64::MAX << (length % 64);
        }
        self.taken.push(x);
    }

    /// Take the last carrier off.
    pub(super) fn pop(&mut self) {
        self.taken.pop();
    }

    /// Take all carriers off.
    pub(super) fn clear(&mut self) {
        self.taken.clear();
    }
}

/// Set bits `low..=high` within `0..length`.
fn set(bits: &mut [u64], low: i64, high: i64, length: usize) {
    let (low, high) = (low.max(0), high.min(length as i64 - 1));
    if low > high {
        return;
    }
    let (first, last) = (low as usize / 64, high as usize / 64);
    let from = u64::MAX << (low % 64);
    let to = u64::MAX >> (63 - high % 64);
    if first == last {
        bits[first] |= from & to;
    } else {
        bits[first] |= from;
        bits[first + 1..last].fill(u64::MAX);
        bits[last] |= to;
    }
}

/// `dst |= src << shift`.
fn or_left(dst: &mut [u64], src: &[u64], shift: usize) {
    let (words, bits) = (shift / 64, shift % 64);
    let dst = &mut dst[words..];
    if bits == 0 {
        dst.iter_mut().zip(src).for_each(|(d, s)| *d |= s);
    } else {
        let mut carry = 0;
        for (d, s) in dst.iter_mut().zip(src) {
            *d |= s << bits | carry;
            carry = s >> (64 - bits);
        }
    }
}

/// `dst |= src >> shift`.
fn or_right(dst: &mut [u64], src: &[u64], shift: usize) {
    let (words, bits) = (shift / 64, shift % 64);
    let src = &src[words.min(src.len())..];
    if bits == 0 {
        dst.iter_mut().zip(src).for_each(|(d, s)| *d |= s);
    } else {
        for (i, d) in dst.iter_mut().enumerate().take(src.len()) {
            let high = src.get(i + 1).map_or(0, |s| s << (64 - bits));
            *d |= src[i] >> bits | high;
        }
    }
}
