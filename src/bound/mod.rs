//! Lower bounds, each from an argument that can be checked by hand: cliques, difference counting, packing.

mod clique;
mod gaps;
mod occupation;
mod order;
mod packing;
mod path;

pub(crate) use gaps::Gaps;
pub(crate) use occupation::by_occupation;
pub(crate) use path::Potentials;
use path::shortest_path;

use crate::error::Result;
use crate::problem::Problem;
use crate::problem::compile::Compiled;

/// Beyond so many classes no bound is tried.
const MAX_CLASSES: usize = 2_500;

/// Only so many of the heaviest cliques have their shortest path found exactly.
const PATHS: usize = 100;

/// Proved lower bounds of one problem, whatever method is used.
///
/// ```
/// use sidon::bound::lower_bounds;
/// use sidon::problem::Problem;
/// // Three links 2 Hz apart on one site: no plan is narrower than 4 Hz or uses fewer than 3 frequencies.
/// let problem: Problem = serde_json::from_str(r#"{
///     "profiles": [{"name": "hand-held", "separation_hz": 2}],
///     "zones": ["stage"],
///     "domains": [{"frequencies": [0, 1, 2, 3]}],
///     "links": [{"id": "a", "profile": 0, "zone": 0, "domain": 0},
///               {"id": "b", "profile": 0, "zone": 0, "domain": 0},
///               {"id": "c", "profile": 0, "zone": 0, "domain": 0}]}"#)?;
/// let bounds = lower_bounds(&problem)?;
/// assert_eq!((bounds.span_hz, bounds.order, bounds.unserved), (4, 3, 1));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
pub struct LowerBounds {
    /// Least distance between the highest and the lowest frequency of a plan that serves every link.
    pub span_hz: u64,
    /// Fewest distinct frequencies of a plan that serves every link.
    pub order: u64,
    /// Least summed priority left unserved by a plan that breaks no hard rule.
    pub unserved: u64,
}

/// Compute the lower bounds of a problem.
///
/// Separations, hard pair rules and candidates count; of products, hard third-order guards where all of them stand.
/// Span: difference counting along the shortest Hamiltonian path of a clique ([`Potentials`'s dual of the
/// degree relaxation][path]; compare Janssen and Kilakos 1999). Order: the heaviest clique found.
/// Unserved: how many links of a clique its candidates can hold, and of a mixing group by counting differences
/// (after Erdos and Turan 1941). Polynomial but for a capped clique search.
///
/// [path]: https://en.wikipedia.org/wiki/Hamiltonian_path_problem
///
/// # Errors
/// Every fault of the problem.
pub fn lower_bounds(problem: &Problem) -> Result<LowerBounds> {
    Ok(Bounding::new(&Compiled::new(problem)?).bounds())
}

/// The clique structure of a problem, shared by the bounds.
#[derive(Debug)]
pub(crate) struct Bounding<'p> {
    problem: &'p Compiled,
    gaps: Gaps,
    cliques: Vec<Vec<usize>>,
}

impl<'p> Bounding<'p> {
    pub(crate) fn new(problem: &'p Compiled) -> Self {
        // The distances are kept as a square.
        let gaps =
            if problem.classes.len() > MAX_CLASSES { Gaps::default() } else { Gaps::of(problem) };
        let cliques = clique::cliques(&gaps);
        Self { problem, gaps, cliques }
    }

    pub(crate) fn bounds(&self) -> LowerBounds {
        LowerBounds { span_hz: self.span_hz(), order: self.order(), unserved: self.unserved() }
    }

    pub(crate) fn span_hz(&self) -> u64 {
        let potentials =
            self.cliques.iter().map(|clique| Potentials::of(&self.gaps, clique).bound_hz);
        let paths = self.cliques.iter().take(PATHS).map(|clique| shortest_path(&self.gaps, clique));
        potentials.chain(paths).max().unwrap_or(0) as u64
    }

    pub(crate) fn order(&self) -> u64 {
        self.cliques.iter().map(|clique| order::distinct(&self.gaps, clique)).max().unwrap_or(0)
    }

    pub(crate) fn unserved(&self) -> u64 {
        packing::unserved(self.problem, &self.gaps, &self.cliques)
    }

    pub(crate) fn gaps(&self) -> &Gaps {
        &self.gaps
    }

    pub(crate) fn cliques(&self) -> &[Vec<usize>] {
        &self.cliques
    }
}
