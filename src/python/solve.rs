//! Running a search through the door.

use std::sync::Arc;

use pyo3::prelude::*;
use serde::Deserialize;
use serde::de::IntoDeserializer;
use serde::de::value::Error as ValueError;

use super::arrays::Column;
use super::check::assignment;
use super::door::{Door, OnInterrupt, Progress};
use super::outcome::PyOutcome;
use super::problem::PyProblem;
use crate::error::{Error, Fault};
use crate::search::{self, Budget, Event, Objective, Options, StopReason};
use crate::table;

/// Search for an assignment; see `sidon.solve`.
#[pyfunction]
#[pyo3(signature = (problem, *, objective, method, seed, iterations, seconds, threads, progress, start=None))]
#[expect(clippy::too_many_arguments, reason = "Python hands over keywords")]
pub(super) fn solve(
    py: Python<'_>,
    problem: &Bound<'_, PyProblem>,
    objective: &str,
    method: &str,
    seed: u64,
    iterations: Option<u64>,
    seconds: Option<f64>,
    threads: Option<usize>,
    progress: Option<Py<PyAny>>,
    start: Option<Column<i64>>,
) -> PyResult<PyOutcome> {
    let problem = Arc::clone(&problem.get().inner);
    let options = Options {
        objective: named("objective", objective)?,
        method: named("method", method)?,
        seed,
        budget: Budget { iterations, seconds },
        threads,
    };
    let progress = progress.map(|callback| Progress { callback, rank: rank(options.objective) });
    let door = Door { threads, on_interrupt: OnInterrupt::Keep, progress };
    let start = start.map(assignment);
    let run = move |control: &search::Control| {
        search::solve_from(&problem, &options, start.as_deref(), control)
    };
    let answer = door.enter(py, run)?;
    let mut outcome = answer.value;
    // An interrupt that came as the search had nothing left to find changed nothing.
    if answer.interrupted && outcome.stop_reason != StopReason::Proven {
        outcome.stop_reason = StopReason::Interrupted;
    }
    PyOutcome::new(py, &outcome)
}

/// What makes one event's plan better than another's: less.
pub(super) fn rank(objective: Objective) -> fn(&Event) -> [u64; 3] {
    match objective {
        Objective::MaxService => |event| [event.hard, event.unserved, event.soft],
        Objective::MinInterference => |event| [event.unserved, event.hard, event.soft],
        Objective::MinSpan | Objective::MinOrder => |event| {
            let broken = event.hard.saturating_add(event.unserved);
            [broken, event.objective.unwrap_or(u64::MAX), event.soft]
        },
    }
}

/// The variant of a plain enum with this name; the error lists the names there are.
pub(super) fn named<'de, T: Deserialize<'de>>(place: &str, text: &'de str) -> Result<T, Error> {
    T::deserialize(text.into_deserializer()).map_err(|error: ValueError| {
        Error::Invalid(vec![Fault::new(place, error.to_string(), "use one of these names")])
    })
}

/// Candidates, and those blocked by separation, as victim, as source; and clean ones.
type RefusalCounts = (usize, usize, usize, usize, usize);

/// Count what blocks each of some links; see `sidon.why_refused`.
#[pyfunction]
#[pyo3(signature = (problem, frequencies, links))]
pub(super) fn refusals(
    py: Python<'_>,
    problem: &Bound<'_, PyProblem>,
    frequencies: Column<i64>,
    links: Vec<usize>,
) -> PyResult<Vec<RefusalCounts>> {
    let problem = Arc::clone(&problem.get().inner);
    let assignment = assignment(frequencies);
    let answer = Door::plain(Some(1)).enter(py, move |_| {
        let refusals = table::why_refused(&problem, &assignment, &links)?;
        let counts =
            |r: table::Refusal| (r.candidates, r.by_separation, r.as_victim, r.as_source, r.clean);
        Ok(refusals.into_iter().map(counts).collect())
    })?;
    Ok(answer.value)
}
