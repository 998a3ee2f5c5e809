//! The one door into the engine: every long call runs on its own pool with the interpreter free.
//!
//! The calling thread keeps watch: it wakes every [`POLL`], looks for signals and hands events to
//! the caller's callback. Signals reach Python in the main thread only, so a run entered from
//! another thread is stopped by its callback or its budget.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Duration;

use pyo3::exceptions::PyKeyboardInterrupt;
use pyo3::prelude::*;

use super::errors::engine_fault;
use super::outcome::PyEvent;
use crate::Result;
use crate::search::{Control, Event, EventKind};

#[cfg(test)]
mod tests;

/// How long the calling thread sleeps between two looks.
const POLL: Duration = Duration::from_millis(20);

/// What a keyboard interrupt does to the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum OnInterrupt {
    /// It raises at once; the work has no partial answer.
    Raise,
    /// It asks the work to return the best so far; a second one raises.
    Keep,
}

/// An answer, and whether the caller cut the work short.
#[derive(Debug)]
pub(super) struct Answer<T> {
    /// What the work returned.
    pub(super) value: T,
    /// Whether a keyboard interrupt came while it ran.
    pub(super) interrupted: bool,
}

/// How a call passes the door.
#[derive(Debug)]
pub(super) struct Door {
    /// Worker threads; `None` takes one per core.
    pub(super) threads: Option<usize>,
    /// What an interrupt does.
    pub(super) on_interrupt: OnInterrupt,
    /// Who watches.
    pub(super) progress: Option<Progress>,
}

/// A callback, and what it need not hear of.
#[derive(Debug)]
pub(super) struct Progress {
    /// Called with events; returning `True` asks for the best so far.
    pub(super) callback: Py<PyAny>,
    /// Less is better; an improvement that is none on the best so far is not passed on.
    pub(super) rank: fn(&Event) -> [u64; 3],
}

impl Door {
    /// A door for work that has no partial answer.
    pub(super) fn plain(threads: Option<usize>) -> Self {
        Self { threads, on_interrupt: OnInterrupt::Raise, progress: None }
    }

    /// Run `work` on a pool of its own and wait for its answer.
    ///
    /// The work owns what it needs, so that a caller who will not wait can leave it behind: it
    /// sees the stop flag, ends and is dropped with its pool.
    pub(super) fn enter<T, F>(self, py: Python<'_>, work: F) -> PyResult<Answer<T>>
    where
        T: Send + 'static,
        F: FnOnce(&Control) -> Result<T> + Send + 'static,
    {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(self.threads.unwrap_or(0))
            .thread_name(|index| format!("sidon-{index}"))
            .build()
            .map_err(|error| engine_fault(&format!("no worker threads: {error}")))?;
        let (event_sender, events) = channel();
        let control = Arc::new(match self.progress {
            Some(_) => Control::with_events(event_sender),
            None => Control::default(),
        });
        let (done_sender, mut done) = channel();
        let workers_control = Arc::clone(&control);
        pool.spawn(move || {
            // A panic must not cross the pool, which would abort the interpreter.
            let answer = catch_unwind(AssertUnwindSafe(|| work(&workers_control)));
            // The caller may have left.
            let _ = done_sender.send(answer);
        });

        let mut best = [u64::MAX; 3];
        let mut interrupted = false;
        let mut failure: Option<PyErr> = None;
        loop {
            let waiting = &mut done;
            let news = py.detach(move || waiting.recv_timeout(POLL));
            let leaving = interrupted || failure.is_some();
            let keeps = |error: &PyErr| {
                self.on_interrupt == OnInterrupt::Keep
                    && error.is_instance_of::<PyKeyboardInterrupt>(py)
            };
            if let Err(error) = py.check_signals() {
                control.stop();
                if leaving || !keeps(&error) {
                    return Err(error);
                }
                interrupted = true;
            }
            let listening = failure.is_none() && !interrupted;
            if let Some(progress) = self.progress.as_ref().filter(|_| listening) {
                match progress.report(py, &events, &mut best) {
                    Ok(false) => {}
                    Ok(true) => control.stop(),
                    // The signal came while the callback ran.
                    Err(error) if keeps(&error) => {
                        control.stop();
                        interrupted = true;
                    }
                    Err(error) => {
                        control.stop();
                        failure = Some(error);
                    }
                }
            }
            match (news, failure.take()) {
                (Err(RecvTimeoutError::Timeout), error) => failure = error,
                (_, Some(error)) => return Err(error),
                (Ok(Ok(value)), None) => return Ok(Answer { value: value?, interrupted }),
                (Ok(Err(panic)), None) => return Err(engine_fault(message(panic.as_ref()))),
                (Err(RecvTimeoutError::Disconnected), None) => {
                    return Err(engine_fault("the workers are gone"));
                }
            }
        }
    }
}

impl Progress {
    /// Hand the waiting events to the callback: improvements on `best`, and else only the newest.
    /// Whether the callback asks to stop.
    pub(super) fn report(
        &self,
        py: Python<'_>,
        events: &Receiver<Event>,
        best: &mut [u64; 3],
    ) -> PyResult<bool> {
        let waiting: Vec<Event> = events.try_iter().collect();
        let mut stop = false;
        for (i, &event) in waiting.iter().enumerate() {
            let better = event.kind == EventKind::Improvement && (self.rank)(&event) < *best;
            if better {
                *best = (self.rank)(&event);
            }
            if better || i + 1 == waiting.len() {
                let reply = self.callback.bind(py).call1((PyEvent::from(event),))?;
                // Any other value, such as what a display returns, is no wish to stop.
                stop |= reply.extract::<bool>().unwrap_or(false);
            }
        }
        Ok(stop)
    }
}

/// What a panic said.
fn message(panic: &(dyn Any + Send)) -> &str {
    panic
        .downcast_ref::<&str>()
        .copied()
        .or_else(|| panic.downcast_ref::<String>().map(String::as_str))
        .unwrap_or("a worker panicked")
}
