//! The state of a heuristic written in Python: the engine's cost table behind a lock.
//!
//! Under the lock nothing calls back into Python, so that no finaliser can come upon a state that is
//! locked by its own thread.

#![expect(clippy::doc_markdown, reason = "these are the docstrings of Python, in its markup")]

use std::sync::{Arc, Mutex, MutexGuard, OnceLock};

use numpy::{PyArray1, PyArrayMethods};
use pyo3::exceptions::{PyIndexError, PyOverflowError};
use pyo3::inspect::PyStaticExpr;
use pyo3::prelude::*;
use pyo3::sync::{MutexExt, OnceLockExt};

use super::arrays::{Column, Shared};
use super::door::Door;
use super::errors::{MoveError, engine_fault};
use super::outcome::REFUSED;
use super::problem::PyProblem;
use super::rows::{Buffer, Rows};
use super::session::PySession;
use crate::problem::compile::Compiled;
use crate::table::{HARD, Table};

/// A plan in the making, and what every further step would cost.
#[pyclass(frozen, subclass, module = "sidon._engine", name = "State")]
#[derive(Debug)]
pub(super) struct PyState {
    compiled: Arc<Compiled>,
    inner: Mutex<Inner>,
    /// Per domain, the candidates as a read-only array.
    candidates: Vec<OnceLock<Py<PyArray1<i64>>>>,
}

/// What changes.
#[derive(Debug)]
struct Inner {
    table: Table,
    /// By class.
    rows: Vec<Rows>,
    /// Summed priority of the links that are not placed.
    unserved: u64,
}

impl Inner {
    fn expire(&mut self, class: usize) {
        let Self { table, rows, .. } = self;
        table.touched(class).iter().for_each(|&touched| rows[touched].expire());
    }
}

impl PyState {
    fn lock(&self, py: Python<'_>) -> PyResult<MutexGuard<'_, Inner>> {
        self.inner
            .lock_py_attached(py)
            .map_err(|_| engine_fault("a move on this state failed halfway"))
    }

    /// Do something with the table.
    pub(super) fn with_table<T>(
        &self,
        py: Python<'_>,
        act: impl FnOnce(&Table) -> T,
    ) -> PyResult<T> {
        Ok(act(&self.lock(py)?.table))
    }

    fn link(&self, link: Index) -> PyResult<usize> {
        link.below(self.compiled.class_of.len(), "link")
    }

    fn candidates_of(&self, link: usize) -> &[i64] {
        &self.compiled.candidates_hz[self.domain(link)]
    }

    fn domain(&self, link: usize) -> usize {
        self.compiled.classes[self.compiled.class_of[link]].domain
    }

    fn priority(&self, link: usize) -> u64 {
        u64::from(self.compiled.source.links[link].priority)
    }

    /// Put a link that is off on a candidate it may take; the indices are in range.
    fn put(&self, inner: &mut Inner, link: usize, at: usize) {
        inner.table.place(link, at);
        inner.unserved -= self.priority(link);
        inner.expire(self.compiled.class_of[link]);
    }

    /// Take a link off; where it stood.
    fn take(&self, inner: &mut Inner, link: usize) -> Option<usize> {
        let at = inner.table.lift(link)?;
        inner.unserved += self.priority(link);
        inner.expire(self.compiled.class_of[link]);
        Some(at)
    }

    /// The candidate of every link, none for -1.
    fn targets(&self, frequencies: &[i64]) -> PyResult<Vec<Option<usize>>> {
        let n = self.compiled.class_of.len();
        if frequencies.len() != n {
            let what = format!("{} frequencies for {n} links", frequencies.len());
            let why = "they do not match";
            return Err(MoveError::new_err((what, why, "give one per link, -1 for off")));
        }
        let target = |(link, &hz): (usize, &i64)| {
            // A candidate on -1 Hz reads as off, as everywhere in Python.
            if hz == REFUSED {
                return Ok(None);
            }
            let refuse = |why: String, remedy: &'static str| {
                Err(MoveError::new_err((format!("link {link} on {hz} Hz"), why, remedy)))
            };
            let Ok(at) = self.candidates_of(link).binary_search(&hz) else {
                return refuse("it is none of its candidates".into(), "see State.candidates");
            };
            match self.locked_elsewhere(link, at) {
                Some(lock) => refuse(
                    format!("it is locked to candidate {lock}"),
                    "place it there, or leave it off",
                ),
                None => Ok(Some(at)),
            }
        };
        frequencies.iter().enumerate().map(target).collect()
    }

    fn locked_elsewhere(&self, link: usize, at: usize) -> Option<usize> {
        self.compiled.locks[link].filter(|&lock| lock != at)
    }
}

#[pymethods]
impl PyState {
    /// What one broken hard rule costs; soft costs stay below it.
    #[classattr]
    #[pyo3(name = "HARD")]
    const HARD: i64 = HARD;

