//! Hits and hit counts of a finished set through the door.

use pyo3::prelude::*;

use super::arrays::Column;
use super::door::Door;
use crate::error::Result;
use crate::product::{self, Form, Hit};

/// Forms, each with the guard of every carrier as the victim.
type Guards = Vec<(String, Column<i64>)>;

/// Form by index into the guards, victim, product and offset of each hit; and all sources, one
/// after another.
type HitColumns = (Column<i64>, Column<i64>, Column<i64>, Column<i64>, Column<i64>);

/// List every hit; see `sidon.hits`.
#[pyfunction]
#[pyo3(signature = (frequencies, guards, *, threads))]
pub(super) fn hits(
    py: Python<'_>,
    frequencies: Column<i64>,
    guards: Guards,
    threads: Option<usize>,
) -> PyResult<HitColumns> {
    let answer = Door::plain(threads).enter(py, move |_| {
        let found = product::hits_by_victim(&frequencies.0, &parsed(guards)?)?;
        let column = |get: fn(&Hit) -> i64| Column(found.iter().map(get).collect());
        let sources = found.iter().flat_map(|hit| hit.sources.iter().map(|&i| i as i64));
        Ok((
            column(|hit| hit.form as i64),
            column(|hit| hit.victim as i64),
            column(|hit| hit.product_hz),
            column(|hit| hit.offset_hz),
            Column(sources.collect()),
        ))
    })?;
    Ok(answer.value)
}

/// Count the hits of each form on each victim; see `sidon.hit_counts`.
#[pyfunction]
#[pyo3(signature = (frequencies, guards, *, threads))]
pub(super) fn hit_counts(
    py: Python<'_>,
    frequencies: Column<i64>,
    guards: Guards,
    threads: Option<usize>,
) -> PyResult<Vec<Column<i64>>> {
    let answer = Door::plain(threads).enter(py, move |_| {
        let counts = product::hit_counts_by_victim(&frequencies.0, &parsed(guards)?)?;
        let column = |row: Vec<u64>| {
            Column(row.into_iter().map(|n| n.try_into().unwrap_or(i64::MAX)).collect())
        };
        Ok(counts.into_iter().map(column).collect())
    })?;
    Ok(answer.value)
}

fn parsed(guards: Guards) -> Result<Vec<(Form, Vec<i64>)>> {
    guards.into_iter().map(|(form, widths)| Ok((form.parse()?, widths.0))).collect()
}
