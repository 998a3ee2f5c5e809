//! Sets under guards on other forms than 2A-B and A+B-C: local search on the cost table.

use super::raster::State;
use super::{SetAnswer, SetQuestion};
use crate::error::Result;
use crate::search::{Control, Method, Objective, Options, solve};

/// The most links a search is asked to serve; few bands hold as many.
const MAX_LINKS: usize = 1_000;

/// Serve as many links as the bounds allow; who is served is the set.
pub(super) fn run(
    question: &SetQuestion,
    options: &Options,
    control: &Control,
    state: &State,
) -> Result<SetAnswer> {
    let count = state.upper().min(MAX_LINKS);
    let problem = question.problem(count);
    let options =
        Options { objective: Objective::MaxService, method: Method::LocalSearch, ..*options };
    let outcome = solve(&problem, &options, control)?;
    for event in &outcome.trace {
        state.improved(count - event.refused as usize, event.restart, event.iteration);
    }
    let mut set: Vec<i64> = outcome.assignment.into_iter().flatten().collect();
    set.sort_unstable();
    state.answer(question, &options, set, (outcome.restarts, outcome.iterations))
}
