//! What the caller decides: objective, method, budget, threads; and how it watches and stops a run.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Sender;

use serde::{Deserialize, Serialize};

/// What a search optimises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Objective {
    /// Serve the greatest weight of links with no hard rule broken; then the least soft cost.
    #[default]
    MaxService,
    /// Serve every link with the fewest hard rules broken; then the least soft cost.
    MinInterference,
    /// Serve every link with no hard rule broken and the least distance from the lowest to the highest
    /// frequency; then the least soft cost.
    MinSpan,
    /// Serve every link with no hard rule broken and the fewest distinct frequencies; then the least
    /// soft cost.
    MinOrder,
}

/// How a search goes about it, under the names of the literature.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// Links in order of priority, each on the lowest clean frequency.
    FirstFit,
    /// The link with the fewest clean frequencies next, ties by most conflicts.
    Dsatur,
    /// Recursive largest first (Leighton 1979): one frequency after the other is filled.
    Rlf,
    /// Multi-start local search: ejection chains, or min-conflicts where conflicts are allowed.
    #[default]
    LocalSearch,
    /// Full plans with conflicts and a tabu list (Hertz and de Werra 1987).
    Tabucol,
    /// Partial plans without conflicts and a tabu list (Bloechliger and Zufferey 2008).
    Partialcol,
    /// Simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983; Johnson et al. 1991).
    SimulatedAnnealing,
    /// Large-neighbourhood search: part of the plan is taken off and rebuilt (Shaw 1998).
    Lns,
    /// Exact search; it proves its answer when it ends. For small problems.
    BranchAndBound,
    /// Picks by itself: constructions, bounds and searches that suit the objective, in turns.
    Portfolio,
}

/// When to stop. With neither limit a run ends when every link is served cleanly or on request.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Budget {
    /// Iterations in all, shared out over restarts; the same plan on any number of threads.
    pub iterations: Option<u64>,
    /// Wall-clock seconds; gives up repeatability.
    pub seconds: Option<f64>,
}

/// Everything that defines a run.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Options {
    /// What to optimise.
    pub objective: Objective,
    /// How.
    pub method: Method,
    /// Seed of every random stream.
    pub seed: u64,
    /// When to stop.
    pub budget: Budget,
    /// Worker threads; `None` takes one per core.
    pub threads: Option<usize>,
}

/// What happened at one moment of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EventKind {
    /// A restart began.
    Restart,
    /// A better plan was found.
    Improvement,
    /// Nothing new; a sign of life.
    Progress,
    /// A restart ended.
    Stop,
}

/// One row of the trace.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// Seconds since the run began.
    pub time_s: f64,
    /// Iterations of this restart so far.
    pub iteration: u64,
    /// Restart index.
    pub restart: u64,
    /// What happened.
    pub kind: EventKind,
    /// Links without a carrier.
    pub refused: u64,
    /// Their summed priority.
    pub unserved: u64,
    /// Hard violations.
    pub hard: u64,
    /// Soft cost.
    pub soft: u64,
    /// Proved least value of `unserved`.
    pub bound: u64,
    /// Value of the objective, as in [`Outcome::objective`](super::Outcome::objective).
    pub objective: Option<u64>,
    /// Table moves so far in this restart.
    pub evaluations: u64,
}

/// The caller's hand on a running search: a stop flag, and a place for events.
#[derive(Debug, Default)]
pub struct Control {
    stop: AtomicBool,
    events: Option<Sender<Event>>,
}

impl Control {
    /// A control that sends every event to `events`.
    pub fn with_events(events: Sender<Event>) -> Self {
        Self { stop: AtomicBool::new(false), events: Some(events) }
    }

    /// Ask the search to return the best plan so far. Safe from any thread.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Whether a stop was asked for.
    pub fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// Pass an event on; a listener that went away is no reason to fail.
    pub(crate) fn send(&self, event: Event) {
        if let Some(events) = &self.events {
            let _ = events.send(event);
        }
    }
}
