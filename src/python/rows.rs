//! Rows of the cost table in numpy arrays that are read in place and never change under a reader.
//!
//! Each class has two buffers. The engine writes a row only into a buffer that nobody but this store
//! holds, judged by the reference counts of the array and of what is handed out; with both held it
//! takes a new one. So a loop that reads, moves and reads again goes back and forth between the two
//! without an allocation, and a view that is kept stays as it was.

use numpy::{PyArray1, PyArrayMethods};
use pyo3::prelude::*;
use pyo3::types::{IntoPyDict, PyMemoryView};

use crate::table::Table;

/// An array, and the view of it that is handed out.
#[derive(Debug)]
pub(super) struct Buffer {
    owner: Py<PyArray1<i64>>,
    /// What the view stands on.
    base: Py<PyAny>,
    view: Py<PyArray1<i64>>,
    /// References to each when nobody outside holds any.
    rest: [isize; 3],
}

impl Buffer {
    /// A buffer of zeros. Calls Python: no lock may be held.
    pub(super) fn new(py: Python<'_>, length: usize) -> PyResult<Self> {
        let owner = PyArray1::from_vec(py, vec![0; length]);
        // Seen through a read-only memory view, the array lets nobody make its views writeable.
        let memory = PyMemoryView::from(owner.as_any())?.call_method0("toreadonly")?;
        let keywords = [("dtype", "int64")].into_py_dict(py)?;
        let view = py
            .import("numpy")?
            .getattr("frombuffer")?
            .call((memory,), Some(&keywords))?
            .cast_into::<PyArray1<i64>>()?;
        let base = view.getattr("base")?.unbind();
        let (owner, view) = (owner.unbind(), view.unbind());
        let mut buffer = Self { owner, base, view, rest: [0; 3] };
        buffer.rest = buffer.references(py);
        Ok(buffer)
    }

    /// Whether nobody outside can read this buffer. Slices of the view hold the view.
    fn at_rest(&self, py: Python<'_>) -> bool {
        self.references(py) == self.rest
    }

    #[expect(deprecated, reason = "the successor needs unsafe code, which this crate forbids")]
    fn references(&self, py: Python<'_>) -> [isize; 3] {
        [self.owner.get_refcnt(py), self.base.get_refcnt(py), self.view.get_refcnt(py)]
    }
}

/// The rows of one class.
#[derive(Debug, Default)]
pub(super) struct Rows {
    buffers: [Option<Buffer>; 2],
    /// The buffer written last.
    current: usize,
    /// Whether it still is the row.
    fresh: bool,
}

impl Rows {
    /// The row has changed.
    pub(super) fn expire(&mut self) {
        self.fresh = false;
    }

    /// A view of the row of `link`, written anew if it has changed; none when a buffer is wanting.
    pub(super) fn view(
        &mut self,
        py: Python<'_>,
        table: &Table,
        link: usize,
    ) -> Option<Py<PyArray1<i64>>> {
        if !self.fresh {
            let mut slots = [1 - self.current, self.current].into_iter();
            self.current = slots.find(|&slot| self.write(py, slot, table, link))?;
            self.fresh = true;
        }
        self.buffers[self.current].as_ref().map(|buffer| buffer.view.clone_ref(py))
    }

    /// Write the row into one slot, unless someone can read it there.
    fn write(&self, py: Python<'_>, slot: usize, table: &Table, link: usize) -> bool {
        let Some(buffer) = self.buffers[slot].as_ref().filter(|buffer| buffer.at_rest(py)) else {
            return false;
        };
        let Ok(mut array) = buffer.owner.bind(py).try_readwrite() else { return false };
        let Ok(row) = array.as_slice_mut() else { return false };
        table.write_row(link, row);
        true
    }

    /// Take a new buffer in; the one it replaces stays with those who hold it.
    pub(super) fn put(&mut self, buffer: Buffer) -> Option<Buffer> {
        self.buffers[1 - self.current].replace(buffer)
    }
}
