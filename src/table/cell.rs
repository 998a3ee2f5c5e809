//! One mixing group's histograms on its raster, moved by [`super::recurrence`].

use pulp::Arch;

use super::HARD;
use super::kernel::{Count, weigh};
use super::raster::{Run, Seat};
use super::recurrence::{Key, Op, Part, Recurrence, Use};

/// Dense additions are worth it from this many entries of the destination per entry added singly: one
/// vector instruction takes eight, and needs no address of its own.
const DENSE: usize = 12;

/// One carrier in a histogram of single carriers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Point<T> {
    centre: i64,
    half_width: i64,
    factor: T,
}

/// A histogram laid out by residue of the sum modulo the stride, so that every access is contiguous.
#[derive(Debug, Clone)]
struct Histogram<T> {
    stride: i64,
    /// For each residue: sum of the first entry divided by the stride, and the counts; empty if unused.
    residues: Vec<(i64, Vec<T>)>,
    /// Set for single carriers: few entries, which are cheaper to add one by one.
    points: Option<Vec<Point<T>>>,
    /// Entries that the points take.
    spread: usize,
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
        let points = (key.size() == 1).then(Vec::new);
        Self { stride, residues, points, spread: 0 }
    }

    /// Add `factor` on every sum within `half_width` of `centre`.
    fn spread(&mut self, centre: i64, half_width: i64, factor: T) {
        let low = centre - half_width;
        let (mut turn, mut residue) = if self.stride == 1 {
            (low, 0)
        } else {
            (low.div_euclid(self.stride), low.rem_euclid(self.stride))
        };
        for _ in 0..=2 * half_width {
            let (first, counts) = &mut self.residues[residue as usize];
            let at = turn - *first;
            if let Some(count) = usize::try_from(at).ok().and_then(|at| counts.get_mut(at)) {
                *count = count.plus(factor);
            }
            residue += 1;
            if residue == self.stride {
                (turn, residue) = (turn + 1, 0);
            }
        }
    }

    /// One carrier comes on or goes off.
    fn point(&mut self, centre: i64, half_width: i64, factor: T, on: bool) {
        self.spread(centre, half_width, if on { factor } else { factor.negated() });
        let point = Point { centre, half_width, factor };
        let width = 2 * half_width as usize + 1;
        if let Some(points) = &mut self.points {
            if on {
                points.push(point);
                self.spread += width;
            } else if let Some(at) = points.iter().rposition(|&other| other == point) {
                points.swap_remove(at);
                self.spread -= width;
            }
        }
    }

    /// The entries of a source one by one, where that is cheaper than adding it whole.
    fn sparse<'s>(&self, src: &'s Self) -> Option<&'s [Point<T>]> {
        let len: usize = self.residues.iter().map(|(_, counts)| counts.len()).sum();
        src.points.as_deref().filter(|_| src.spread * DENSE < len)
    }

    /// Add `factor` times `src` moved up by `shift`.
    fn add_shifted(&mut self, arch: Arch, src: &Self, shift: i64, factor: T) {
        if let Some(points) = self.sparse(src) {
            for point in points {
                self.spread(point.centre + shift, point.half_width, point.factor.mul(factor));
            }
            return;
        }
        for r in 0..self.residues.len() {
            let (counts, low, high) = self.overlap(r, src, shift);
            let dst = &mut self.residues[r].1;
            if low < high {
                T::add(arch, &mut dst[low..high], counts, factor);
            }
        }
    }

    /// Add `factor` times two sources, each moved up by its shift: one pass where they overlap.
    fn add_two(&mut self, arch: Arch, [(a, by_a), (b, by_b)]: [(&Self, i64); 2], factor: T) {
        if self.sparse(a).is_some() || self.sparse(b).is_some() {
            self.add_shifted(arch, a, by_a, factor);
            self.add_shifted(arch, b, by_b, factor);
            return;
        }
        for r in 0..self.residues.len() {
            let (a, a_low, a_high) = self.overlap(r, a, by_a);
            let (b, b_low, b_high) = self.overlap(r, b, by_b);
            let dst = &mut self.residues[r].1;
            let (low, high) = (a_low.max(b_low), a_high.min(b_high));
            if low >= high {
                T::add(arch, &mut dst[a_low..a_high.max(a_low)], a, factor);
                T::add(arch, &mut dst[b_low..b_high.max(b_low)], b, factor);
                continue;
            }
            T::add_two(arch, &mut dst[low..high], &a[low - a_low..], &b[low - b_low..], factor);
            for (counts, from, to) in [(a, a_low, a_high), (b, b_low, b_high)] {
                T::add(arch, &mut dst[from..low], counts, factor);
                T::add(arch, &mut dst[high..to], &counts[high - from..], factor);
            }
        }
    }

    /// What of `src`, moved up by `shift`, falls on residue `r` here, and where; empty where nothing does.
    fn overlap<'s>(&self, r: usize, src: &'s Self, shift: i64) -> (&'s [T], usize, usize) {
        let (first, counts) = &self.residues[r];
        let from = (r as i64 - shift).rem_euclid(self.stride);
        let turn = (r as i64 - shift - from) / self.stride;
        let (src_first, src_counts) = &src.residues[from as usize];
        // Entry k here takes entry k + turn there.
        let low = (*first).max(src_first - turn);
        let high = (*first + counts.len() as i64).min(src_first - turn + src_counts.len() as i64);
        if low >= high {
            return (&[], 0, 0);
        }
        let start = (low + turn - src_first) as usize;
        let counts = &src_counts[start..start + (high - low) as usize];
        (counts, (low - first) as usize, (high - first) as usize)
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
        run(&mut self.histograms, arch, self.plan.ops[class].iter().copied(), seat, 1);
    }

    /// A carrier of `class` goes off.
    pub(super) fn lift(&mut self, arch: Arch, class: usize, seat: Seat) {
        run(&mut self.histograms, arch, self.plan.ops[class].iter().rev().copied(), seat, -1);
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
        // Hard rules are added up in the narrow type and brought into the row once.
        let (hard, soft): (Vec<Use>, Vec<Use>) = uses.iter().partition(|u| u.weight % HARD == 0);
        let longest = runs.iter().filter(|run| run.step == 1).map(|run| run.len).max().unwrap_or(0);
        let mut sums = vec![T::default(); if hard.len() > 1 { longest } else { 0 }];
        for run in runs {
            let row = &mut row[run.start..run.start + run.len];
            let mut apart = |read: &Use| {
                let counts = self.histograms[read.histogram].read();
                weigh(arch, row, &counts[run.position..], run.step, sign * read.weight);
            };
            soft.iter().for_each(&mut apart);
            if run.step > 1 || hard.len() < 2 {
                hard.iter().for_each(&mut apart);
                continue;
            }
            let sums = &mut sums[..run.len];
            sums.fill(T::default());
            for read in &hard {
                let counts = self.histograms[read.histogram].read();
                T::add(arch, sums, &counts[run.position..], T::from_i64(read.weight / HARD));
            }
            weigh(arch, row, sums, 1, sign * HARD);
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

    /// The ways in which a carrier of `class` takes part in any hit there.
    pub(super) fn parts(&self, class: usize, seat: Seat) -> Vec<Part> {
        let parts = self.plan.parts[class].iter().copied();
        parts.filter(|part| self.sum(&[part.read], seat) != 0).collect()
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

/// Apply moves in order, two at a time where two go to one histogram.
fn run<T: Count>(
    histograms: &mut [Histogram<T>],
    arch: Arch,
    ops: impl Iterator<Item = Op>,
    seat: Seat,
    sign: i64,
) {
    let mut ops = ops.peekable();
    while let Some(op) = ops.next() {
        let single = |op: &Op| {
            let mut positions = seat.positions(op.offset);
            positions.next().filter(|_| positions.next().is_none())
        };
        let pair = |next: &Op| {
            let fits = next.dst == op.dst && next.factor == op.factor;
            fits && next.src.is_some() && single(next).is_some()
        };
        if let (Some(a), Some(by_a)) = (op.src, single(&op))
            && let Some(next) = ops.next_if(pair)
            && let (Some(b), Some(by_b)) = (next.src, single(&next))
        {
            let (upper, lower) = histograms.split_at_mut(op.dst + 1);
            let from = |src: usize| &lower[src - op.dst - 1];
            let factor = T::from_i64(sign * op.factor);
            upper[op.dst].add_two(arch, [(from(a), by_a), (from(b), by_b)], factor);
        } else {
            apply(histograms, arch, op, seat, sign);
        }
    }
}

fn apply<T: Count>(histograms: &mut [Histogram<T>], arch: Arch, op: Op, seat: Seat, sign: i64) {
    let factor = T::from_i64(sign * op.factor);
    for shift in seat.positions(op.offset) {
        match op.src {
            None => {
                let factor = T::from_i64(op.factor);
                histograms[op.dst].point(shift, op.half_width, factor, sign > 0);
            }
            Some(src) => {
                // A source tuple is smaller than its destination, so it stands later in the list.
                let (upper, lower) = histograms.split_at_mut(op.dst + 1);
                upper[op.dst].add_shifted(arch, &lower[src - op.dst - 1], shift, factor);
            }
        }
    }
}
