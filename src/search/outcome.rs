//! What a run answers.

use serde::{Deserialize, Serialize};

use super::control::Event;
use crate::problem::Assignment;

/// How good the answer is known to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Proved best: it meets the bound.
    Optimal,
    /// Every hard rule holds; something better may exist.
    Feasible,
    /// Some hard rules are broken.
    Infeasible,
}

/// Why a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StopReason {
    /// The answer meets the bound.
    Proven,
    /// The method has nothing left to do.
    Finished,
    /// The iteration budget is spent.
    IterationLimit,
    /// The time budget is spent.
    TimeLimit,
    /// The caller asked for the best so far.
    Interrupted,
}

/// The answer of a run. Counts are recounted by [`crate::check`], not taken from the search.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outcome {
    /// A frequency for every link, or none.
    pub assignment: Assignment,
    /// How good it is known to be.
    pub status: Status,
    /// Why the run ended.
    pub stop_reason: StopReason,
    /// Links without a carrier.
    pub refused: u64,
    /// Their summed priority.
    pub unserved: u64,
    /// Proved least value of `unserved`.
    pub bound: u64,
    /// What was minimised: unserved priority (max-service), hard violations times
    /// [`HARD`](crate::table::HARD) plus soft cost (min-interference), hertz from the lowest to the
    /// highest frequency (min-span), distinct frequencies (min-order). `None` when a run that must
    /// serve every link was stopped before it did, or found no plan for min-span or min-order that breaks
    /// no hard rule.
    pub objective: Option<u64>,
    /// Proved least value of `objective`.
    pub lower_bound: u64,
    /// Hard violations in the assignment.
    pub hard: u64,
    /// Soft cost of the assignment.
    pub soft: u64,
    /// Seed the run was given.
    pub seed: u64,
    /// Restarts begun.
    pub restarts: u64,
    /// Iterations over all restarts.
    pub iterations: u64,
    /// Table moves over all restarts.
    pub evaluations: u64,
    /// Wall-clock seconds.
    pub elapsed_s: f64,
    /// Events of all restarts, ordered by time, then restart.
    pub trace: Vec<Event>,
}
