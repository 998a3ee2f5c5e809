//! One mixing group's histograms on its raster, moved by [`super::recurrence`].

use pulp::Arch;

use super::kernel::{Count, weigh};
use super::raster::{Run, Seat};
use super::recurrence::{Key, Op, Recurrence, Use};

/// A histogram laid out by residue of the sum modulo the stride, so that every access is contiguous.
#[derive(Debug, Clone)]
struct Histogram<T> {
    stride: i64,
    /// For each residue: sum of the first entry divided by the stride, and the counts; empty if unused.
    residues: Vec<(i64, Vec<T>)>,
}

impl<T: Count> Histogram<T> {
    fn new(key: &Key, (low, high): (i64, i64), read_only: bool) -> Self {
        let stride = key.stride;
        let residues = (0..stride)
            .map(|r| {
                let first =
                    (low - r).div_euclid(stride) + i64::from((low - r).rem_euclid(stride) > 0);
                let last = (high - r).div_euclid(stride);
                let len = if read_only && r > 0 { 0 } else { (last - first + 1).max(0) };
                (first, vec![T::default(); len as usize])
            })
            .collect();
        Self { stride, residues }
    }

    /// Add `factor` on every sum within `half_width` of `centre`.
    fn spread(&mut self, centre: i64, half_width: i64, factor: T) {
        for sum in centre - half_width..=centre + half_width {
            let (first, counts) = &mut self.residues[sum.rem_euclid(self.stride) as usize];
            let at = sum.div_euclid(self.stride) - *first;
            if let Some(count) = usize::try_from(at).ok().and_then(|at| counts.get_mut(at)) {
                *count = count.plus(factor);
            }
        }
    }

    /// Add `factor` times `src` moved up by `shift`.
    fn add_shifted(&mut self, arch: Arch, src: &Self, shift: i64, factor: T) {
        for (r, (first, counts)) in self.residues.iter_mut().enumerate() {
            let from = (r as i64 - shift).rem_euclid(self.stride);
            let turn = (r as i64 - shift - from) / self.stride;
            let (src_first, src_counts) = &src.residues[from as usize];
            // Entry k here takes entry k + turn there.
            let low = (*first).max(src_first - turn);
            let high =
                (*first + counts.len() as i64).min(src_first - turn + src_counts.len() as i64);
            if low < high {
                let dst = &mut counts[(low - *first) as usize..(high - *first) as usize];
                let start = (low + turn - src_first) as usize;
                T::add(arch, dst, &src_counts[start..start + (high - low) as usize], factor);
            }
        }
    }

    /// The counts at `stride * f` for `f` from 0 upwards.
    fn read(&self) -> &[T] {
        let (first, counts) = &self.residues[0];
        &counts[(-first) as usize..]
    }
}

/// A mixing group at work. Classes are numbered as in the group.
#[derive(Debug, Clone)]
pub(super) struct Cell<T> {
    plan: Recurrence,
    histograms: Vec<Histogram<T>>,
}

impl<T: Count> Cell<T> {
    pub(super) fn new(plan: Recurrence) -> Self {
        let histograms = plan
            .keys
            .iter()
            .zip(&plan.ranges)
            .enumerate()
            .map(|(i, (key, &range))| {
                let read_only = !plan.ops.iter().flatten().any(|op| op.src == Some(i));
                Histogram::new(key, range, read_only)
            })
            .collect();
        Self { plan, histograms }
    }

    /// A carrier of `class` comes on.
    pub(super) fn place(&mut self, arch: Arch, class: usize, seat: Seat) {
        for &op in &self.plan.ops[class] {
            apply(&mut self.histograms, arch, op, seat, op.factor);
        }
    }

    /// A carrier of `class` goes off.
    pub(super) fn lift(&mut self, arch: Arch, class: usize, seat: Seat) {
        for &op in self.plan.ops[class].iter().rev() {
            apply(&mut self.histograms, arch, op, seat, -op.factor);
        }
    }

    /// Add `sign` times the cost of one more carrier of `class` to `row`, whose entries lie on `runs`.
    pub(super) fn add_row(
        &self,
        arch: Arch,
        class: usize,
        sign: i64,
        runs: &[Run],
        row: &mut [i64],
    ) {
        self.add_uses(arch, &self.plan.uses[class], sign, runs, row);
    }

    /// The same, as a victim only.
    pub(super) fn add_victim_row(
        &self,
        arch: Arch,
        class: usize,
        sign: i64,
        runs: &[Run],
        row: &mut [i64],
    ) {
        self.add_uses(arch, &self.plan.as_victim[class], sign, runs, row);
    }

    fn add_uses(&self, arch: Arch, uses: &[Use], sign: i64, runs: &[Run], row: &mut [i64]) {
        for read in uses {
            let counts = self.histograms[read.histogram].read();
            for run in runs {
                let row = &mut row[run.start..run.start + run.len];
                weigh(arch, row, &counts[run.position..], run.step, sign * read.weight);
            }
        }
    }

    /// The cost of one more carrier of `class`.
    pub(super) fn cost(&self, class: usize, seat: Seat) -> i64 {
        self.sum(&self.plan.uses[class], seat)
    }

    /// The same, as a victim only.
    pub(super) fn victim_cost(&self, class: usize, seat: Seat) -> i64 {
        self.sum(&self.plan.as_victim[class], seat)
    }

    fn sum(&self, uses: &[Use], seat: Seat) -> i64 {
        uses.iter().fold(0, |sum: i64, read| {
            let counts = self.histograms[read.histogram].read();
            seat.positions(read.multiple).fold(sum, |sum, at| {
                sum.wrapping_add(read.weight.wrapping_mul(counts[at as usize].to_i64()))
            })
        })
    }
}

fn apply<T: Count>(histograms: &mut [Histogram<T>], arch: Arch, op: Op, seat: Seat, factor: i64) {
    let factor = T::from_i64(factor);
    for shift in seat.positions(op.offset) {
        match op.src {
            None => histograms[op.dst].spread(shift, op.half_width, factor),
            Some(src) => {
                // A source tuple is smaller than its destination, so it stands later in the list.
                let (upper, lower) = histograms.split_at_mut(op.dst + 1);
                upper[op.dst].add_shifted(arch, &lower[src - op.dst - 1], shift, factor);
            }
        }
    }
}
