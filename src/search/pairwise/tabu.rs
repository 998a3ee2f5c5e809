//! The inner loop of TabuCol (Hertz and de Werra 1987): the best move of all variables in conflict.

use pulp::Arch;

use super::book::Book;
use super::state::{Cost, State};
use crate::search::stream::Stream;
use crate::search::watch::Watch;

/// Iterations between two looks at the clock.
const BATCH: u64 = 64;

/// Which values may not be taken, and until when.
#[derive(Debug)]
pub(super) struct Tabu {
    arch: Arch,
    /// Last forbidden iteration of every value; a present value is forbidden for ever.
    until: Vec<u32>,
    now: u32,
    /// Whether weights rise at a local optimum.
    raises: bool,
    /// Iterations without a gain after which a search ends.
    patience: u64,
    ties: Vec<(usize, bool)>,
    moves: Vec<(usize, u32)>,
}

impl Tabu {
    /// A search with fixed weights, or one that raises them (rules of one weight only).
    pub(super) fn new(raises: bool) -> Self {
        Self {
            arch: Arch::new(),
            until: Vec::new(),
            now: 0,
            raises,
            patience: u64::MAX,
            ties: Vec::new(),
            moves: Vec::new(),
        }
    }

    /// Improve for so many iterations at most; the best met is in `book`, and the best of this call too.
    ///
    /// Whether the search may go on.
    pub(super) fn search<W: Cost>(
        &mut self,
        state: &mut State<W>,
        steps: u64,
        book: &mut Book,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> bool {
        self.until.clear();
        self.until.resize(state.gamma.len(), 0);
        self.now = 0;
        for (variable, &value) in state.value.iter().enumerate() {
            self.until[state.costs.start[variable] + value as usize] = u32::MAX;
        }
        book.begin(state);
        let mut left = steps.min(u64::from(u32::MAX) / 2);
        let (mut least, mut idle) = (book.present(), 0);
        while left > 0 && idle < self.patience && !state.active.is_empty() && !book.met::<W>(watch)
        {
            let granted = watch.ticks(BATCH.min(left));
            if granted == 0 {
                return false;
            }
            left -= granted;
            for _ in 0..granted {
                self.step(state, book, stream);
                if state.active.is_empty() {
                    break;
                }
            }
            idle += granted;
            if book.present() < least {
                (least, idle) = (book.present(), 0);
            }
            book.publish(state.costs, watch);
        }
        !book.met::<W>(watch)
    }

    /// Improve until nothing was gained for so many iterations; whether the search may go on.
    pub(super) fn climb<W: Cost>(
        &mut self,
        state: &mut State<W>,
        patience: u64,
        book: &mut Book,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> bool {
        self.patience = patience;
        let on = self.search(state, u64::MAX, book, stream, watch);
        self.patience = u64::MAX;
        on
    }

    fn step<W: Cost>(&mut self, state: &mut State<W>, book: &mut Book, stream: &mut Stream) {
        self.now += 1;
        let Some((variable, value)) = self.pick(state, book.present(), stream) else { return };
        let former = state.value[variable];
        if self.raises && state.cost(variable, value) >= state.cost(variable, former) {
            state.raise();
        }
        let active = state.active.len();
        state.assign(variable, value);
        let start = state.costs.start[variable];
        // Where soft rules put every variable in conflict, a tenure in proportion would freeze the search.
        let share = active * 6 / 10;
        let tenure = if W::UNIT {
            share + stream.below(10)
        } else {
            share.min(10 + state.value.len() / 20) + stream.below(30)
        };
        self.until[start + former as usize] = self.now + 1 + tenure as u32;
        self.until[start + value as usize] = u32::MAX;
        book.note(state);
    }

    /// One of the best moves: not forbidden, or to something better than `best`.
    fn pick<W: Cost>(
        &mut self,
        state: &State<W>,
        best: i64,
        stream: &mut Stream,
    ) -> Option<(usize, u32)> {
        let Self { arch, until, now, ties, moves, .. } = self;
        let now = *now;
        ties.clear();
        let mut found = i64::MAX;
        let total = state.total;
        arch.dispatch(
            #[inline(always)]
            || {
                for &variable in &state.active {
                    let variable = variable as usize;
                    let (low, high) = state.open[variable];
                    let start = state.costs.start[variable];
                    let here = state.gamma[start + state.value[variable] as usize];
                    let row = &state.gamma[start + low as usize..start + high as usize];
                    let until = &until[start + low as usize..start + high as usize];
                    let (mut free, mut any) = (W::BAR, W::BAR);
                    for (&cost, &until) in row.iter().zip(until) {
                        any = any.min(cost);
                        free = free.min(if until < now { cost } else { W::BAR });
                    }
                    let aspired = (W::UNIT || !state.is_weighted())
                        && total + any.wide() - here.wide() < best;
                    let least = if aspired { any } else { free };
                    if least >= W::BAR {
                        continue;
                    }
                    let change = least.wide() - here.wide();
                    if change < found {
                        found = change;
                        ties.clear();
                    }
                    if change == found {
                        ties.push((variable, aspired));
                    }
                }
            },
        );
        moves.clear();
        for &(variable, aspired) in ties.iter() {
            let (low, high) = state.open[variable];
            let start = state.costs.start[variable];
            let wanted = found + state.cost(variable, state.value[variable]).wide();
            for value in low..high {
                let at = start + value as usize;
                if state.gamma[at].wide() == wanted && (aspired || until[at] < now) {
                    moves.push((variable, value));
                }
            }
        }
        (!moves.is_empty()).then(|| moves[stream.below(moves.len())])
    }
}
