//! Periodic plans for min-span: every class repeats with one period, as in a lattice labelling.
//!
//! Where the demands are alike, a short cyclic plan repeated is optimal or close to it (van den Heuvel,
//! Leese and Shepherd 1998). The least period is found by backtracking within a budget of steps.

use super::sequence::Frame;
use super::watch::Watch;

/// Backtracking steps per period tried.
const STEPS: usize = 20_000;
/// Periods tried beyond the least possible one.
const PERIODS: i64 = 12;

/// (class, raster position) of every carrier of the best periodic plan found.
pub(super) fn search(frame: &Frame, watch: &mut Watch) -> Option<Vec<(usize, i64)>> {
    let n = frame.sizes.len();
    let least = (0..n)
        .filter(|&k| frame.sizes[k] > 1)
        .map(|k| frame.gaps[k * n + k])
        .max()
        .unwrap_or(0)
        .max(1);
    let mut best: Option<(i64, Vec<(usize, i64)>)> = None;
    for period in least..least + PERIODS {
        if !watch.may_go_on() {
            break;
        }
        let mut cycle = Cycle { frame, period, phase: vec![None; n], steps: 0 };
        if !cycle.extend() {
            continue;
        }
        let phases: Vec<i64> = cycle.phase.into_iter().map(|phase| phase.unwrap_or(0)).collect();
        for turn in 0..period {
            let start = |k: usize| (phases[k] + turn) % period;
            let first = (0..n).map(start).min().unwrap_or(0);
            let top = (0..n).map(|k| start(k) - first + (frame.sizes[k] - 1) * period).max();
            if let Some(top) =
                top.filter(|&top| best.as_ref().is_none_or(|(least, _)| top < *least))
            {
                let plan = (0..n).flat_map(|k| {
                    (0..frame.sizes[k]).map(move |r| (k, start(k) - first + r * period))
                });
                best = Some((top, plan.collect()));
            }
        }
    }
    best.map(|(_, plan)| plan)
}

/// A cyclic plan under construction: one phase for each class.
struct Cycle<'f> {
    frame: &'f Frame,
    period: i64,
    phase: Vec<Option<i64>>,
    steps: usize,
}

impl Cycle<'_> {
    /// Give every open class a phase; the class with the fewest phases left goes first.
    fn extend(&mut self) -> bool {
        self.steps += 1;
        if self.steps > STEPS {
            return false;
        }
        let n = self.phase.len();
        let next = (0..n)
            .filter(|&k| self.phase[k].is_none())
            .map(|k| (self.open(k), k))
            .min_by_key(|(open, k)| (open.len(), std::cmp::Reverse(self.reach(*k)), *k));
        let Some((open, class)) = next else { return true };
        // Turning the whole cycle changes nothing: the first class keeps phase 0.
        let first = self.phase.iter().all(Option::is_none);
        for at in open.into_iter().take(if first { 1 } else { usize::MAX }) {
            self.phase[class] = Some(at);
            if self.extend() {
                return true;
            }
            self.phase[class] = None;
        }
        false
    }

    fn reach(&self, class: usize) -> i64 {
        let n = self.phase.len();
        (0..n).map(|j| self.frame.gaps[class * n + j]).sum()
    }

    fn open(&self, class: usize) -> Vec<i64> {
        let n = self.phase.len();
        let clear = |at: i64| {
            self.phase.iter().enumerate().all(|(j, phase)| {
                phase.is_none_or(|phase| {
                    let apart = (at - phase).rem_euclid(self.period);
                    apart.min(self.period - apart) >= self.frame.gaps[class * n + j]
                })
            })
        };
        (0..self.period).filter(|&at| clear(at)).collect()
    }
}
