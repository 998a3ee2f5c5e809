//! Sets under guards on forms of three carriers and more, other than A+B-C: algebraic sets of higher fold, then local search on the cost table.

use super::fit::{Fits, Ground};
use super::raster::{Field, State};
use super::{SetAnswer, SetQuestion};
use crate::error::Result;
use crate::search::{Control, Method, Objective, Options, solve_from};

/// The most links a search is asked to serve; few bands hold as many.
const MAX_LINKS: usize = 1_000;

/// The best fit of a set whose sums of so many carriers are distinct that no product of any guarded form falls
/// on a carrier: `a + b + c - d - e = f` makes two equal sums of three (Bose and Chowla 1962).
pub(super) fn algebraic(question: &SetQuestion, field: &Field, state: &State) -> Vec<i64> {
    let guarded = || question.guards.iter().filter(|(_, hz)| *hz > 0);
    let order = guarded().map(|(form, _)| form.order()).max().unwrap_or(1);
    let ground = Ground {
        free: &field.free,
        separation: field.rules.separation,
        scale: guarded().map(|(_, hz)| field.steps(*hz)).max().unwrap_or(1).max(1),
        fold: order.div_ceil(2) as usize,
        two_tone: [0; 4],
    };
    let found = Fits::new(&ground).slice(1, || state.open(0));
    found.first().map_or_else(Vec::new, |set| field.hertz(set))
}

/// Serve as many links as the bounds allow, from an algebraic set up; who is served is the set.
pub(super) fn run(
    question: &SetQuestion,
    options: &Options,
    control: &Control,
    field: &Field,
    state: &State,
) -> Result<SetAnswer> {
    let count = state.upper().min(MAX_LINKS);
    let problem = question.problem(count);
    let options =
        Options { objective: Objective::MaxService, method: Method::LocalSearch, ..*options };
    let set = algebraic(question, field, state);
    let start: Vec<Option<i64>> = (0..count).map(|link| set.get(link).copied()).collect();
    let outcome = solve_from(&problem, &options, Some(&start), control)?;
    for event in &outcome.trace {
        state.improved(count - event.refused as usize, event.restart, event.iteration);
    }
    let mut set: Vec<i64> = outcome.assignment.into_iter().flatten().collect();
    set.sort_unstable();
    state.answer(question, &options, set, (outcome.restarts, outcome.iterations))
}
