//! The problem as Python holds it: immutable, validated, picklable.

use std::sync::Arc;

use pyo3::exceptions::PyIndexError;
use pyo3::prelude::*;

use super::arrays::Column;
use super::errors::engine_fault;
use crate::error::{Error, Fault};
use crate::problem::{PairRule, Problem, Relation, Weight};

/// The most faults of columns that are listed: a wrong column is wrong in every row.
const MAX_FAULTS: usize = 10;

/// A validated frequency-assignment problem.
#[pyclass(frozen, eq, module = "sidon._engine", name = "Problem")]
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PyProblem {
    /// Shared with the workers, never changed.
    pub(super) inner: Arc<Problem>,
}

#[pymethods]
impl PyProblem {
    /// Read and validate a problem; every fault is collected.
    #[staticmethod]
    fn from_json(text: &str) -> PyResult<Self> {
        let problem = read(text)?;
        problem.validate()?;
        Ok(Self { inner: Arc::new(problem) })
    }

    /// Read a problem whose pair rules stand in columns, behind those of the text; at most ten faults
    /// of the columns are listed.
    ///
    /// The columns: two links, their distance in hertz, the soft cost (0 for a hard rule), and
    /// whether the distance is exact (1) or the least (0).
    #[staticmethod]
    fn from_columns(
        text: &str,
        a: Column<i64>,
        b: Column<i64>,
        distance_hz: Column<i64>,
        cost: Column<i64>,
        exact: Column<i64>,
    ) -> PyResult<Self> {
        let mut problem = read(text)?;
        let mut faults = Vec::new();
        let columns = [a, b, distance_hz, cost, exact].map(|column| column.0);
        let rows = columns.iter().map(Vec::len).min().unwrap_or(0);
        problem.pairs.reserve(rows);
        for row in 0..rows {
            let [a, b, hz, cost, exact] = columns.each_ref().map(|column| column[row]);
            let mut link = |name: &str, value: i64| {
                usize::try_from(value).unwrap_or_else(|_| {
                    let place = format!("pairs[{row}].{name}");
                    faults.push(Fault::new(place, format!("no link {value}"), "count from 0"));
                    0
                })
            };
            let (a, b) = (link("a", a), link("b", b));
            let weight = u32::try_from(cost).unwrap_or_else(|_| {
                let (place, what) = (format!("pairs[{row}].weight"), format!("{cost} is no cost"));
                let remedy = "give 0 for a hard rule, or a soft cost below 2^32";
                faults.push(Fault::new(place, what, remedy));
                0
            });
            problem.pairs.push(PairRule {
                a,
                b,
                relation: if exact == 0 { Relation::AtLeast(hz) } else { Relation::Exactly(hz) },
                weight: if weight == 0 { Weight::Hard } else { Weight::Soft(weight) },
            });
        }
        if !faults.is_empty() {
            faults.truncate(MAX_FAULTS);
            return Err(Error::Invalid(faults).into());
        }
        problem.validate()?;
        Ok(Self { inner: Arc::new(problem) })
    }

    /// The problem as JSON; the inverse of `from_json`.
    fn to_json(&self) -> PyResult<String> {
        serde_json::to_string(&*self.inner).map_err(|error| engine_fault(&error.to_string()))
    }

    /// The names of the links, in order.
    fn link_ids(&self) -> Vec<String> {
        self.inner.links.iter().map(|link| link.id.clone()).collect()
    }

    /// The candidates of one link in hertz, ascending.
    fn candidates_hz(&self, link: isize) -> PyResult<Column<i64>> {
        let n = self.inner.links.len();
        let index = usize::try_from(link).ok().filter(|&index| index < n).ok_or_else(|| {
            PyIndexError::new_err(format!("no link {link}: there are {n}, counted from 0"))
        })?;
        let domain = &self.inner.domains[self.inner.links[index].domain];
        Ok(Column(domain.candidates_hz()))
    }

    /// How many there are of each part, for display.
    fn sizes(&self) -> [(&'static str, usize); 5] {
        let problem = &*self.inner;
        [
            ("link", problem.links.len()),
            ("profile", problem.profiles.len()),
            ("zone", problem.zones.len()),
            ("domain", problem.domains.len()),
            ("pair rule", problem.pairs.len()),
        ]
    }

    fn __len__(&self) -> usize {
        self.inner.links.len()
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, (String,))> {
        let reader = py.get_type::<Self>().getattr("from_json")?;
        Ok((reader, (self.to_json()?,)))
    }
}

/// Read a problem without validating it.
fn read(text: &str) -> Result<Problem, Error> {
    let mut reader = serde_json::Deserializer::from_str(text);
    let problem =
        serde_path_to_error::deserialize(&mut reader).map_err(|error| unreadable(&error))?;
    reader.end().map_err(|error| Error::Unreadable {
        what: "a problem".into(),
        why: error.to_string(),
        remedy: "give one JSON object and nothing after it".into(),
    })?;
    Ok(problem)
}

fn unreadable(error: &serde_path_to_error::Error<serde_json::Error>) -> Error {
    let mut why = error.inner().to_string();
    // With the path known, the line and column of text that the caller never saw say nothing.
    if error.inner().is_data() {
        let place = format!(" at line {} column {}", error.inner().line(), error.inner().column());
        why.truncate(why.strip_suffix(&place).map_or(why.len(), str::len));
    }
    Error::Unreadable {
        what: match error.path().to_string().as_str() {
            "." | "?" => "a problem".into(),
            path => format!("a problem at {path}"),
        },
        why,
        remedy: "sidon.Problem names the fields and their types".into(),
    }
}