    #[new]
    #[pyo3(signature = (problem, session=None))]
    fn new(
        py: Python<'_>,
        problem: &Bound<'_, PyProblem>,
        session: Option<&Bound<'_, PySession>>,
    ) -> PyResult<Self> {
        let table = if let Some(session) = session {
            session.get().table(py)?
        } else {
            let problem = Arc::clone(&problem.get().inner);
            Door::plain(Some(1)).enter(py, move |_| Table::new(&problem))?.value
        };
        let compiled = Arc::clone(table.problem());
        let off = (0..compiled.class_of.len()).filter(|&link| table.choice(link).is_none());
        let unserved = off.map(|link| u64::from(compiled.source.links[link].priority)).sum();
        let rows = compiled.classes.iter().map(|_| Rows::default()).collect();
        let candidates = compiled.candidates_hz.iter().map(|_| OnceLock::new()).collect();
        Ok(Self { inner: Mutex::new(Inner { table, rows, unserved }), compiled, candidates })
    }

    /// Return what one more link like this one would cost on each of its candidates.
    ///
    /// Meant for a link that is not placed: of a placed one the row holds its conflicts with itself.
    ///
    /// Parameters
    /// ----------
    /// link : int
    ///     Index of the link.
    ///
    /// Returns
    /// -------
    /// numpy.ndarray
    ///     int64, one entry per candidate: broken hard rules times `State.HARD`, plus soft cost. A
    ///     read-only view of the engine's row, not a copy. It is the cost until the next `place` or
    ///     `lift`; kept longer it stays as it was, whatever happens to the state.
    ///
    /// Raises
    /// ------
    /// IndexError
    ///     There is no such link.
    fn cost(&self, py: Python<'_>, link: Index) -> PyResult<Shared<i64>> {
        let link = self.link(link)?;
        let class = self.compiled.class_of[link];
        loop {
            {
                let inner = &mut *self.lock(py)?;
                if let Some(view) = inner.rows[class].view(py, &inner.table, link) {
                    return Ok(Shared(view));
                }
            }
            let buffer = Buffer::new(py, self.candidates_of(link).len())?;
            let replaced = self.lock(py)?.rows[class].put(buffer);
            drop(replaced);
        }
    }

    /// Put a link that is off on one of its candidates.
    ///
    /// Parameters
    /// ----------
    /// link : int
    ///     Index of the link.
    /// at : int
    ///     Index of the candidate.
    ///
    /// Raises
    /// ------
    /// IndexError
    ///     There is no such link or candidate.
    /// MoveError
    ///     The link is placed, or locked to another candidate.
    fn place(&self, py: Python<'_>, link: Index, at: Index) -> PyResult<()> {
        let link = self.link(link)?;
        let at = at.below(self.candidates_of(link).len(), "candidate")?;
        if let Some(lock) = self.locked_elsewhere(link, at) {
            return Err(MoveError::new_err((
                format!("link {link} on candidate {at}"),
                format!("it is locked to candidate {lock}"),
                "place it there, or leave it off",
            )));
        }
        let mut inner = self.lock(py)?;
        if let Some(there) = inner.table.choice(link) {
            return Err(MoveError::new_err((
                format!("link {link} on candidate {at}"),
                format!("it is placed on candidate {there}"),
                "lift it first",
            )));
        }
        self.put(&mut inner, link, at);
        Ok(())
    }

    /// Take a placed link off the air.
    ///
    /// Parameters
    /// ----------
    /// link : int
    ///     Index of the link.
    ///
    /// Returns
    /// -------
    /// int
    ///     Index of the candidate it stood on.
    ///
    /// Raises
    /// ------
    /// IndexError
    ///     There is no such link.
    /// MoveError
    ///     The link is not placed.
    fn lift(&self, py: Python<'_>, link: Index) -> PyResult<usize> {
        let link = self.link(link)?;
        let mut inner = self.lock(py)?;
        self.take(&mut inner, link).ok_or_else(|| {
            MoveError::new_err((
                format!("link {link} off the air"),
                "it is not placed",
                "ask State.choice first",
            ))
        })
    }

    /// Return the candidates of a link.
    ///
    /// Parameters
    /// ----------
    /// link : int
    ///     Index of the link.
    ///
    /// Returns
    /// -------
    /// numpy.ndarray
    ///     int64, hertz, ascending, read-only.
    ///
    /// Raises
    /// ------
    /// IndexError
    ///     There is no such link.
    fn candidates(&self, py: Python<'_>, link: Index) -> PyResult<Shared<i64>> {
        let domain = self.domain(self.link(link)?);
        let array = self.candidates[domain].get_or_init_py_attached(py, || {
            // Over a Rust vector, as the rows are: read-only for good.
            let array = PyArray1::from_vec(py, self.compiled.candidates_hz[domain].clone());
            array.readwrite().make_nonwriteable();
            array.unbind()
        });
        Ok(Shared(array.clone_ref(py)))
    }

    /// Return the candidate on which a link stands.
    ///
    /// Parameters
    /// ----------
    /// link : int
    ///     Index of the link.
    ///
    /// Returns
    /// -------
    /// int or None
    ///     Index of the candidate; None while the link is off.
    ///
    /// Raises
    /// ------
    /// IndexError
    ///     There is no such link.
    fn choice(&self, py: Python<'_>, link: Index) -> PyResult<Option<usize>> {
        let link = self.link(link)?;
        Ok(self.lock(py)?.table.choice(link))
    }

