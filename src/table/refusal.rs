//! Why a link found no clean frequency: which rule blocks how many of its candidates.

use serde::{Deserialize, Serialize};

use super::Table;
use crate::error::{Error, Fault, Result};
use crate::problem::compile::HARD;
use crate::problem::{Assignment, Problem};

/// Candidates of one link, counted by the first rule that blocks them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Refusal {
    /// Candidates in all.
    pub candidates: usize,
    /// Too close to another carrier, or against an explicit pair rule.
    pub by_separation: usize,
    /// Otherwise hit by a product of carriers on the air.
    pub as_victim: usize,
    /// Otherwise a source of a product that hits a carrier on the air.
    pub as_source: usize,
    /// Not blocked by any hard rule.
    pub clean: usize,
}

/// Count what blocks each of `links` in a plan, as if that link itself were off the air.
///
/// O(moves of the plan + candidates of all the links).
///
/// # Errors
/// [`Error::Invalid`] when the problem, the assignment's length or a link's index is wrong.
pub fn why_refused(
    problem: &Problem,
    assignment: &Assignment,
    links: &[usize],
) -> Result<Vec<Refusal>> {
    let mut table = Table::new(problem)?;
    let count = problem.links.len();
    if assignment.len() != count || links.iter().any(|&link| link >= count) {
        return Err(Error::Invalid(vec![Fault::new(
            "assignment",
            format!("{} frequencies and links {links:?} for {count} links", assignment.len()),
            "give one frequency or none for every link, and link numbers below their count",
        )]));
    }
    for (link, &hz) in assignment.iter().enumerate() {
        let at = hz.and_then(|hz| table.candidates_hz(link).binary_search(&hz).ok());
        if let Some(at) = at {
            table.place(link, at);
        }
    }
    let refusals = links.iter().map(|&link| {
        let former = table.lift(link);
        let refusal = table.refusal(link);
        if let Some(at) = former {
            table.place(link, at);
        }
        refusal
    });
    Ok(refusals.collect())
}

impl Table {
    /// Count what blocks a link that is not placed.
    pub(crate) fn refusal(&mut self, link: usize) -> Refusal {
        let class = self.problem.class_of[link];
        let flat = self.flat[class];
        let mut victim = vec![0; self.base[class].len()];
        for &i in &self.cells_of[class] {
            let candidates = &self.problem.candidates_hz[self.problem.classes[class].domain];
            self.cells[i].add_row(self.arch, class, candidates, true, &mut victim);
        }
        let all: Vec<i64> = self.class_row(class).to_vec();
        let mut refusal = Refusal { candidates: all.len(), ..Refusal::default() };
        for ((&cost, &base), &victim) in all.iter().zip(&self.base[class]).zip(&victim) {
            let count = if base + flat >= HARD {
                &mut refusal.by_separation
            } else if victim >= HARD {
                &mut refusal.as_victim
            } else if cost >= HARD {
                &mut refusal.as_source
            } else {
                &mut refusal.clean
            };
            *count += 1;
        }
        refusal
    }
}
