//! What TabuCol and PartialCol share: the loop, and the choice of the best move that is not forbidden.

use super::counts::Counts;
use super::{BATCH, Colour};
use crate::search::stream::Stream;
use crate::search::watch::Watch;

/// A search that moves one vertex an iteration.
pub(super) trait Climb {
    /// Make one move.
    fn step(&mut self, stream: &mut Stream);

    /// What was left to settle at best; nothing once it is solved.
    fn left(&self) -> i32;

    /// Search for so many iterations at most; whether it may go on.
    fn search(&mut self, steps: u64, stream: &mut Stream, watch: &mut Watch) -> bool {
        let mut left = steps;
        while left > 0 && self.left() > 0 {
            let granted = watch.ticks(BATCH.min(left));
            if granted == 0 {
                return false;
            }
            left -= granted;
            for _ in 0..granted {
                self.step(stream);
                if self.left() == 0 {
                    break;
                }
            }
        }
        true
    }
}

/// Chooses among moves; keeps its lists from one look to the next.
#[derive(Debug, Default)]
pub(super) struct Choice {
    ties: Vec<u32>,
    moves: Vec<(u32, Colour)>,
}

impl Choice {
    /// One of the best moves of these vertices that are not forbidden, or any that changes the cost by `wanted` or
    /// less, which is better than ever (aspiration). `here` is what a vertex costs as it is.
    pub(super) fn of(
        &mut self,
        counts: &Counts,
        vertices: &[u32],
        here: impl Fn(u32) -> i32 + Copy,
        wanted: i32,
        stream: &mut Stream,
    ) -> Option<(u32, Colour)> {
        let Self { ties, moves } = self;
        let found = counts.best(vertices, here, ties);
        if wanted < found {
            let least = counts.aspired(vertices, here, wanted, moves);
            if !moves.is_empty() && least < found {
                return Some(moves[stream.below(moves.len())]);
            }
        }
        moves.clear();
        for &v in ties.iter() {
            let wanted = (found + here(v)) as u16;
            let row = counts.row(v as usize).iter().enumerate();
            moves.extend(row.filter(|&(_, &e)| e == wanted).map(|(c, _)| (v, c as Colour)));
        }
        (!moves.is_empty()).then(|| moves[stream.below(moves.len())])
    }
}
