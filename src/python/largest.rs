//! The largest compatible set through the door.

use pyo3::prelude::*;

use super::arrays::Column;
use super::door::{Door, OnInterrupt, Progress};
use super::outcome::name;
use crate::error::Result;
use crate::product::Form;
use crate::search::{self, Budget, Options, SetAnswer, SetEvent, SetQuestion, StopReason};

/// The answer; see `sidon.SetResult`.
#[pyclass(frozen, get_all, module = "sidon._engine", name = "SetOutcome")]
#[derive(Debug)]
pub(super) struct PySetOutcome {
    /// The set in hertz, ascending.
    frequencies: Column<i64>,
    /// No set is larger.
    upper_bound: usize,
    /// `candidates`, `separation`, `difference-counting` or `exhaustion`.
    proof: String,
    /// `optimal`, `feasible` or `infeasible`.
    status: String,
    /// `proven`, `iteration-limit`, `time-limit` or `interrupted`.
    stop_reason: String,
    /// Seed of the run.
    seed: u64,
    /// Restarts begun.
    restarts: u64,
    /// Iterations over all restarts.
    iterations: u64,
    /// Wall-clock seconds.
    elapsed_s: f64,
    /// Seconds since the run began, of each improvement.
    trace_time_s: Column<f64>,
    /// Restart that found it.
    trace_restart: Column<i64>,
    /// Iterations of that restart.
    trace_iteration: Column<i64>,
    /// Carriers in the best set.
    trace_size: Column<i64>,
    /// Upper bound.
    trace_upper_bound: Column<i64>,
}

/// Find the largest compatible set; see `sidon.largest_set`.
#[pyfunction]
#[pyo3(signature = (candidates, separation, guards, *, seed, iterations, seconds, threads, progress))]
#[expect(clippy::too_many_arguments, reason = "Python hands over keywords")]
pub(super) fn largest_set(
    py: Python<'_>,
    candidates: Column<i64>,
    separation: i64,
    guards: Vec<(String, i64)>,
    seed: u64,
    iterations: Option<u64>,
    seconds: Option<f64>,
    threads: Option<usize>,
    progress: Option<Py<PyAny>>,
) -> PyResult<PySetOutcome> {
    let guards: Result<Vec<(Form, i64)>> =
        guards.into_iter().map(|(form, hz)| Ok((form.parse()?, hz))).collect();
    let question =
        SetQuestion { candidates_hz: candidates.0, separation_hz: separation, guards: guards? };
    let options =
        Options { seed, budget: Budget { iterations, seconds }, threads, ..Options::default() };
    let progress =
        progress.map(|callback| Progress { callback, rank: |event| [event.unserved, 0, 0] });
    let door = Door { threads, on_interrupt: OnInterrupt::Keep, progress };
    let answer =
        door.enter(py, move |control| search::largest_set(&question, &options, control))?;
    let mut outcome = PySetOutcome::from(answer.value);
    if answer.interrupted && outcome.stop_reason != name(&StopReason::Proven) {
        outcome.stop_reason = name(&StopReason::Interrupted);
    }
    Ok(outcome)
}

impl From<SetAnswer> for PySetOutcome {
    fn from(answer: SetAnswer) -> Self {
        let column = |get: fn(&SetEvent) -> u64| {
            Column(
                answer
                    .trace
                    .iter()
                    .map(|event| get(event).try_into().unwrap_or(i64::MAX))
                    .collect(),
            )
        };
        Self {
            upper_bound: answer.upper_bound,
            proof: name(&answer.proof),
            status: name(&answer.status),
            stop_reason: name(&answer.stop_reason),
            seed: answer.seed,
            restarts: answer.restarts,
            iterations: answer.iterations,
            elapsed_s: answer.elapsed_s,
            trace_time_s: Column(answer.trace.iter().map(|event| event.time_s).collect()),
            trace_restart: column(|event| event.restart),
            trace_iteration: column(|event| event.iteration),
            trace_size: column(|event| event.size as u64),
            trace_upper_bound: column(|event| event.upper_bound as u64),
            frequencies: Column(answer.frequencies_hz),
        }
    }
}
