//! The common raster of a mixing group, and where a class's candidates lie on it.

use crate::frequency::gcd;

/// Candidates `start..start + len` at positions `position, position + step, ...`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Run {
    pub(super) start: usize,
    pub(super) position: usize,
    pub(super) step: usize,
    pub(super) len: usize,
}

/// A carrier's place, on the raster or between two positions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Seat {
    offset_hz: i64,
    step_hz: i64,
}

impl Seat {
    /// The position `multiple` times as far out; between two positions, both.
    ///
    /// A sum of carriers whose true value lies between two positions counts at both, so that nothing
    /// nearer than a guard is missed: clean stays clean, costs with such carriers are upper bounds.
    pub(super) fn positions(self, multiple: i64) -> impl Iterator<Item = i64> {
        let far_hz = multiple * self.offset_hz;
        let low = far_hz.div_euclid(self.step_hz);
        low..=low + i64::from(far_hz % self.step_hz != 0)
    }
}

/// The coarsest raster that holds every candidate that can move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct GroupRaster {
    base_hz: i64,
    pub(super) step_hz: i64,
    /// Number of positions.
    pub(super) length: i64,
}

impl GroupRaster {
    /// The raster of these ascending candidate lists; O(candidates).
    ///
    /// A list of one frequency does not move: where others do, it need not lie on their raster.
    pub(super) fn of<'a>(lists: impl Iterator<Item = &'a [i64]> + Clone) -> Self {
        let moving = lists.clone().filter(|list| list.len() > 1);
        let anchor_hz = moving.clone().chain(lists.clone()).find_map(|list| list.first());
        let anchor_hz = anchor_hz.copied().unwrap_or(0);
        let common = |step, hz: &i64| gcd(step, hz - anchor_hz);
        let step_hz = match moving.clone().flatten().fold(0, common) {
            0 => lists.clone().flatten().fold(0, common).max(1),
            step => step,
        };
        Self { base_hz: anchor_hz, step_hz, length: 1 }.spanning(lists)
    }

    /// The rasters of groups of ascending candidate lists; O(candidates).
    ///
    /// Groups that overlap cancel each other's hits, so they must count alike. On any raster of its own each
    /// counts exactly, but for carriers between two positions: where there are such, all groups share one
    /// raster, so that all take the same carriers for being between the same positions.
    pub(super) fn of_groups(groups: &[Vec<&[i64]>]) -> Vec<Self> {
        let own: Vec<Self> = groups.iter().map(|lists| Self::of(lists.iter().copied())).collect();
        let exact = own
            .iter()
            .zip(groups)
            .all(|(raster, lists)| lists.iter().copied().flatten().all(|&hz| raster.holds(hz)));
        if exact {
            return own;
        }
        let shared = Self::of(groups.iter().flatten().copied());
        groups.iter().map(|lists| shared.spanning(lists.iter().copied())).collect()
    }

    /// The same raster from the lowest to the highest of these candidates.
    fn spanning<'a>(self, lists: impl Iterator<Item = &'a [i64]> + Clone) -> Self {
        let low_hz = lists.clone().filter_map(|list| list.first()).min().copied().unwrap_or(0);
        let top_hz = lists.filter_map(|list| list.last()).max().copied().unwrap_or(0);
        let base_hz =
            self.base_hz + (low_hz - self.base_hz).div_euclid(self.step_hz) * self.step_hz;
        let length = (top_hz - base_hz + self.step_hz - 1) / self.step_hz + 1;
        Self { base_hz, length, ..self }
    }

    /// Where a carrier stands, seen from the raster's first position.
    pub(super) fn seat(&self, hz: i64) -> Seat {
        Seat { offset_hz: hz - self.base_hz, step_hz: self.step_hz }
    }

    /// A frequency above the raster's first position.
    pub(super) fn offset_hz(&self, hz: i64) -> i64 {
        hz - self.base_hz
    }

    /// The position at or below an offset.
    pub(super) fn below(&self, offset_hz: i64) -> i64 {
        offset_hz.div_euclid(self.step_hz)
    }

    /// Whether a frequency lies on the raster.
    pub(super) fn holds(&self, hz: i64) -> bool {
        (hz - self.base_hz) % self.step_hz == 0
    }

    /// The distance that a product of carriers on the raster must keep, as [`Self::half_width`] has it.
    pub(super) fn reach_hz(&self, half_width: i64) -> i64 {
        (half_width + 1) * self.step_hz
    }

    /// A guard in whole steps: distances are multiples of the step, so `< guard` is `<= half-width`.
    pub(super) fn half_width(&self, guard_hz: i64) -> i64 {
        ((guard_hz - 1) / self.step_hz).min(self.length * 10)
    }

    /// The evenly spaced runs that make up an ascending list; O(candidates).
    pub(super) fn runs(&self, candidates_hz: &[i64]) -> Vec<Run> {
        let mut runs: Vec<Run> = Vec::new();
        for (start, &hz) in candidates_hz.iter().enumerate() {
            let position = self.below(self.offset_hz(hz)).max(0) as usize;
            match runs.last_mut() {
                Some(run) if run.len == 1 => {
                    run.step = position - run.position;
                    run.len = 2;
                }
                Some(run) if position == run.position + run.step * run.len => run.len += 1,
                _ => runs.push(Run { start, position, step: 1, len: 1 }),
            }
        }
        runs
    }
}
