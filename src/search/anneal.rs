//! Simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983), geometric cooling over the restart's quota.
//!
//! A random link moves to a random frequency; a dearer plan is accepted with probability
//! `exp(-gain / temperature)`. Conflicts are allowed and counted; in max-service they are harvested into a
//! clean plan from time to time.

use super::construct::{Choice, open_links};
use super::service::harvest;
use super::stream::Stream;
use super::watch::{Goal, Watch};
use crate::search::{Method, Objective};
use crate::table::{BAR, HARD, Table};

/// Moves a cooling schedule may be spread over.
const LONGEST: u64 = 5_000_000;
/// Moves counted as one iteration.
const BATCH: u64 = 16;
/// Moves that gauge the first temperature.
const GAUGE: usize = 200;

/// Improve a full plan until the budget is spent or nothing is left to gain.
pub(super) fn improve(table: &mut Table, stream: &mut Stream, watch: &mut Watch) {
    for link in open_links(table) {
        if let Some((_, at)) = Choice::Random(stream).of(table, link) {
            table.place(link, at);
        }
    }
    if let Some(pairwise) = &watch.run.pairwise
        && pairwise.improve(Method::SimulatedAnnealing, table, stream, watch)
    {
        return;
    }
    let locks = table.problem().locks.clone();
    let free: Vec<usize> = (0..locks.len())
        .filter(|&i| {
            locks[i].is_none() && table.choice(i).is_some() && table.candidates_hz(i).len() > 1
        })
        .collect();
    watch.offer(table);
    if free.is_empty() {
        return;
    }
    let (hot, cold) = temperatures(table, &free, stream);
    let harvesting = watch.goal == Goal::Best && watch.run.objective == Objective::MaxService;
    while !watch.met(0, table.total()) && watch.may_search() {
        let span = watch.left().clamp(1, LONGEST / BATCH);
        let begin = watch.iterations;
        let mut best = table.total();
        while !watch.met(0, table.total()) && watch.iterations - begin < span && watch.tick() {
            let part = (watch.iterations - begin) as f64 / span as f64;
            let temperature = hot * (cold / hot).powf(part);
            for _ in 0..BATCH {
                step(table, &free, temperature, stream);
            }
            if table.total() < best {
                best = table.total();
                watch.offer(table);
                if harvesting && part > 0.8 {
                    harvest(table, stream, watch);
                }
            }
        }
        if harvesting {
            harvest(table, stream, watch);
        }
    }
}

fn step(table: &mut Table, free: &[usize], temperature: f64, stream: &mut Stream) {
    let link = free[stream.below(free.len())];
    let at = stream.below(table.candidates_hz(link).len());
    let Some(former) = table.choice(link).filter(|&former| former != at) else { return };
    let steady = table.steady(link);
    if !steady {
        table.lift(link);
    }
    let after = table.cost(link, at);
    let change = after - table.cost(link, former);
    let worth =
        after < BAR && (change <= 0 || stream.unit() < (-(change as f64) / temperature).exp());
    match (steady, worth) {
        (true, true) => {
            table.lift(link);
            table.place(link, at);
        }
        (true, false) => {}
        (false, true) => table.place(link, at),
        (false, false) => table.place(link, former),
    }
}

/// A first temperature at which most moves pass, and a last one at which hardly any does.
fn temperatures(table: &mut Table, free: &[usize], stream: &mut Stream) -> (f64, f64) {
    let mut sum = 0.0;
    let mut least = f64::MAX;
    let mut count = 0.0;
    for _ in 0..GAUGE {
        let link = free[stream.below(free.len())];
        let at = stream.below(table.candidates_hz(link).len());
        let Some(former) = table.lift(link) else { continue };
        let (after, change) =
            (table.cost(link, at), table.cost(link, at) - table.cost(link, former));
        table.place(link, former);
        if change != 0 && after < BAR {
            let change = (change as f64).abs();
            sum += change;
            count += 1.0;
            least = least.min(change);
        }
    }
    if count == 0.0 {
        return (HARD as f64, HARD as f64 / 10.0);
    }
    let mean = sum / count;
    (mean / 2.0, (least / 6.0).min(mean / 20.0).max(mean / 1e4))
}
