//! Rows written into a buffer of the caller's, for readers that keep them outside the table.

use super::Table;

impl Table {
    /// Write what one more link like `link` would cost on each of its candidates into `row`.
    ///
    /// The same values as [`Table::row`], with no copy kept here. O(candidates).
    ///
    /// # Panics
    /// When `link` is out of range, or `row` is not as long as its candidates.
    pub fn write_row(&self, link: usize, row: &mut [i64]) {
        self.write_class_row(self.problem.class_of[link], row);
    }

    /// The same by class.
    pub(super) fn write_class_row(&self, class: usize, row: &mut [i64]) {
        let flat = self.flat[class];
        assert_eq!(row.len(), self.base[class].len(), "one entry per candidate");
        row.iter_mut().zip(&self.base[class]).for_each(|(entry, base)| *entry = base + flat);
        for &i in &self.cells_of[class] {
            let candidates = &self.problem.candidates_hz[self.problem.classes[class].domain];
            self.cells[i].add_row(self.arch, class, candidates, false, row);
        }
    }
}
