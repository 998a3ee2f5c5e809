//! The door without a search behind it: work that waits, fails or panics on purpose.

#![allow(clippy::unwrap_used, reason = "a test may fail")]

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use pyo3::ffi::c_str;
use pyo3::types::PyDict;

use super::*;
use crate::error::{Error, Fault};

/// Run with an interpreter that finds the exceptions of the package and handles interrupts.
///
/// Signals reach the thread that made the interpreter, so everything here is one test.
fn with_python(body: impl FnOnce(Python<'_>)) {
    Python::initialize();
    Python::attach(|py| {
        let globals = PyDict::new(py);
        globals.set_item("folder", concat!(env!("CARGO_MANIFEST_DIR"), "/python/sidon")).unwrap();
        let code = c_str!(
            "import sys, types, signal\n\
             package = types.ModuleType('sidon')\n\
             package.__path__ = [folder]\n\
             sys.modules['sidon'] = package\n\
             signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        );
        py.run(code, Some(&globals), None).unwrap();
        body(py);
    });
}

fn interrupt(py: Python<'_>) {
    py.import("_thread").unwrap().call_method0("interrupt_main").unwrap();
}

fn keeping(callback: Option<Py<PyAny>>) -> Door {
    let rank: fn(&Event) -> [u64; 3] = |event| [event.hard, event.unserved, event.soft];
    let progress = callback.map(|callback| Progress { callback, rank });
    Door { threads: Some(1), on_interrupt: OnInterrupt::Keep, progress }
}

/// Wait until a stop is asked for; gives up long after any test should have asked.
fn wait_for_stop(control: &Control) -> bool {
    let start = Instant::now();
    while !control.stopped() && start.elapsed() < Duration::from_secs(30) {
        std::thread::sleep(Duration::from_millis(1));
    }
    control.stopped()
}

fn event(kind: EventKind) -> Event {
    Event {
        time_s: 0.5,
        iteration: 7,
        restart: 1,
        kind,
        refused: 0,
        unserved: 0,
        hard: 0,
        soft: 0,
        bound: 0,
        objective: None,
        evaluations: 0,
    }
}

#[test]
fn the_door() {
    with_python(|py| {
        answers_pass(py);
        the_pool_is_of_the_size_asked(py);
        errors_keep_their_kind(py);
        panics_become_errors(py);
        an_interrupt_keeps_the_answer(py);
        an_interrupt_raises_where_there_is_no_partial_answer(py);
        a_second_interrupt_leaves_at_once(py);
        a_callback_hears_of_improvements_and_the_newest(py);
        a_callback_stops_by_returning_true(py);
        an_interrupt_inside_the_callback_keeps_the_answer(py);
        a_callback_that_raises_ends_the_run(py);
    });
}

fn answers_pass(py: Python<'_>) {
    let answer = Door::plain(Some(1)).enter(py, |_| Ok(42)).unwrap();
    assert_eq!((answer.value, answer.interrupted), (42, false));
}

fn the_pool_is_of_the_size_asked(py: Python<'_>) {
    let answer = Door::plain(Some(3)).enter(py, |_| Ok(rayon::current_num_threads())).unwrap();
    assert_eq!(answer.value, 3);
}

fn errors_keep_their_kind(py: Python<'_>) {
    let faults = vec![Fault::new("links[3]", "it is wrong", "mend it")];
    let error = Door::plain(Some(1)).enter::<(), _>(py, |_| Err(Error::Invalid(faults)));
    let error = error.unwrap_err();
    assert!(error.is_instance_of::<super::super::errors::InvalidProblemError>(py));
    assert!(error.is_instance_of::<pyo3::exceptions::PyValueError>(py));
    assert!(error.to_string().ends_with("links[3]: it is wrong; mend it"));
}

fn panics_become_errors(py: Python<'_>) {
    let error = Door::plain(Some(1)).enter::<(), _>(py, |_| panic!("an invariant broke"));
    let error = error.unwrap_err();
    assert!(error.is_instance_of::<super::super::errors::SidonError>(py));
    assert!(error.to_string().contains("engine fault: an invariant broke"));
}

fn an_interrupt_keeps_the_answer(py: Python<'_>) {
    interrupt(py);
    let answer = keeping(None).enter(py, |control| Ok(wait_for_stop(control))).unwrap();
    assert_eq!((answer.value, answer.interrupted), (true, true));
}

fn an_interrupt_raises_where_there_is_no_partial_answer(py: Python<'_>) {
    interrupt(py);
    let error = Door::plain(Some(1)).enter(py, |control| Ok(wait_for_stop(control)));
    assert!(error.unwrap_err().is_instance_of::<PyKeyboardInterrupt>(py));
}

fn a_second_interrupt_leaves_at_once(py: Python<'_>) {
    let release = Arc::new(AtomicBool::new(false));
    let released = Arc::clone(&release);
    interrupt(py);
    let result = keeping(None).enter(py, move |control| {
        wait_for_stop(control);
        Python::attach(interrupt);
        // Deaf to the stop flag, as an engine in trouble would be.
        let start = Instant::now();
        while !released.load(Ordering::Relaxed) && start.elapsed() < Duration::from_secs(30) {
            std::thread::sleep(Duration::from_millis(1));
        }
        Ok(())
    });
    release.store(true, Ordering::Relaxed);
    assert!(result.unwrap_err().is_instance_of::<PyKeyboardInterrupt>(py));
}

fn a_callback_hears_of_improvements_and_the_newest(py: Python<'_>) {
    let code = c_str!("lambda event: seen.append((event.kind, event.refused))");
    let globals = PyDict::new(py);
    globals.set_item("seen", pyo3::types::PyList::empty(py)).unwrap();
    let callback = py.eval(code, Some(&globals), None).unwrap().unbind();
    let answer = keeping(Some(callback)).enter(py, |control| {
        for (kind, refused) in [
            (EventKind::Improvement, 3),
            (EventKind::Improvement, 5), // none on the 3 before
            (EventKind::Progress, 1),
            (EventKind::Improvement, 2),
            (EventKind::Progress, 4),
        ] {
            control.send(Event { refused, unserved: refused, ..event(kind) });
        }
        Ok(())
    });
    assert!(!answer.unwrap().interrupted);
    let seen: Vec<(String, u64)> = globals.get_item("seen").unwrap().unwrap().extract().unwrap();
    assert_eq!(seen.first(), Some(&("improvement".into(), 3)));
    assert!(seen.contains(&("improvement".into(), 2)));
    assert_eq!(seen.last(), Some(&("progress".into(), 4)));
}

fn a_callback_stops_by_returning_true(py: Python<'_>) {
    let callback = py.eval(c_str!("lambda event: True"), None, None).unwrap().unbind();
    let answer = keeping(Some(callback)).enter(py, |control| {
        control.send(event(EventKind::Progress));
        Ok(wait_for_stop(control))
    });
    let answer = answer.unwrap();
    assert_eq!((answer.value, answer.interrupted), (true, false));
}

fn an_interrupt_inside_the_callback_keeps_the_answer(py: Python<'_>) {
    let code = c_str!("lambda event: __import__('signal').raise_signal(2)");
    let callback = py.eval(code, None, None).unwrap().unbind();
    let answer = keeping(Some(callback)).enter(py, |control| {
        control.send(event(EventKind::Progress));
        Ok(wait_for_stop(control))
    });
    let answer = answer.unwrap();
    assert_eq!((answer.value, answer.interrupted), (true, true));
}

fn a_callback_that_raises_ends_the_run(py: Python<'_>) {
    let callback = py.eval(c_str!("lambda event: {}['missing']"), None, None).unwrap().unbind();
    let result = keeping(Some(callback)).enter(py, |control| {
        control.send(event(EventKind::Improvement));
        Ok(wait_for_stop(control))
    });
    assert!(result.unwrap_err().is_instance_of::<pyo3::exceptions::PyKeyError>(py));
}
