//! A run whose method is a Python callable: budget, incumbent, trace and callback.

#![expect(clippy::doc_markdown, reason = "these are the docstrings of Python, in its markup")]

use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Mutex, MutexGuard};

use pyo3::exceptions::PyKeyboardInterrupt;
use pyo3::gc::{PyTraverseError, PyVisit};
use pyo3::prelude::*;
use pyo3::sync::MutexExt;

use super::arrays::Column;
use super::check::assignment;
use super::door::{Door, OnInterrupt, Progress};
use super::errors::engine_fault;
use super::outcome::{PyOutcome, REFUSED};
use super::problem::PyProblem;
use super::solve::{named, rank};
use super::state::PyState;
use crate::search::{Budget, Control, Event, Options, Session, StopReason};
use crate::table::Table;

/// One run of a heuristic: how long it may go on, and the best plan it has offered.
#[pyclass(frozen, subclass, module = "sidon._engine", name = "Session")]
#[derive(Debug)]
pub(super) struct PySession {
    /// None once the run has ended.
    session: Mutex<Option<Session>>,
    /// The table that the run begins with, until its state takes it.
    table: Mutex<Option<Table>>,
    listening: Mutex<Option<Listening>>,
    /// What the callback raised; it ends the run even if the heuristic swallows it.
    failure: Mutex<Option<PyErr>>,
}

/// A plan in hertz, its broken hard rules, its soft cost and the priority it does not serve.
type Incumbent = (Column<i64>, u64, u64, u64);

/// A callback, what waits for it, and the best it has heard of.
#[derive(Debug)]
struct Listening {
    progress: Progress,
    events: Receiver<Event>,
    best: [u64; 3],
}

impl PySession {
    fn lock<'s, T>(py: Python<'_>, mutex: &'s Mutex<T>) -> PyResult<MutexGuard<'s, T>> {
        mutex.lock_py_attached(py).map_err(|_| engine_fault("a step of this run failed halfway"))
    }

    /// The table that the run begins with. The second to ask is a fault of the caller in `sidon`.
    pub(super) fn table(&self, py: Python<'_>) -> PyResult<Table> {
        Self::lock(py, &self.table)?
            .take()
            .ok_or_else(|| engine_fault("the state of this run was taken before"))
    }

    fn stop(&self, py: Python<'_>) -> PyResult<()> {
        if let Some(session) = Self::lock(py, &self.session)?.as_ref() {
            session.stop();
        }
        Ok(())
    }

    /// Hand what waits to the callback.
    fn report(&self, py: Python<'_>) -> PyResult<()> {
        // Held by a callback that itself ticks or offers: it will hear of this next time.
        let Ok(mut listening) = self.listening.try_lock() else { return Ok(()) };
        let Some(Listening { progress, events, best }) = &mut *listening else { return Ok(()) };
        match progress.report(py, events, best) {
            Ok(false) => Ok(()),
            Ok(true) => self.stop(py),
            Err(error) => {
                self.stop(py)?;
                if error.is_instance_of::<PyKeyboardInterrupt>(py) {
                    return Ok(());
                }
                *Self::lock(py, &self.failure)? = Some(error.clone_ref(py));
                Err(error)
            }
        }
    }
}

#[pymethods]
impl PySession {
    #[new]
    #[expect(clippy::too_many_arguments, reason = "Python hands over keywords")]
    #[pyo3(signature = (problem, *, objective, seed, iterations, seconds, progress, start=None))]
    fn new(
        py: Python<'_>,
        problem: &Bound<'_, PyProblem>,
        objective: &str,
        seed: u64,
        iterations: Option<u64>,
        seconds: Option<f64>,
        progress: Option<Py<PyAny>>,
        start: Option<Column<i64>>,
    ) -> PyResult<Self> {
        let problem = Arc::clone(&problem.get().inner);
        let options = Options {
            objective: named("objective", objective)?,
            seed,
            budget: Budget { iterations, seconds },
            ..Options::default()
        };
        let (sender, events) = channel();
        let control = match &progress {
            Some(_) => Control::with_events(sender),
            None => Control::default(),
        };
        let start = start.map(assignment);
        let open =
            move |_: &Control| Session::open_from(&problem, &options, start.as_deref(), control);
        let opened = Door::plain(Some(1)).enter(py, open)?.value;
        Ok(Self {
            session: Mutex::new(Some(opened.0)),
            table: Mutex::new(Some(opened.1)),
            listening: Mutex::new(progress.map(|callback| {
                let progress = Progress { callback, rank: rank(options.objective) };
                Listening { progress, events, best: [u64::MAX; 3] }
            })),
            failure: Mutex::new(None),
        })
    }

