//! The one cost table: what it would cost to put one more link of a class on each of its frequencies.
//!
//! Every method reads rows and calls [`Table::place`] and [`Table::lift`]; a move costs a few vector adds
//! of the raster's length, however many carriers are on the air (see `recurrence.rs`).

mod cell;
mod conflicts;
mod kernel;
mod mixing;
mod near;
mod raster;
mod recurrence;
mod refusal;
mod rows;
#[cfg(test)]
#[path = "../../tests/rust/unit/table.rs"]
mod tests;

use std::sync::Arc;

use pulp::Arch;

use self::cell::Cell;
use self::near::Distances;
use self::raster::{GroupRaster, Run, Seat};
use self::recurrence::{Chain, Part, Role};
use crate::error::Result;
use crate::problem::compile::Compiled;
use crate::problem::{Problem, Relation};

pub use crate::problem::compile::HARD;
pub use refusal::{Refusal, why_refused};

/// The cost of a barred candidate: more than all rules together.
pub(crate) const BAR: i64 = 1 << 56;

/// The cost table of a problem, and the plan it stands for.
///
/// Costs are hard violations times [`HARD`], plus soft cost.
///
/// ```
/// use sidon::problem::Problem;
/// use sidon::table::{HARD, Table};
/// let problem: Problem = serde_json::from_str(r#"{
///     "profiles": [{"name": "hand-held", "separation_hz": 2, "guards": [{"form": "2A-B", "guard_hz": 1}]}],
///     "zones": ["stage"],
///     "domains": [{"frequencies": [0, 2, 4, 6]}],
///     "links": [{"id": "a", "profile": 0, "zone": 0, "domain": 0},
///               {"id": "b", "profile": 0, "zone": 0, "domain": 0},
///               {"id": "c", "profile": 0, "zone": 0, "domain": 0}]}"#)?;
/// let mut table = Table::new(&problem)?;
/// table.place(0, 0);
/// table.place(1, 1);
/// // On 4 the third link is hit by 2A-B and makes one on the first; on 6 it is clean.
/// assert_eq!(table.row(2), [HARD, HARD, 2 * HARD, 0]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Table {
    problem: Arc<Compiled>,
    distances: Arc<Distances>,
    arch: Arch,
    /// Per class and candidate: own cost, separations, pair rules.
    base: Vec<Vec<i64>>,
    /// Per class: cost of `Exactly` rules that holds at every candidate but one.
    flat: Vec<i64>,
    cells: Vec<Mixing>,
    /// Per class: its cells.
    cells_of: Vec<Vec<usize>>,
    /// Per class: the classes whose rows a move changes.
    touched: Vec<Vec<usize>>,
    rows: Vec<Vec<i64>>,
    stale: Vec<bool>,
    choice: Vec<Option<usize>>,
    total: i64,
    evaluations: u64,
}

/// A mixing group's cell with its raster and its classes' candidates on it.
#[derive(Debug, Clone)]
struct Mixing {
    counts: Counts,
    raster: GroupRaster,
    sign: i64,
    maximal: bool,
    classes: Vec<usize>,
    runs: Vec<Vec<Run>>,
    chains: Vec<Chain>,
    roles: Vec<Role>,
}

/// Counts in 32 bits where they fit.
#[derive(Debug, Clone)]
enum Counts {
    Narrow(Cell<i32>),
    Wide(Cell<i64>),
}

impl Counts {
    fn shift(&mut self, arch: Arch, class: usize, seat: Seat, on: bool) {
        match (self, on) {
            (Self::Narrow(cell), true) => cell.place(arch, class, seat),
            (Self::Narrow(cell), false) => cell.lift(arch, class, seat),
            (Self::Wide(cell), true) => cell.place(arch, class, seat),
            (Self::Wide(cell), false) => cell.lift(arch, class, seat),
        }
    }

