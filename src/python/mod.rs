//! The Python bindings: the one module that may name pyo3 or numpy.
//!
//! Nothing is decided here: values are checked and shaped in `python/sidon`, answers are found in
//! the engine. Every call that may take long goes through [`door`].

mod arrays;
mod check;
mod door;
mod errors;
mod hits;
mod largest;
mod outcome;
mod problem;
mod rows;
mod session;
mod solve;
mod state;
mod text;

/// The engine of sidon; use the functions of the package `sidon` instead.
#[pyo3::pymodule]
mod _engine {
    #[pymodule_export]
    use super::check::check;
    #[pymodule_export]
    use super::hits::{hit_counts, hits};
    #[pymodule_export]
    use super::largest::{PySetOutcome, largest_set};
    #[pymodule_export]
    use super::outcome::{PyEvent, PyOutcome, PyTrace};
    #[pymodule_export]
    use super::problem::PyProblem;
    #[pymodule_export]
    use super::session::PySession;
    #[pymodule_export]
    use super::solve::{refusals, solve};
    #[pymodule_export]
    use super::state::PyState;
    #[pymodule_export]
    use super::text::{
        canonical_form, form_of_coefficients, format_frequency, parse_frequency, versions,
    };
}
