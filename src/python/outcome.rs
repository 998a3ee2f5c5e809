//! What a run reports and answers, as columns and plain values.

#![expect(clippy::too_many_arguments, reason = "unpickling an event takes all of its fields")]

use pyo3::prelude::*;
use pyo3::types::PyType;
use serde::Serialize;

use super::arrays::Column;
use crate::search::{Event, Outcome};

/// Stands for "no carrier" in a column of frequencies.
pub(super) const REFUSED: i64 = -1;

/// What happened at one moment of a run.
#[pyclass(frozen, eq, get_all, module = "sidon._engine", name = "Event")]
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PyEvent {
    /// Seconds since the run began.
    time_s: f64,
    /// Iterations of this restart so far.
    iteration: u64,
    /// Restart index.
    restart: u64,
    /// `restart`, `improvement`, `progress` or `stop`.
    kind: String,
    /// Links without a carrier.
    refused: u64,
    /// Their summed priority.
    unserved: u64,
    /// Hard violations.
    hard: u64,
    /// Soft cost.
    soft: u64,
    /// Proved least value of `unserved`.
    bound: u64,
    /// Value of the objective; `None` where no plan counts.
    objective: Option<u64>,
    /// Table moves so far in this restart.
    evaluations: u64,
}

impl From<Event> for PyEvent {
    fn from(event: Event) -> Self {
        Self {
            time_s: event.time_s,
            iteration: event.iteration,
            restart: event.restart,
            kind: name(&event.kind),
            refused: event.refused,
            unserved: event.unserved,
            hard: event.hard,
            soft: event.soft,
            bound: event.bound,
            objective: event.objective,
            evaluations: event.evaluations,
        }
    }
}

/// What pickle stores of an [`PyEvent`].
type EventFields = (f64, u64, u64, String, u64, u64, u64, u64, u64, Option<u64>, u64);

#[pymethods]
impl PyEvent {
    #[new]
    fn new(
        time_s: f64,
        iteration: u64,
        restart: u64,
        kind: String,
        refused: u64,
        unserved: u64,
        hard: u64,
        soft: u64,
        bound: u64,
        objective: Option<u64>,
        evaluations: u64,
    ) -> Self {
        Self {
            time_s,
            iteration,
            restart,
            kind,
            refused,
            unserved,
            hard,
            soft,
            bound,
            objective,
            evaluations,
        }
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> (Bound<'py, PyType>, EventFields) {
        let fields = (
            self.time_s,
            self.iteration,
            self.restart,
            self.kind.clone(),
            self.refused,
            self.unserved,
            self.hard,
            self.soft,
            self.bound,
            self.objective,
            self.evaluations,
        );
        (py.get_type::<Self>(), fields)
    }

    fn __repr__(&self) -> String {
        let objective = self.objective.map_or_else(|| "None".into(), |value| value.to_string());
        format!(
            "Event({:.3} s, {}, restart={}, iteration={}, objective={objective}, refused={}, \
             hard={}, soft={})",
            self.time_s,
            self.kind,
            self.restart,
            self.iteration,
            self.refused,
            self.hard,
            self.soft
        )
    }
}

/// The events of a run as columns of equal length.
#[pyclass(frozen, get_all, module = "sidon._engine", name = "TraceColumns")]
#[derive(Debug)]
pub(super) struct PyTrace {
    /// Seconds since the run began.
    time_s: Column<f64>,
    /// Iterations of the restart so far.
    iteration: Column<i64>,
    /// Restart index.
    restart: Column<i64>,
    /// `restart`, `improvement`, `progress` or `stop`.
    kind: Vec<String>,
    /// Links without a carrier.
    refused: Column<i64>,
    /// Their summed priority.
    unserved: Column<i64>,
    /// Hard violations.
    hard: Column<i64>,
    /// Soft cost.
    soft: Column<i64>,
    /// Proved least value of `unserved`.
    bound: Column<i64>,
    /// Value of the objective; -1 where no plan counts.
    objective: Column<i64>,
    /// Table moves so far in the restart.
    evaluations: Column<i64>,
}

impl From<&[Event]> for PyTrace {
    fn from(events: &[Event]) -> Self {
        let counts = |get: fn(&Event) -> u64| {
            Column(events.iter().map(|event| get(event).try_into().unwrap_or(i64::MAX)).collect())
        };
        Self {
            time_s: Column(events.iter().map(|event| event.time_s).collect()),
            iteration: counts(|event| event.iteration),
            restart: counts(|event| event.restart),
            kind: events.iter().map(|event| name(&event.kind)).collect(),
            refused: counts(|event| event.refused),
            unserved: counts(|event| event.unserved),
            hard: counts(|event| event.hard),
            soft: counts(|event| event.soft),
            bound: counts(|event| event.bound),
            objective: Column(
                events
                    .iter()
                    .map(|event| {
                        event.objective.and_then(|value| value.try_into().ok()).unwrap_or(-1)
                    })
                    .collect(),
            ),
            evaluations: counts(|event| event.evaluations),
        }
    }
}

/// The answer of a run; see `sidon.Result`.
#[pyclass(frozen, get_all, module = "sidon._engine", name = "Outcome")]
#[derive(Debug)]
pub(super) struct PyOutcome {
    /// Hertz for each link; -1 where it has no carrier.
    frequencies: Column<i64>,
    /// `optimal`, `feasible` or `infeasible`.
    status: String,
    /// `proven`, `finished`, `iteration-limit`, `time-limit` or `interrupted`.
    stop_reason: String,
    /// Links without a carrier.
    refused: u64,
    /// Their summed priority.
    unserved: u64,
    /// Proved least value of `unserved`.
    bound: u64,
    /// What was minimised; `None` where no plan counts.
    objective: Option<u64>,
    /// Proved least value of `objective`.
    lower_bound: u64,
    /// Hard violations.
    hard: u64,
    /// Soft cost.
    soft: u64,
    /// Seed of the run.
    seed: u64,
    /// Restarts begun.
    restarts: u64,
    /// Iterations over all restarts.
    iterations: u64,
    /// Table moves over all restarts.
    evaluations: u64,
    /// Wall-clock seconds.
    elapsed_s: f64,
    /// The events of the run.
    trace: Py<PyTrace>,
}

impl PyOutcome {
    /// The outcome, its columns moved.
    pub(super) fn new(py: Python<'_>, outcome: &Outcome) -> PyResult<Self> {
        let frequencies = outcome.assignment.iter().map(|hz| hz.unwrap_or(REFUSED)).collect();
        Ok(Self {
            frequencies: Column(frequencies),
            status: name(&outcome.status),
            stop_reason: name(&outcome.stop_reason),
            refused: outcome.refused,
            unserved: outcome.unserved,
            bound: outcome.bound,
            objective: outcome.objective,
            lower_bound: outcome.lower_bound,
            hard: outcome.hard,
            soft: outcome.soft,
            seed: outcome.seed,
            restarts: outcome.restarts,
            iterations: outcome.iterations,
            evaluations: outcome.evaluations,
            elapsed_s: outcome.elapsed_s,
            trace: Py::new(py, PyTrace::from(outcome.trace.as_slice()))?,
        })
    }
}

/// The name of a plain enum value, as its serde form spells it.
pub(super) fn name<T: Serialize>(value: &T) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(text)) => text,
        other => unreachable!("a unit variant serialises to its name, not {other:?}"),
    }
}
