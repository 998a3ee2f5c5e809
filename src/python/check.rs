//! The independent check through the door.

use std::sync::Arc;

use pyo3::prelude::*;

use super::arrays::Column;
use super::door::Door;
use super::outcome::REFUSED;
use super::problem::PyProblem;
use crate::check::{Kind, Violation, check as recount};
use crate::problem::{Assignment, Problem, Weight};

/// Hard violations, soft cost, refused links, their priority, whether the list is cut short.
type Counts = (u64, u64, u64, u64, bool);

/// Kind, whether it is hard, soft cost, links, and the violation in words.
type Row = (&'static str, bool, u32, Vec<usize>, String);

/// Recount everything an assignment breaks; see `sidon.check`.
#[pyfunction]
#[pyo3(signature = (problem, frequencies, *, threads))]
pub(super) fn check(
    py: Python<'_>,
    problem: &Bound<'_, PyProblem>,
    frequencies: Column<i64>,
    threads: Option<usize>,
) -> PyResult<(Counts, Vec<Row>)> {
    let problem = Arc::clone(&problem.get().inner);
    let assignment = assignment(frequencies);
    let answer = Door::plain(threads).enter(py, move |_| {
        let report = recount(&problem, &assignment)?;
        let rows = report.violations.iter().map(|violation| row(&problem, violation)).collect();
        let counts = (report.hard, report.soft, report.refused, report.unserved, report.truncated);
        Ok((counts, rows))
    })?;
    Ok(answer.value)
}

/// A column of frequencies as the engine holds an assignment.
pub(super) fn assignment(frequencies: Column<i64>) -> Assignment {
    frequencies.0.into_iter().map(|hz| (hz != REFUSED).then_some(hz)).collect()
}

fn row(problem: &Problem, violation: &Violation) -> Row {
    let (kind, links) = match &violation.kind {
        Kind::OffDomain { link, .. } => ("off-domain", vec![*link]),
        Kind::LockMoved { link, .. } => ("lock-moved", vec![*link]),
        Kind::Separation { a, b, .. } => ("separation", vec![*a, *b]),
        Kind::Hit { sources, victim, .. } => {
            ("hit", sources.iter().chain([victim]).copied().collect())
        }
        Kind::Pair { rule, .. } => {
            let pair = &problem.pairs[*rule];
            ("pair", vec![pair.a, pair.b])
        }
    };
    let (hard, cost) = match violation.weight {
        Weight::Hard => (true, 0),
        Weight::Soft(cost) => (false, cost),
    };
    (kind, hard, cost, links, violation.describe(problem))
}
