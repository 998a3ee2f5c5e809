//! Shortest rulers: branch and bound over sets whose differences keep a distance from each other.
//!
//! With one guard for 2A-B and A+B-C, no wider than the separation, a set is clean exactly when its
//! differences are at least the separation and pairwise at least the guard apart. Then a partial set is
//! three bitmaps that shift as the last mark moves on: the marks and the forbidden differences seen from
//! the last mark, and the blocked positions ahead of it (the method of the Golomb ruler searches).

use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

/// The most positions a ruler may span here.
pub(super) const MAX_LENGTH: usize = 64 * WORDS - 1;
const WORDS: usize = 5;

/// Bit `i` stands for a distance of `i + 1` ahead of the last mark.
type Ahead = [u64; WORDS];

/// What a ruler must keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Spacing {
    /// Least difference.
    pub(super) separation: usize,
    /// Least distance between two differences; at most the separation.
    pub(super) guard: usize,
}

/// Least lengths of rulers of 1, 2, 3, ... marks, as far as they are proved.
#[derive(Debug, Clone)]
pub(super) struct Rulers {
    spacing: Spacing,
    /// `lengths[m - 1]`: least length of `m` marks.
    pub(super) lengths: Vec<usize>,
}

/// A ruler under construction.
#[derive(Debug, Clone)]
struct Partial {
    marks: Vec<usize>,
    /// Marks behind, each widened by the guard: bit `i` of a mark `i + 1` behind.
    behind: Ahead,
    /// Forbidden differences.
    differences: Ahead,
    /// Forbidden distances ahead of the last mark.
    blocked: Ahead,
}

impl Rulers {
    pub(super) fn new(spacing: Spacing) -> Self {
        Self { spacing, lengths: vec![0] }
    }

    /// Prove the next length, if it is at most `limit`; a shortest ruler, or `None` when even `limit` is
    /// too short (which is then proved) or `go_on` said no (`Err`).
    pub(super) fn next(
        &mut self,
        limit: usize,
        go_on: &(impl Fn() -> bool + Sync),
    ) -> Result<Option<Vec<usize>>, Stopped> {
        let marks = self.lengths.len() + 1;
        let found = self.shortest(marks, limit.min(MAX_LENGTH), go_on)?;
        match &found {
            Some(ruler) => self.lengths.push(ruler[marks - 1]),
            None if limit >= MAX_LENGTH => return Err(Stopped),
            None => {}
        }
        Ok(found)
    }

    /// The shortest ruler of `marks` marks no longer than `limit`, first in order of its marks.
    fn shortest(
        &self,
        marks: usize,
        limit: usize,
        go_on: &(impl Fn() -> bool + Sync),
    ) -> Result<Option<Vec<usize>>, Stopped> {
        let best = AtomicUsize::new(limit);
        let search = Search { rulers: self, marks, best: &best, go_on };
        let start = self.start();
        // Two gaps deep there is enough to share out and little enough to list.
        let mut starts = Vec::new();
        search.expand(&start, &mut |first| {
            if marks > 3 {
                search.expand(&first, &mut |second| starts.push(second));
            } else {
                starts.push(first);
            }
        });
        let found: Result<Vec<Option<Vec<usize>>>, Stopped> =
            starts.par_iter().map(|partial| search.finish(partial)).collect();
        Ok(found?.into_iter().flatten().min_by_key(|ruler| (ruler[marks - 1], ruler.clone())))
    }

    fn start(&self) -> Partial {
        let mut close = Ahead::default();
        for i in 0..self.spacing.separation.saturating_sub(1) {
            close[i / 64] |= 1 << (i % 64);
        }
        Partial { marks: vec![0], behind: Ahead::default(), differences: close, blocked: close }
    }
}

/// The search was told to stop, or left the lengths it can represent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stopped;

struct Search<'s, G> {
    rulers: &'s Rulers,
    marks: usize,
    /// Least length found so far; rulers as long are still taken, so that the answer does not depend on
    /// who finds one first.
    best: &'s AtomicUsize,
    go_on: &'s G,
}

