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

/// Count what blocks `link` in a plan, as if the link itself were off the air.
///
/// O(moves of the plan + candidates).
///
/// # Errors
/// [`Error::Invalid`] when the problem, the assignment's length or the link's index is wrong.
pub fn why_refused(problem: &Problem, assignment: &Assignment, link: usize) -> Result<Refusal> {
    let mut table = Table::new(problem)?;
    if assignment.len() != problem.links.len() || link >= problem.links.len() {
        return Err(Error::Invalid(vec![Fault::new(
            "assignment",
            format!(
                "{} frequencies and link number {link} for {} links",
                assignment.len(),
                problem.links.len()
            ),
            "give one frequency or none for every link, and a link number below their count",
        )]));
    }
    for (other, &hz) in assignment.iter().enumerate().filter(|&(other, _)| other != link) {
        let at = hz.and_then(|hz| table.candidates_hz(other).binary_search(&hz).ok());
        if let Some(at) = at {
            table.place(other, at);
        }
    }
    Ok(table.refusal(link))
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