    fn cost(&self, class: usize, seat: Seat) -> i64 {
        match self {
            Self::Narrow(cell) => cell.cost(class, seat),
            Self::Wide(cell) => cell.cost(class, seat),
        }
    }

    fn parts(&self, class: usize, seat: Seat) -> Vec<Part> {
        match self {
            Self::Narrow(cell) => cell.parts(class, seat),
            Self::Wide(cell) => cell.parts(class, seat),
        }
    }

    fn victim_cost(&self, class: usize, seat: Seat) -> i64 {
        match self {
            Self::Narrow(cell) => cell.victim_cost(class, seat),
            Self::Wide(cell) => cell.victim_cost(class, seat),
        }
    }

    fn add_row(&self, arch: Arch, class: usize, sign: i64, runs: &[Run], row: &mut [i64]) {
        match self {
            Self::Narrow(cell) => cell.add_row(arch, class, sign, runs, row),
            Self::Wide(cell) => cell.add_row(arch, class, sign, runs, row),
        }
    }

    fn add_victim_row(&self, arch: Arch, class: usize, sign: i64, runs: &[Run], row: &mut [i64]) {
        match self {
            Self::Narrow(cell) => cell.add_victim_row(arch, class, sign, runs, row),
            Self::Wide(cell) => cell.add_victim_row(arch, class, sign, runs, row),
        }
    }
}

impl Mixing {
    fn local(&self, class: usize) -> usize {
        self.classes.binary_search(&class).expect("cells_of lists members only")
    }

    /// What one more carrier of `class` would cost at `hz`.
    fn cost(&self, class: usize, hz: i64) -> i64 {
        let cost = self.counts.cost(self.local(class), self.raster.seat(hz));
        self.sign.wrapping_mul(cost)
    }

    /// Add what one more carrier of `class` would cost, or suffer as a victim, to its row.
    fn add_row(
        &self,
        arch: Arch,
        class: usize,
        candidates_hz: &[i64],
        victim: bool,
        row: &mut [i64],
    ) {
        let local = self.local(class);
        let runs = &self.runs[local];
        if self.roles[local].between {
            for (entry, &hz) in row.iter_mut().zip(candidates_hz) {
                let seat = self.raster.seat(hz);
                let cost = if victim {
                    self.counts.victim_cost(local, seat)
                } else {
                    self.counts.cost(local, seat)
                };
                *entry = entry.wrapping_add(self.sign.wrapping_mul(cost));
            }
        } else if victim {
            self.counts.add_victim_row(arch, local, self.sign, runs, row);
        } else {
            self.counts.add_row(arch, local, self.sign, runs, row);
        }
    }
}

impl Table {
    /// An empty table over a problem. O(links + classes^2 + candidates).
    ///
    /// # Errors
    /// Every fault of the problem, or [`TooLarge`](crate::error::Error::TooLarge) when its rasters would not fit in memory.
    pub fn new(problem: &Problem) -> Result<Self> {
        Self::over(Arc::new(Compiled::new(problem)?))
    }

