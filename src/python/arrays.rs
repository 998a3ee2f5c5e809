//! How columns cross the boundary: owned copies in, moved buffers out, with their types in the stub.

use numpy::{Element, IntoPyArray, PyArray1, PyReadonlyArray1};
use pyo3::inspect::PyStaticExpr;
use pyo3::prelude::*;
use pyo3::{type_hint_identifier, type_hint_subscript};

/// A number that numpy holds, and the name of its type there.
pub(super) trait Number: Element + Copy {
    /// The name in numpy.
    const NAME: PyStaticExpr;
}

impl Number for i64 {
    const NAME: PyStaticExpr = type_hint_identifier!("numpy", "int64");
}

impl Number for u64 {
    const NAME: PyStaticExpr = type_hint_identifier!("numpy", "uint64");
}

impl Number for f64 {
    const NAME: PyStaticExpr = type_hint_identifier!("numpy", "float64");
}

/// A one-dimensional numpy array of exactly this type.
#[derive(Debug, Clone)]
pub(super) struct Column<T>(pub(super) Vec<T>);

impl<'py, T: Number> IntoPyObject<'py> for Column<T> {
    type Target = PyArray1<T>;
    type Output = Bound<'py, Self::Target>;
    type Error = std::convert::Infallible;

    const OUTPUT_TYPE: PyStaticExpr =
        type_hint_subscript!(type_hint_identifier!("numpy.typing", "NDArray"), T::NAME);

    fn into_pyobject(self, py: Python<'py>) -> Result<Self::Output, Self::Error> {
        Ok(self.0.into_pyarray(py))
    }
}

impl<'a, 'py, T: Number> FromPyObject<'a, 'py> for Column<T> {
    type Error = PyErr;

    const INPUT_TYPE: PyStaticExpr =
        type_hint_subscript!(type_hint_identifier!("numpy.typing", "NDArray"), T::NAME);

    // A copy: Python may write to the array while the engine reads it.
    fn extract(obj: Borrowed<'a, 'py, PyAny>) -> PyResult<Self> {
        let array: PyReadonlyArray1<'_, T> = obj.extract()?;
        Ok(Self(array.as_array().to_vec()))
    }
}

/// A one-dimensional numpy array that several hold, such as a view of a row.
#[derive(Debug)]
pub(super) struct Shared<T>(pub(super) Py<PyArray1<T>>);

impl<'py, T: Number> IntoPyObject<'py> for Shared<T> {
    type Target = PyArray1<T>;
    type Output = Bound<'py, Self::Target>;
    type Error = std::convert::Infallible;

    const OUTPUT_TYPE: PyStaticExpr = Column::<T>::OUTPUT_TYPE;

    fn into_pyobject(self, py: Python<'py>) -> Result<Self::Output, Self::Error> {
        Ok(self.0.into_bound(py))
    }
}
