//! Frequencies as text, and what this build is.

use std::collections::BTreeMap;

use pyo3::prelude::*;

use crate::frequency;
use crate::product::Form;

/// Read a frequency exactly; see `sidon.parse_frequency`.
#[pyfunction]
pub(super) fn parse_frequency(text: &str) -> PyResult<i64> {
    Ok(frequency::parse_hz(text)?)
}

/// Print a frequency exactly; see `sidon.format_frequency`.
#[pyfunction]
pub(super) fn format_frequency(hertz: i64) -> String {
    frequency::format_mhz(hertz)
}

/// A product form in canonical order: positive coefficients first, larger ones before smaller.
#[pyfunction]
pub(super) fn canonical_form(text: &str) -> PyResult<String> {
    Ok(text.parse::<Form>()?.to_string())
}

/// The product form with these coefficients, in canonical order.
#[pyfunction]
pub(super) fn form_of_coefficients(coefficients: Vec<i64>) -> PyResult<String> {
    // What does not fit is far above any order that a form may have.
    let clamp = |m: i64| m.clamp(i64::from(i16::MIN), i64::from(i16::MAX)) as i32;
    let narrow: Vec<i32> = coefficients.into_iter().map(clamp).collect();
    Ok(Form::new(&narrow)?.to_string())
}

/// The version of the engine, and whether it was built for release.
#[pyfunction]
pub(super) fn versions() -> BTreeMap<&'static str, &'static str> {
    let build = if cfg!(debug_assertions) { "debug" } else { "release" };
    BTreeMap::from([("sidon", env!("CARGO_PKG_VERSION")), ("build", build)])
}