    /// An empty table over a compiled problem.
    pub(crate) fn over(problem: Arc<Compiled>) -> Result<Self> {
        let candidates =
            |&class: &usize| problem.candidates_hz[problem.classes[class].domain].as_slice();
        let lists: Vec<Vec<&[i64]>> = problem
            .groups
            .iter()
            .map(|group| group.classes.iter().map(candidates).collect())
            .collect();
        let cells = problem
            .groups
            .iter()
            .zip(GroupRaster::of_groups(&lists))
            .map(|(group, raster)| Mixing::new(&problem, group, raster))
            .collect::<Result<Vec<_>>>()?;
        let base: Vec<Vec<i64>> = problem
            .classes
            .iter()
            .map(|class| match class.costs {
                Some(costs) => {
                    problem.source.costs[costs].iter().map(|&cost| i64::from(cost)).collect()
                }
                None => vec![0; problem.candidates_hz[class.domain].len()],
            })
            .collect();
        let n = problem.classes.len();
        let mut cells_of = vec![Vec::new(); n];
        for (i, cell) in cells.iter().enumerate() {
            for &class in &cell.classes {
                cells_of[class].push(i);
            }
        }
        let touched = (0..n)
            .map(|k| {
                let mut all: Vec<usize> = cells_of[k]
                    .iter()
                    .flat_map(|&i| cells[i].classes.iter().copied())
                    .chain(problem.classes[k].neighbours.iter().map(|&(j, _)| j))
                    .chain(problem.classes[k].members.iter().flat_map(|&link| {
                        problem.pairs[link].iter().map(|pair| problem.class_of[pair.other])
                    }))
                    .collect();
                all.sort_unstable();
                all.dedup();
                all
            })
            .collect();
        Ok(Self {
            distances: Arc::new(Distances::new(&problem)),
            arch: Arch::new(),
            rows: base.clone(),
            base,
            flat: vec![0; n],
            cells,
            cells_of,
            touched,
            stale: vec![true; n],
            choice: vec![None; problem.class_of.len()],
            problem,
            total: 0,
            evaluations: 0,
        })
    }

    /// The compiled problem.
    pub(crate) fn problem(&self) -> &Arc<Compiled> {
        &self.problem
    }

    /// The classes whose rows change when a link of `class` moves.
    pub(crate) fn touched(&self, class: usize) -> &[usize] {
        &self.touched[class]
    }

    /// Whether the row of `link` is the same whether or not the link itself is placed.
    pub(crate) fn steady(&self, link: usize) -> bool {
        let class = self.problem.class_of[link];
        self.touched[class].binary_search(&class).is_err()
    }

    /// Make the candidates from `low_hz` to `high_hz` dearer by [`BAR`] for every link, or give them back.
    pub(crate) fn bar(&mut self, low_hz: i64, high_hz: i64, on: bool) {
        let cost = if on { BAR } else { -BAR };
        for (class, base) in self.base.iter_mut().enumerate() {
            let candidates = &self.problem.candidates_hz[self.problem.classes[class].domain];
            let low = candidates.partition_point(|&f| f < low_hz);
            let high = candidates.partition_point(|&f| f <= high_hz).max(low);
            base[low..high].iter_mut().for_each(|entry| *entry += cost);
            self.stale[class] = true;
        }
        // Carriers already there take the charge with them.
        for link in 0..self.choice.len() {
            if self.frequency_hz(link).is_some_and(|hz| (low_hz..=high_hz).contains(&hz)) {
                self.total = self.total.wrapping_add(cost);
            }
        }
    }

    /// Whether a candidate lies where [`Table::bar`] has been.
    pub(crate) fn barred(&self, link: usize, at: usize) -> bool {
        self.base[self.problem.class_of[link]][at] >= BAR / 2
    }

    /// The candidate index of `link`, if it is placed.
    pub fn choice(&self, link: usize) -> Option<usize> {
        self.choice[link]
    }

    /// The frequency of `link`, if it is placed.
    pub fn frequency_hz(&self, link: usize) -> Option<i64> {
        self.choice[link].map(|at| self.candidates_hz(link)[at])
    }

    /// The candidates of `link`.
    pub fn candidates_hz(&self, link: usize) -> &[i64] {
        &self.problem.candidates_hz[self.problem.classes[self.problem.class_of[link]].domain]
    }

    /// The cost of everything placed: hard violations times [`HARD`], plus soft cost.
    pub fn total(&self) -> i64 {
        self.total
    }

    /// Moves made so far.
    pub fn evaluations(&self) -> u64 {
        self.evaluations
    }

    /// Put `link` on its candidate `at`. It must not be placed.
    ///
    /// # Panics
    /// When `link` or `at` is out of range.
    pub fn place(&mut self, link: usize, at: usize) {
        debug_assert!(self.choice[link].is_none(), "link is placed already");
        self.total = self.total.wrapping_add(self.cost(link, at));
        self.choice[link] = Some(at);
        self.shift(link, at, true);
    }