    /// Return the candidate to which a link is locked.
    ///
    /// Parameters
    /// ----------
    /// link : int
    ///     Index of the link.
    ///
    /// Returns
    /// -------
    /// int or None
    ///     Index of the candidate; None where the link is free.
    ///
    /// Raises
    /// ------
    /// IndexError
    ///     There is no such link.
    fn locked(&self, link: Index) -> PyResult<Option<usize>> {
        Ok(self.compiled.locks[self.link(link)?])
    }

    /// Return the links that no lock holds, by index.
    fn unlocked(&self) -> Vec<usize> {
        let locks = self.compiled.locks.iter().enumerate();
        locks.filter(|(_, lock)| lock.is_none()).map(|(link, _)| link).collect()
    }

    /// List the hard rules that a placed link takes part in breaking.
    ///
    /// Parameters
    /// ----------
    /// link : int
    ///     Index of the link.
    ///
    /// Returns
    /// -------
    /// list of list of int
    ///     For each broken rule the other links it needs: with one of them gone it holds. At most
    ///     4096 rules. Empty for a link that is off.
    ///
    /// Raises
    /// ------
    /// IndexError
    ///     There is no such link.
    ///
    /// Notes
    /// -----
    /// O(n^(k-1) log n) for forms of k letters among n carriers.
    fn conflicts(&self, py: Python<'_>, link: Index) -> PyResult<Vec<Vec<usize>>> {
        let link = self.link(link)?;
        Ok(self.lock(py)?.table.conflicts(link))
    }

    /// The cost of all that is placed: broken hard rules times `State.HARD`, plus soft cost.
    #[getter]
    fn total(&self, py: Python<'_>) -> PyResult<i64> {
        self.with_table(py, Table::total)
    }

    /// Hard rules broken.
    #[getter]
    fn hard(&self, py: Python<'_>) -> PyResult<i64> {
        Ok(self.total(py)? / HARD)
    }

    /// Soft cost.
    #[getter]
    fn soft(&self, py: Python<'_>) -> PyResult<i64> {
        Ok(self.total(py)? % HARD)
    }

    /// Summed priority of the links that are off.
    #[getter]
    fn unserved(&self, py: Python<'_>) -> PyResult<u64> {
        Ok(self.lock(py)?.unserved)
    }

    /// Moves made so far.
    #[getter]
    fn evaluations(&self, py: Python<'_>) -> PyResult<u64> {
        self.with_table(py, Table::evaluations)
    }

    /// Return where every link stands, in hertz; -1 for a link that is off.
    fn frequencies(&self, py: Python<'_>) -> PyResult<Column<i64>> {
        let links = 0..self.compiled.class_of.len();
        self.with_table(py, |table| {
            Column(links.map(|link| table.frequency_hz(link).unwrap_or(REFUSED)).collect())
        })
    }

    /// Move every link to its frequency in this column, -1 for off: all, or none on an error.
    fn move_to(&self, py: Python<'_>, frequencies: Column<i64>) -> PyResult<()> {
        let Column(frequencies) = frequencies;
        let targets = self.targets(&frequencies)?;
        let mut inner = self.lock(py)?;
        let moving: Vec<usize> =
            (0..targets.len()).filter(|&link| inner.table.choice(link) != targets[link]).collect();
        for &link in &moving {
            self.take(&mut inner, link);
        }
        for &link in &moving {
            if let Some(at) = targets[link] {
                self.put(&mut inner, link, at);
            }
        }
        Ok(())
    }

    fn __len__(&self) -> usize {
        self.compiled.class_of.len()
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        let n = self.compiled.class_of.len();
        self.with_table(py, |table| {
            let placed = (0..n).filter(|&link| table.choice(link).is_some()).count();
            let (hard, soft) = (table.total() / HARD, table.total() % HARD);
            format!("State({placed} of {n} links placed, {hard} hard, soft cost {soft})")
        })
    }
}

/// A whole number that should be an index; those beyond the machine's are out of any range.
#[derive(Debug, Clone, Copy)]
struct Index(Option<isize>);

impl<'a, 'py> FromPyObject<'a, 'py> for Index {
    type Error = PyErr;

    const INPUT_TYPE: PyStaticExpr = isize::INPUT_TYPE;

    fn extract(obj: Borrowed<'a, 'py, PyAny>) -> PyResult<Self> {
        match obj.extract() {
            Ok(value) => Ok(Self(Some(value))),
            Err(error) if error.is_instance_of::<PyOverflowError>(obj.py()) => Ok(Self(None)),
            Err(error) => Err(error),
        }
    }
}

impl Index {
    /// The index among `n` things.
    fn below(self, n: usize, what: &str) -> PyResult<usize> {
        let index = self.0.and_then(|value| usize::try_from(value).ok());
        index.filter(|&index| index < n).ok_or_else(|| {
            let value = self.0.map_or("of that size".to_string(), |value| value.to_string());
            PyIndexError::new_err(format!("no {what} {value}: there are {n}, counted from 0"))
        })
    }
}
