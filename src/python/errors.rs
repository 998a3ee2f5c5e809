//! How the engine's errors become Python exceptions.

use pyo3::prelude::*;
use pyo3::types::PyTuple;
use pyo3::{PyErrArguments, import_exception};

use crate::error::{Error, Fault};

import_exception!(sidon.exceptions, SidonError);
import_exception!(sidon.exceptions, InvalidProblemError);
import_exception!(sidon.exceptions, MoveError);
import_exception!(sidon.exceptions, TooLargeError);
import_exception!(sidon.exceptions, UnreadableError);

/// The argument of `InvalidProblemError`: a tuple of `sidon.exceptions.Fault`.
struct Faults(Vec<Fault>);

impl Faults {
    fn to_python(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        let class = py.import("sidon.exceptions")?.getattr("Fault")?;
        let faults = self
            .0
            .iter()
            .map(|fault| class.call1((&fault.place, &fault.what, &fault.remedy)))
            .collect::<PyResult<Vec<_>>>()?;
        Ok((PyTuple::new(py, faults)?,).into_pyobject(py)?.into_any().unbind())
    }
}

impl PyErrArguments for Faults {
    fn arguments(self, py: Python<'_>) -> Py<PyAny> {
        // Without the package around the extension there is no `Fault`; the failure to find it is
        // then the argument, which is as much as can be said.
        self.to_python(py).unwrap_or_else(|error| error.into_value(py).into_any())
    }
}

impl From<Error> for PyErr {
    fn from(error: Error) -> Self {
        match error {
            Error::Invalid(faults) => InvalidProblemError::new_err(Faults(faults)),
            Error::Unreadable { what, why, remedy } => {
                UnreadableError::new_err((what, why, remedy))
            }
            Error::TooLarge { what, why, remedy } => TooLargeError::new_err((what, why, remedy)),
        }
    }
}

/// A fault of the engine itself: nothing the caller did, nothing the caller can mend.
pub(super) fn engine_fault(why: &str) -> PyErr {
    SidonError::new_err(format!(
        "engine fault: {why}; this is a defect in sidon, please report it with the input"
    ))
}