    /// Take `link` off the air; its former candidate.
    pub fn lift(&mut self, link: usize) -> Option<usize> {
        let at = self.choice[link].take()?;
        self.shift(link, at, false);
        self.total = self.total.wrapping_sub(self.cost(link, at));
        Some(at)
    }

    fn shift(&mut self, link: usize, at: usize, on: bool) {
        self.evaluations += 1;
        let class = self.problem.class_of[link];
        let hz = self.problem.candidates_hz[self.problem.classes[class].domain][at];
        for &i in &self.cells_of[class] {
            let mixing = &mut self.cells[i];
            let (local, seat) = (mixing.local(class), mixing.raster.seat(hz));
            mixing.counts.shift(self.arch, local, seat, on);
        }
        let sign = if on { 1 } else { -1 };
        let distances = Arc::clone(&self.distances);
        for near in distances.by_class[class].iter().chain(&distances.by_link[link]) {
            let other = near.other;
            let candidates = &self.problem.candidates_hz[self.problem.classes[other].domain];
            let (low, high) = near.range(at, hz, candidates);
            let cost = sign * near.cost;
            self.base[other][low..high].iter_mut().for_each(|entry| *entry += cost);
        }
        let problem = Arc::clone(&self.problem);
        for pair in &problem.pairs[link] {
            if let Relation::Exactly(distance_hz) = pair.relation {
                let other = problem.class_of[pair.other];
                self.flat[other] += sign * pair.cost;
                self.add_near(other, hz - distance_hz, 1, -sign * pair.cost);
                if distance_hz != 0 {
                    self.add_near(other, hz + distance_hz, 1, -sign * pair.cost);
                }
            }
        }
        for &k in &self.touched[class] {
            self.stale[k] = true;
        }
    }

    /// Add `cost` to the candidates of `class` nearer than `distance_hz` to `hz`.
    fn add_near(&mut self, class: usize, hz: i64, distance_hz: i64, cost: i64) {
        let candidates = &self.problem.candidates_hz[self.problem.classes[class].domain];
        let (low, high) = near::search(candidates, hz, distance_hz);
        self.base[class][low..high].iter_mut().for_each(|entry| *entry += cost);
    }

    /// What one more link like `link` would cost on candidate `at`. O(groups of the link).
    pub fn cost(&self, link: usize, at: usize) -> i64 {
        let class = self.problem.class_of[link];
        let hz = self.problem.candidates_hz[self.problem.classes[class].domain][at];
        let own = self.base[class][at] + self.flat[class];
        self.cells_of[class]
            .iter()
            .fold(own, |sum, &i| sum.wrapping_add(self.cells[i].cost(class, hz)))
    }

    /// What one more link like `link` would cost on each of its candidates.
    ///
    /// Meant for a link that is not placed; O(candidates) after a move that touches it, else free.
    pub fn row(&mut self, link: usize) -> &[i64] {
        self.class_row(self.problem.class_of[link])
    }

    /// The least entry of a link's row, and the candidates that have it, ascending.
    pub(crate) fn cheapest(&mut self, link: usize) -> (i64, impl Iterator<Item = usize> + '_) {
        let arch = self.arch;
        let row = self.row(link);
        let least = kernel::least(arch, row);
        (least, row.iter().enumerate().filter(move |&(_, &cost)| cost == least).map(|(at, _)| at))
    }

    /// The row of a class.
    pub(crate) fn class_row(&mut self, class: usize) -> &[i64] {
        if self.flat[class] == 0 && self.cells_of[class].is_empty() {
            return &self.base[class];
        }
        if std::mem::take(&mut self.stale[class]) {
            let mut row = std::mem::take(&mut self.rows[class]);
            self.write_class_row(class, &mut row);
            self.rows[class] = row;
        }
        &self.rows[class]
    }
}