impl<G: Fn() -> bool + Sync> Search<'_, G> {
    /// The farthest the mark after `placed` marks may stand.
    fn reach(&self, placed: usize) -> Option<usize> {
        let best = self.best.load(Ordering::Relaxed);
        let rest = self.rulers.lengths[self.marks - placed - 1];
        let farthest = best.checked_sub(rest)?;
        // Of a ruler and its mirror image one has its middle mark in the lower half.
        let middle = (self.marks - 1) / 2;
        Some(if placed <= middle {
            let room = if placed == middle { 0 } else { self.rulers.lengths[middle - placed] };
            farthest.min((best / 2).saturating_sub(room))
        } else {
            farthest
        })
    }

    /// Hand every partial ruler with one more mark to `take`.
    fn expand(&self, partial: &Partial, take: &mut impl FnMut(Partial)) {
        let last = partial.marks[partial.marks.len() - 1];
        let mut gap = 0;
        while let Some(next) = next_clear(&partial.blocked, gap) {
            if self.reach(partial.marks.len()).is_none_or(|reach| last + next > reach) {
                return;
            }
            take(self.with(partial, next));
            gap = next;
        }
    }

    /// The partial ruler with one more mark `gap` ahead.
    fn with(&self, partial: &Partial, gap: usize) -> Partial {
        let mut next = partial.clone();
        next.marks.push(partial.marks[partial.marks.len() - 1] + gap);
        step(&mut next.behind, &mut next.differences, &mut next.blocked, gap, self.rulers.spacing);
        next
    }

    /// The shortest completion.
    fn finish(&self, partial: &Partial) -> Result<Option<Vec<usize>>, Stopped> {
        let mut found = None;
        let mut marks = partial.marks.clone();
        let mut nodes = 0;
        self.descend(
            &mut marks,
            (&partial.behind, &partial.differences, &partial.blocked),
            &mut found,
            &mut nodes,
        )?;
        Ok(found)
    }

    fn descend(
        &self,
        marks: &mut Vec<usize>,
        (behind, differences, blocked): (&Ahead, &Ahead, &Ahead),
        found: &mut Option<Vec<usize>>,
        nodes: &mut u32,
    ) -> Result<(), Stopped> {
        *nodes = nodes.wrapping_add(1);
        if nodes.is_multiple_of(4096) && !(self.go_on)() {
            return Err(Stopped);
        }
        let last = marks[marks.len() - 1];
        if marks.len() == self.marks {
            // Same-length rulers: the first in order stays.
            if found.as_ref().is_none_or(|ruler: &Vec<usize>| last < ruler[self.marks - 1]) {
                *found = Some(marks.clone());
                self.best.fetch_min(last, Ordering::Relaxed);
            }
            return Ok(());
        }
        let mut gap = 0;
        while let Some(next) = next_clear(blocked, gap) {
            if self.reach(marks.len()).is_none_or(|reach| last + next > reach) {
                break;
            }
            let (mut b, mut d, mut x) = (*behind, *differences, *blocked);
            if marks.len() + 1 < self.marks {
                step(&mut b, &mut d, &mut x, next, self.rulers.spacing);
            }
            marks.push(last + next);
            self.descend(marks, (&b, &d, &x), found, nodes)?;
            marks.pop();
            gap = next;
        }
        Ok(())
    }
}

/// Move the last mark `gap` ahead.
fn step(
    behind: &mut Ahead,
    differences: &mut Ahead,
    blocked: &mut Ahead,
    gap: usize,
    spacing: Spacing,
) {
    // Older marks recede; the one just left stands `gap` behind, widened by the guard.
    shift_up(behind, gap);
    let wide = spacing.guard - 1;
    for distance in gap.saturating_sub(wide).max(1)..=(gap + wide).min(64 * WORDS) {
        behind[(distance - 1) / 64] |= 1 << ((distance - 1) % 64);
    }
    shift_down(blocked, gap);
    for ((d, m), x) in differences.iter_mut().zip(&*behind).zip(blocked) {
        *d |= m;
        *x |= *d;
    }
}

/// The least distance above `gap` that is clear.
fn next_clear(blocked: &Ahead, gap: usize) -> Option<usize> {
    let mut word = gap / 64;
    let mut clear = !*blocked.get(word)? & (u64::MAX << (gap % 64));
    while clear == 0 {
        word += 1;
        clear = !*blocked.get(word)?;
    }
    Some(word * 64 + clear.trailing_zeros() as usize + 1)
}

/// Distances behind grow by `by`.
fn shift_up(bits: &mut Ahead, by: usize) {
    let (words, rest) = (by / 64, by % 64);
    for i in (0..WORDS).rev() {
        let at = |j: usize| if j < WORDS && i >= words && j <= i { bits[j] } else { 0 };
        let low = if i >= words { at(i - words) } else { 0 };
        let carry = if rest > 0 && i > words { bits[i - words - 1] >> (64 - rest) } else { 0 };
        bits[i] = low << rest | carry;
    }
}

/// Distances ahead shrink by `by`.
fn shift_down(bits: &mut Ahead, by: usize) {
    let (words, rest) = (by / 64, by % 64);
    for i in 0..WORDS {
        let low = bits.get(i + words).map_or(0, |word| word >> rest);
        let carry = if rest > 0 {
            bits.get(i + words + 1).map_or(0, |word| word << (64 - rest))
        } else {
            0
        };
        bits[i] = low | carry;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lengths(separation: usize, guard: usize, marks: usize) -> Vec<usize> {
        let mut rulers = Rulers::new(Spacing { separation, guard });
        while rulers.lengths.len() < marks {
            let found = rulers.next(MAX_LENGTH, &|| true).expect("no one stops it");
            assert!(found.is_some());
        }
        rulers.lengths[1..].to_vec()
    }

    #[test]
    fn golomb_rulers_have_the_published_lengths() {
        // OEIS A003022.
        assert_eq!(lengths(1, 1, 9), [1, 3, 6, 11, 17, 25, 34, 44]);
    }

    #[test]
    fn guarded_rulers_have_the_lengths_found_by_exhaustion() {
        // Computed by an independent exhaustive search: (separation, guard) and lengths from two marks up.
        assert_eq!(lengths(2, 2, 7), [2, 6, 12, 22, 34, 50]);
        assert_eq!(lengths(3, 2, 7), [3, 8, 15, 27, 40, 56]);
        assert_eq!(lengths(3, 3, 7), [3, 9, 18, 33, 51, 75]);
        assert_eq!(lengths(14, 4, 7), [14, 32, 54, 80, 110, 144]);
    }

    #[test]
    fn a_limit_too_short_is_a_proof() {
        let mut rulers = Rulers::new(Spacing { separation: 1, guard: 1 });
        for _ in 0..5 {
            assert!(rulers.next(MAX_LENGTH, &|| true).expect("runs").is_some());
        }
        assert_eq!(rulers.next(24, &|| true), Ok(None));
        assert_eq!(rulers.next(25, &|| false), Ok(Some(vec![0, 1, 4, 10, 18, 23, 25])));
    }
}
