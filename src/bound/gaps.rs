//! A problem seen as classes of like links and the least distance between every two of them.

use crate::problem::Relation;
use crate::problem::compile::{Compiled, HARD};

/// Least distances between classes, from hard separations and hard pair rules alone.
#[derive(Debug, Clone, Default)]
pub(crate) struct Gaps {
    /// Links of every class.
    pub(crate) sizes: Vec<i64>,
    /// Row-major least distances in hertz; 0 where there is none. The diagonal is within a class.
    matrix: Vec<i64>,
    /// The raster, if the distances are all there is to the problem.
    pub(crate) grid: Option<Grid>,
}

/// The one evenly spaced list of candidates of all links.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Grid {
    pub(crate) step_hz: i64,
}

impl Gaps {
    /// O(classes^2 + rules + candidates).
    pub(crate) fn of(problem: &Compiled) -> Self {
        let n = problem.classes.len();
        let mut matrix = vec![0; n * n];
        for (k, class) in problem.classes.iter().enumerate() {
            for &(other, hz) in &class.neighbours {
                matrix[k * n + other] = matrix[k * n + other].max(hz);
            }
        }
        let mut pure = problem.groups.is_empty()
            && problem.locks.iter().all(Option::is_none)
            && problem.classes.iter().all(|class| class.costs.is_none());
        for (link, pairs) in problem.pairs.iter().enumerate() {
            for pair in pairs {
                let (Relation::AtLeast(hz) | Relation::Exactly(hz)) = pair.relation;
                pure &= pair.cost == HARD && matches!(pair.relation, Relation::AtLeast(_));
                if pair.cost == HARD {
                    let at = problem.class_of[link] * n + problem.class_of[pair.other];
                    matrix[at] = matrix[at].max(hz);
                }
            }
        }
        let sizes = problem.classes.iter().map(|class| class.members.len() as i64).collect();
        Self { sizes, matrix, grid: if pure { grid(problem) } else { None } }
    }

    /// The same classes with other distances.
    pub(crate) fn map(&self, distance: impl Fn(i64) -> i64) -> Self {
        Self {
            sizes: self.sizes.clone(),
            matrix: self.matrix.iter().map(|&hz| distance(hz)).collect(),
            grid: self.grid,
        }
    }

    /// Whether no distance is above `most`.
    pub(crate) fn all_at_most(&self, most: i64) -> bool {
        self.matrix.iter().all(|&gap| gap <= most)
    }

    pub(crate) fn len(&self) -> usize {
        self.sizes.len()
    }

    /// The least distance between a carrier of `a` and another of `b`.
    pub(crate) fn between(&self, a: usize, b: usize) -> i64 {
        self.matrix[a * self.sizes.len() + b]
    }

    /// Whether two different classes may never share a frequency.
    pub(crate) fn joined(&self, a: usize, b: usize) -> bool {
        a != b && self.between(a, b) > 0
    }
}

fn grid(problem: &Compiled) -> Option<Grid> {
    let list = &problem.candidates_hz[problem.classes.first()?.domain];
    let same = problem.classes.iter().all(|class| problem.candidates_hz[class.domain] == *list);
    let step_hz = if list.len() > 1 { list[1] - list[0] } else { 1 };
    let even = list.windows(2).all(|pair| pair[1] - pair[0] == step_hz);
    (same && even).then_some(Grid { step_hz })
}
