//! Depth-first completion of a clean set: by so many carriers more, or proof that it cannot be.

use super::marks::Marks;
use crate::search::stream::Stream;

/// What a completion came to.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Completion {
    /// These carriers complete the set.
    Found(Vec<usize>),
    /// No carriers do.
    Impossible,
    /// The budget ran out first.
    Open,
}

/// A completion under way.
pub(super) struct Complete<'c, G> {
    marks: &'c mut Marks,
    /// Carriers present at the start.
    base: usize,
    need: usize,
    nodes: u64,
    /// The most nodes to visit.
    limit: u64,
    go_on: G,
    /// Least lengths of sets of 1, 2, ... carriers under the same rules, as far as known.
    lengths: &'c [usize],
    /// Chooses one of the completions that fall one carrier short, if wanted.
    stream: Option<&'c mut Stream>,
    short: u64,
    /// Such a completion.
    pub(super) near: Option<Vec<usize>>,
}

impl<'c, G: Fn() -> bool> Complete<'c, G> {
    pub(super) fn new(marks: &'c mut Marks, need: usize, limit: u64, go_on: G) -> Self {
        let base = marks.taken.len();
        Self {
            marks,
            base,
            need,
            nodes: 0,
            limit,
            go_on,
            lengths: &[],
            stream: None,
            short: 0,
            near: None,
        }
    }

    /// Prune with these least lengths.
    pub(super) fn with_lengths(mut self, lengths: &'c [usize]) -> Self {
        self.lengths = lengths;
        self
    }

    /// Remember a completion that falls one short, at random.
    pub(super) fn keeping_near(mut self, stream: &'c mut Stream) -> Self {
        self.stream = Some(stream);
        self
    }

    /// Nodes visited.
    pub(super) fn nodes(&self) -> u64 {
        self.nodes
    }

    /// Run from the lowest position up.
    pub(super) fn run(&mut self) -> Completion {
        self.descend(0, self.need)
    }

    fn descend(&mut self, from: usize, need: usize) -> Completion {
        if need == 0 {
            return Completion::Found(self.marks.taken[self.base..].to_vec());
        }
        if need == 1
            && let Some(stream) = self.stream.as_mut()
        {
            self.short += 1;
            if stream.below(self.short as usize) == 0 {
                self.near = Some(self.marks.taken[self.base..].to_vec());
            }
        }
        let mut at = from;
        while let Some(position) = self.marks.next_free(at) {
            self.nodes += 1;
            if self.nodes > self.limit || (self.nodes.is_multiple_of(1024) && !(self.go_on)()) {
                return Completion::Open;
            }
            if !self.may_hold(position, need) {
                break;
            }
            self.marks.push(position);
            let below = self.descend(position + 1, need - 1);
            self.marks.pop();
            if below != Completion::Impossible {
                return below;
            }
            at = position + 1;
        }
        Completion::Impossible
    }

    /// Whether the free positions from `position` up could hold `need` carriers.
    fn may_hold(&self, position: usize, need: usize) -> bool {
        let rules = self.marks.rules();
        if let Some(length) = self.lengths.get(need - 1)
            && position + length >= rules.length
        {
            return false;
        }
        // Free positions a separation apart, taken greedily, are the most that separation alone allows.
        let mut at = position;
        for _ in 0..need {
            let Some(next) = self.marks.next_free(at) else { return false };
            at = next + rules.separation.max(1);
        }
        true
    }
}
