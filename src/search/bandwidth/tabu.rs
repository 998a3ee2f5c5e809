//! Iterated tabu search (Lai and Hao 2013) for a plan that misses nothing within a window.

use pulp::Arch;

use super::state::{State, missed};
use crate::search::stream::Stream;
use crate::search::watch::Watch;

/// Iterations between two looks at the clock.
const BATCH: u64 = 64;
/// Moves without gain after which the best plan is shaken.
pub(super) const PATIENCE: u64 = 5_000;
/// A position left is forbidden to the class for so many moves, and up to so many more.
const TENURE: u32 = 10;
const MORE: usize = 20;
/// At least so many carriers are shaken, and up to this part of all more.
const SHAKEN: usize = 5;
const PART: usize = 8;
/// Above any cost of a position.
const NEVER: i32 = i32::MAX / 2;

/// Which positions a class may not take, and until when.
#[derive(Debug)]
pub(super) struct Tabu {
    arch: Arch,
    /// Last forbidden iteration of every position, row by row of the window.
    until: Vec<u32>,
    now: u32,
    ties: Vec<(usize, bool, i32)>,
    moves: Vec<(usize, i32)>,
}

impl Tabu {
    pub(super) fn new() -> Self {
        Self { arch: Arch::new(), until: Vec::new(), now: 0, ties: Vec::new(), moves: Vec::new() }
    }

    /// Look for a plan without violations in a window, from `plan` on, which becomes the best found.
    ///
    /// Whether there was one before the budget was spent.
    pub(super) fn search(
        &mut self,
        state: &mut State,
        plan: &mut [i32],
        window: i32,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> bool {
        self.forget(state, plan, window);
        let mut best = state.total;
        // The best since the last shake.
        let mut climb = (state.total, plan.to_vec());
        let mut idle = 0;
        while state.total > 0 {
            let granted = watch.ticks(BATCH);
            if granted == 0 {
                return false;
            }
            for _ in 0..granted {
                self.step(state, climb.0, stream);
                idle += 1;
                if state.total < climb.0 {
                    climb.0 = state.total;
                    climb.1.copy_from_slice(&state.plan);
                    idle = 0;
                    if state.total == 0 {
                        break;
                    }
                }
            }
            if state.total > 0 && idle >= PATIENCE {
                if climb.0 <= best {
                    best = climb.0;
                    plan.copy_from_slice(&climb.1);
                }
                self.forget(state, plan, window);
                for _ in 0..SHAKEN + stream.below(plan.len() / PART + 1) {
                    state.assign(stream.below(plan.len()), stream.below(window as usize) as i32);
                }
                climb.0 = state.total;
                climb.1.copy_from_slice(&state.plan);
                idle = 0;
            }
        }
        plan.copy_from_slice(&state.plan);
        true
    }

    /// Begin afresh from a plan.
    fn forget(&mut self, state: &mut State, plan: &[i32], window: i32) {
        state.load(plan, window);
        self.until.clear();
        self.until.resize(state.shape.own.len() * window as usize, 0);
        self.now = 0;
    }

    /// One of the best moves: not forbidden, or to something better than `best`.
    fn step(&mut self, state: &mut State, best: i64, stream: &mut Stream) {
        self.now += 1;
        let arch = self.arch;
        arch.dispatch(
            #[inline(always)]
            || self.list(state, best),
        );
        if self.moves.is_empty() {
            return;
        }
        let (carrier, at) = self.moves[stream.below(self.moves.len())];
        let former = state.plan[carrier];
        arch.dispatch(
            #[inline(always)]
            || state.assign(carrier, at),
        );
        let place = state.shape.class[carrier] as usize * state.window as usize + former as usize;
        self.until[place] = self.now + TENURE + stream.below(MORE) as u32;
    }

    /// List the best moves of all carriers that miss a distance.
    #[inline]
    fn list(&mut self, state: &State, best: i64) {
        let now = self.now;
        let window = state.window;
        self.ties.clear();
        let mut found = NEVER;
        for class in 0..state.shape.own.len() {
            let own = state.shape.own[class];
            let row = state.row(class);
            let until = &self.until[class * row.len()..(class + 1) * row.len()];
            // Least cost of any position, and of any that is not forbidden: one look for the whole class.
            let mut least = None;
            for carrier in state.shape.members(class) {
                let here = state.here(carrier);
                if here == 0 {
                    continue;
                }
                let at = state.plan[carrier];
                let (mut any, mut free) = if own == 0 {
                    // To stay is no move.
                    let (stands, next) = (at as usize, at as usize + 1);
                    let below = lowest(&row[..stands], &until[..stands], now);
                    let above = lowest(&row[next..], &until[next..], now);
                    (below.0.min(above.0), below.1.min(above.1))
                } else {
                    *least.get_or_insert_with(
                        #[inline(always)]
                        || lowest(row, until, now),
                    )
                };
                // Where the carrier itself is counted, the row is too dear.
                for to in (at + 1 - own).max(0)..(at + own).min(window) {
                    if to == at {
                        continue;
                    }
                    let cost = row[to as usize] - missed(own, to - at);
                    any = any.min(cost);
                    if until[to as usize] < now {
                        free = free.min(cost);
                    }
                }
                let aspired = state.total + i64::from(any - here) < best;
                let change = if aspired { any } else { free } - here;
                if change < found {
                    found = change;
                    self.ties.clear();
                }
                if change == found && change < NEVER - here {
                    self.ties.push((carrier, aspired, change + here));
                }
            }
        }
        self.moves.clear();
        for &(carrier, aspired, wanted) in &self.ties {
            let class = state.shape.class[carrier] as usize;
            let own = state.shape.own[class];
            let row = state.row(class);
            let until = &self.until[class * row.len()..(class + 1) * row.len()];
            let at = state.plan[carrier];
            for (to, (&cost, &until)) in (0..).zip(row.iter().zip(until)) {
                let cost = cost - missed(own, to - at);
                if cost == wanted && to != at && (aspired || until < now) {
                    self.moves.push((carrier, to));
                }
            }
        }
    }
}

/// The least cost of a row, and the least of what is not forbidden.
#[inline]
fn lowest(row: &[i32], until: &[u32], now: u32) -> (i32, i32) {
    let (mut any, mut free) = (NEVER, NEVER);
    for (&cost, &until) in row.iter().zip(until) {
        any = any.min(cost);
        free = free.min(if until < now { cost } else { NEVER });
    }
    (any, free)
}
