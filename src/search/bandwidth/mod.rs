//! Min-span where several carriers of a cell must keep apart: tabu search on by how much distances are missed.
//!
//! This is bandwidth multicolouring. A window one step narrower than the best plan is searched for a plan
//! by iterated tabu search on the summed violation (Lai and Hao 2013); the carriers of a class are
//! alike, so that costs and tabu marks are kept by class, not by carrier.

mod narrow;
mod state;
mod tabu;
#[cfg(test)]
#[path = "../../../tests/rust/unit/bandwidth.rs"]
mod tests;

use self::state::{Shape, State};
use self::tabu::Tabu;
use super::sequence::Frame;
use super::stream::Stream;
use super::watch::Watch;
use crate::table::Table;

/// Narrow the span of the plan on the table until the budget is spent or the bound is met, and leave the
/// best plan found there; whether this could be done.
///
/// A brief search ends with the first window in which the length of one climb, doubled with every restart,
/// finds nothing.
pub(super) fn descend(
    table: &mut Table,
    frame: &Frame,
    brief: bool,
    stream: &mut Stream,
    watch: &mut Watch,
) -> bool {
    let links: Vec<usize> =
        table.problem().classes.iter().flat_map(|class| class.members.clone()).collect();
    let positions = table.candidates_hz(0).len();
    let mut plan = placed(table, &links);
    let open = links.iter().any(|&link| table.choice(link).is_none());
    let reach = if open { positions } else { plan.iter().max().map_or(0, |&top| top as usize + 1) };
    let Some(shape) = Shape::of(frame, reach) else { return false };
    let patience = tabu::PATIENCE << watch.restart.min(16);
    let mut state = State::new(&shape);
    let mut tabu = Tabu::new();
    let mut found = None;
    while watch.known().is_none_or(|known| known > watch.run.floor) {
        // With a window of so many positions the span is below the one known.
        let steps = watch.known().map(|known| known.div_ceil(frame.step_hz as u64) as usize);
        let window = steps.map_or(reach, |steps| steps.min(reach)) as i32;
        narrow::into(&shape, &mut plan, window);
        watch.limit = if brief { watch.iterations + patience } else { u64::MAX };
        let solved = tabu.search(&mut state, &mut plan, window, stream, watch);
        watch.limit = u64::MAX;
        if !solved {
            break;
        }
        narrow::to_zero(&mut plan);
        let mut all = vec![None; links.len()];
        for (&link, &at) in links.iter().zip(&plan) {
            all[link] = Some(table.candidates_hz(link)[at as usize]);
        }
        watch.offer_clean(all, table.evaluations());
        found = Some(plan.clone());
    }
    if let Some(plan) = found {
        for &link in &links {
            table.lift(link);
        }
        for (&link, at) in links.iter().zip(plan) {
            table.place(link, at as usize);
        }
    }
    true
}

/// The raster positions of the plan on the table from its lowest carrier on, class by class; those without
/// one begin at the bottom.
fn placed(table: &Table, links: &[usize]) -> Vec<i32> {
    let at: Vec<Option<usize>> = links.iter().map(|&link| table.choice(link)).collect();
    let low = at.iter().flatten().min().copied().unwrap_or(0);
    at.into_iter().map(|at| at.map_or(0, |at| (at - low) as i32)).collect()
}
