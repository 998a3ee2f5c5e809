//! Simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983) over a network: one cooling, geometric.

use std::time::Instant;

use super::book::Book;
use super::state::{Cost, State};
use crate::search::stream::Stream;
use crate::search::watch::Watch;
use crate::table::HARD;

/// Proposals counted as one iteration.
const BATCH: usize = 64;
/// The most iterations of one cooling.
const LONGEST: u64 = 1 << 24;
/// Rises of so many temperatures, taken less than once in ten million times, are not drawn.
const HOPELESS: f64 = 16.5;
/// A broken hard rule counts as so many of the dearest soft ones while cooling.
const HARDNESS: i64 = 4;

/// Cool down once, over the iterations left or the time, whichever is less.
pub(super) fn search<W: Cost>(
    state: &mut State<W>,
    book: &mut Book,
    stream: &mut Stream,
    watch: &mut Watch,
) {
    let free: Vec<usize> =
        (0..state.value.len()).filter(|&v| state.open[v].1 - state.open[v].0 > 1).collect();
    if free.is_empty() {
        return;
    }
    book.begin(state);
    let hard = state.costs.dearest().max(1) * HARDNESS;
    let mut cooling = Cooling { free, hard, temperature: 0.0 };
    cooling.descend(state, book, watch);
    let (hot, cold) = cooling.temperatures(state);
    let begun = Instant::now();
    let until = watch.run.deadline;
    let span = watch.left().clamp(1, LONGEST);
    for step in 0..span {
        if book.met::<W>(watch) || watch.ticks(1) == 0 {
            break;
        }
        if step % 16 == 0 {
            let timed = until.map_or(0.0, |until| {
                let whole = until.saturating_duration_since(begun).as_secs_f64();
                begun.elapsed().as_secs_f64() / whole.max(1e-9)
            });
            let part = (step as f64 / span as f64).max(timed.min(1.0));
            cooling.temperature = hot * (cold / hot).powf(part);
            book.publish(state.costs, watch);
        }
        for _ in 0..BATCH {
            cooling.propose(state, book, stream);
        }
    }
    book.publish(state.costs, watch);
}

struct Cooling {
    free: Vec<usize>,
    /// What a broken hard rule counts.
    hard: i64,
    temperature: f64,
}

impl Cooling {
    /// A change of cost with hard rules at their weight for the cooling.
    #[inline]
    fn weighed<W: Cost>(&self, change: i64) -> i64 {
        if W::UNIT {
            return change;
        }
        let hard = (change + HARD / 2) >> 32;
        hard * self.hard + (change - hard * HARD)
    }

    fn propose<W: Cost>(&self, state: &mut State<W>, book: &mut Book, stream: &mut Stream) {
        let variable = self.free[stream.below(self.free.len())];
        let (low, high) = state.open[variable];
        let value = low + stream.below((high - low) as usize) as u32;
        let after = state.cost(variable, value);
        let change =
            self.weighed::<W>(after.wide() - state.cost(variable, state.value[variable]).wide());
        let steep = change as f64;
        if steep > self.temperature * HOPELESS || value == state.value[variable] || after >= W::BAR
        {
            return;
        }
        if change <= 0 || stream.unit() < (-steep / self.temperature).exp() {
            state.assign_unlisted(variable, value);
            if change < 0 {
                book.note(state);
            }
        }
    }

    /// Give every variable its cheapest value until none gains.
    fn descend<W: Cost>(&self, state: &mut State<W>, book: &mut Book, watch: &mut Watch) {
        let mut gained = true;
        while gained && watch.may_go_on() {
            gained = false;
            for &variable in &self.free {
                let (low, high) = state.open[variable];
                let here = state.cost(variable, state.value[variable]);
                let best = (low..high).min_by_key(|&value| state.cost(variable, value));
                if let Some(value) = best.filter(|&value| state.cost(variable, value) < here) {
                    state.assign(variable, value);
                    gained = true;
                }
            }
        }
        book.note(state);
    }

    /// Temperatures at a local optimum: hot from what the variables bear, cold from what it would take to
    /// leave it.
    fn temperatures<W: Cost>(&self, state: &State<W>) -> (f64, f64) {
        let mut least: Vec<i64> = self
            .free
            .iter()
            .filter_map(|&variable| {
                let (low, high) = state.open[variable];
                let here = state.cost(variable, state.value[variable]).wide();
                (low..high)
                    .map(|value| state.cost(variable, value))
                    .filter(|&cost| cost < W::BAR)
                    .map(|cost| self.weighed::<W>(cost.wide() - here))
                    .filter(|&change| change > 0)
                    .min()
            })
            .collect();
        let mut borne: Vec<i64> = state
            .active
            .iter()
            .map(|&variable| variable as usize)
            .map(|variable| self.weighed::<W>(state.cost(variable, state.value[variable]).wide()))
            .collect();
        borne.sort_unstable();
        least.sort_unstable();
        let at = |list: &[i64], tenths: usize| {
            list.get(list.len() * tenths / 10).copied().unwrap_or(1) as f64
        };
        let cold = at(&least, 5) * 0.12;
        ((at(&borne, 9) * 0.3).max(2.0 * cold), cold)
    }
}
