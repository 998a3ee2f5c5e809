//! The common raster of a mixing group, and where a class's candidates lie on it.

/// Candidates `start..start + len` at positions `position, position + step, ...`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Run {
    pub(super) start: usize,
    pub(super) position: usize,
    pub(super) step: usize,
    pub(super) len: usize,
}

/// The coarsest raster that holds every candidate of a group.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct GroupRaster {
    base_hz: i64,
    pub(super) step_hz: i64,
    /// Number of positions.
    pub(super) length: i64,
}

impl GroupRaster {
    /// The raster of these ascending candidate lists; O(candidates).
    pub(super) fn of<'a>(lists: impl Iterator<Item = &'a [i64]> + Clone) -> Self {
        let base_hz = lists.clone().filter_map(|list| list.first()).min().copied().unwrap_or(0);
        let top_hz = lists.clone().filter_map(|list| list.last()).max().copied().unwrap_or(0);
        let step_hz = lists.flatten().fold(0, |step, hz| gcd(step, hz - base_hz)).max(1);
        Self { base_hz, step_hz, length: (top_hz - base_hz) / step_hz + 1 }
    }

    pub(super) fn position(&self, hz: i64) -> i64 {
        (hz - self.base_hz) / self.step_hz
    }

    /// A guard in whole steps: distances are multiples of the step, so `< guard` is `<= half-width`.
    pub(super) fn half_width(&self, guard_hz: i64) -> i64 {
        ((guard_hz - 1) / self.step_hz).min(self.length * 10)
    }

    /// The evenly spaced runs that make up an ascending list; O(candidates).
    pub(super) fn runs(&self, candidates_hz: &[i64]) -> Vec<Run> {
        let mut runs: Vec<Run> = Vec::new();
        for (start, &hz) in candidates_hz.iter().enumerate() {
            let position = self.position(hz) as usize;
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

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a.abs() } else { gcd(b, a % b) }
}
