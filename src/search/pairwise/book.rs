//! What a search has found: the best of one climb, and the best of all, which goes to the watch.

use super::state::{Cost, Costs, State, write};
use crate::search::watch::Watch;
use crate::table::Table;

/// The best assignments of a search, and the table that they are put on to be offered.
#[derive(Debug)]
pub(super) struct Book<'t> {
    table: &'t mut Table,
    /// Whether anything but a plan free of conflicts is worth offering.
    graded: bool,
    present: (i64, Vec<u32>),
    best: (i64, Vec<u32>),
    fresh: bool,
}

impl<'t> Book<'t> {
    pub(super) fn new<W: Cost>(table: &'t mut Table, state: &State<W>) -> Self {
        let plan = (state.total, state.value.clone());
        Self { table, graded: !W::UNIT, present: plan.clone(), best: plan, fresh: true }
    }

    /// A climb begins.
    pub(super) fn begin<W: Cost>(&mut self, state: &State<W>) {
        self.present.0 = i64::MAX;
        self.note(state);
    }

    /// Keep the state where it is the best.
    pub(super) fn note<W: Cost>(&mut self, state: &State<W>) {
        if state.total < self.present.0 {
            self.present.0 = state.total;
            self.present.1.copy_from_slice(&state.value);
            if state.total < self.best.0 {
                self.best.0 = state.total;
                self.best.1.copy_from_slice(&state.value);
                self.fresh = true;
            }
        }
    }

    /// The least cost of this climb.
    pub(super) fn present(&self) -> i64 {
        self.present.0
    }

    /// The best plan of this climb.
    pub(super) fn plan(&self) -> &[u32] {
        &self.present.1
    }

    /// The least cost of all, and its plan.
    pub(super) fn best(&self) -> (i64, &[u32]) {
        (self.best.0, &self.best.1)
    }

    /// Whether the search has what it is after.
    pub(super) fn met<W: Cost>(&self, watch: &Watch) -> bool {
        if W::UNIT { self.best.0 == 0 } else { watch.met(0, self.best.0) }
    }

    /// Offer the best of all, if it is new.
    pub(super) fn publish<W: Cost>(&mut self, costs: &Costs<W>, watch: &mut Watch) {
        if self.fresh && self.graded {
            self.fresh = false;
            write(costs, &self.best.1, self.table);
            watch.offer(self.table);
        }
    }

    /// Leave the best of all on the table.
    pub(super) fn close<W: Cost>(self, costs: &Costs<W>, watch: &mut Watch) {
        write(costs, &self.best.1, self.table);
        watch.offer(self.table);
    }
}