    /// Count one iteration.
    ///
    /// Looks at the budget, for signals and at the callback. Cheap enough for every step of a search.
    ///
    /// Returns
    /// -------
    /// bool
    ///     Whether the run may go on. Once it may not it never may again: return from the heuristic.
    fn tick(&self, py: Python<'_>) -> PyResult<bool> {
        if let Err(error) = py.check_signals() {
            self.stop(py)?;
            if !error.is_instance_of::<PyKeyboardInterrupt>(py) {
                return Err(error);
            }
        }
        let go_on = Self::lock(py, &self.session)?.as_mut().is_some_and(Session::tick);
        self.report(py)?;
        Ok(go_on)
    }

    /// Offer what stands on a state as the best plan so far.
    ///
    /// Parameters
    /// ----------
    /// state : State
    ///     A state of the problem that is being solved.
    ///
    /// Returns
    /// -------
    /// bool
    ///     Whether it is better than all offered before. If so it is noted in the trace and the
    ///     callback hears of it.
    ///
    /// Raises
    /// ------
    /// InvalidProblemError
    ///     The state is of another problem.
    fn offer(&self, py: Python<'_>, state: &Bound<'_, PyState>) -> PyResult<bool> {
        let better = {
            let mut guard = Self::lock(py, &self.session)?;
            let Some(session) = guard.as_mut() else { return Ok(false) };
            state.get().with_table(py, |table| session.offer(table))??
        };
        if better {
            self.report(py)?;
        }
        Ok(better)
    }

    /// Iterations counted so far.
    #[getter]
    fn iterations(&self, py: Python<'_>) -> PyResult<u64> {
        Ok(Self::lock(py, &self.session)?.as_ref().map_or(0, Session::iterations))
    }

    /// Seconds since the run began.
    #[getter]
    fn elapsed_s(&self, py: Python<'_>) -> PyResult<f64> {
        Ok(Self::lock(py, &self.session)?.as_ref().map_or(0.0, Session::elapsed_s))
    }

    /// Proved least value of the unserved priority.
    #[getter]
    fn bound(&self, py: Python<'_>) -> PyResult<u64> {
        Ok(Self::lock(py, &self.session)?.as_ref().map_or(0, Session::bound))
    }

    /// Return the best plan offered so far: hertz, -1 for a link that is off; hard rules broken, soft
    /// cost, unserved priority. None once the run has ended.
    fn incumbent(&self, py: Python<'_>) -> PyResult<Option<Incumbent>> {
        let guard = Self::lock(py, &self.session)?;
        Ok(guard.as_ref().and_then(Session::best).map(|(plan, event)| {
            let column = Column(plan.iter().map(|hz| hz.unwrap_or(REFUSED)).collect());
            (column, event.hard, event.soft, event.unserved)
        }))
    }

    /// End the run: offer what stands on its state, and have the best plan recounted.
    #[pyo3(signature = (state, *, interrupted))]
    fn finish(
        &self,
        py: Python<'_>,
        state: &Bound<'_, PyState>,
        interrupted: bool,
    ) -> PyResult<PyOutcome> {
        if interrupted {
            self.stop(py)?;
        } else {
            self.offer(py, state)?;
        }
        let failure = Self::lock(py, &self.failure)?.take();
        if let Some(error) = failure {
            return Err(error);
        }
        let session = Self::lock(py, &self.session)?
            .take()
            .ok_or_else(|| engine_fault("this run has ended before"))?;
        let table = state.get().with_table(py, Table::clone)?;
        let door = Door { threads: None, on_interrupt: OnInterrupt::Keep, progress: None };
        let answer = door.enter(py, move |_| session.finish(&table))?;
        // The callback hears of the end, unless it was cut short; then it is let go.
        if !interrupted {
            self.report(py)?;
        }
        let left = Self::lock(py, &self.listening)?.take();
        drop(left);
        let mut outcome = answer.value;
        if (answer.interrupted || interrupted) && outcome.stop_reason != StopReason::Proven {
            outcome.stop_reason = StopReason::Interrupted;
        }
        PyOutcome::new(py, &outcome)
    }

    fn __traverse__(&self, visit: PyVisit<'_>) -> Result<(), PyTraverseError> {
        // A callback may hold the run it listens to.
        if let Ok(listening) = self.listening.try_lock()
            && let Some(listening) = &*listening
        {
            visit.call(&listening.progress.callback)?;
        }
        Ok(())
    }

    fn __clear__(&self) {
        let left = self.listening.try_lock().ok().and_then(|mut listening| listening.take());
        drop(left);
    }
}
