//! A memetic search: few good plans, crossed uniformly, each child improved by the tabu search.
//!
//! For soft rules between variables with the same values. Where parents agree the child keeps what they
//! have, elsewhere it takes either's value at random: tabu search mends what does not go together, and looks
//! where good plans differ (memetic search, Moscato 1989; relinked plans, Lai and Hao 2015). Parents that
//! are the same but for the names of the values are turned to each other first.

use super::book::Book;
use super::state::{Cost, Costs, NOWHERE, State};
use super::tabu::Tabu;
use crate::search::stream::Stream;
use crate::search::watch::Watch;

/// Plans kept.
const POPULATION: usize = 8;
/// Tabu search gives a child up after so many iterations without a gain.
const PATIENCE: u64 = 3_000;
/// Children in a row that bring nothing before the plans but the best are given up.
const BARREN: usize = 48;

type Plan = (i64, Vec<u32>);

pub(super) fn search<W: Cost>(
    state: &mut State<W>,
    book: &mut Book,
    stream: &mut Stream,
    watch: &mut Watch,
) {
    let mut tabu = Tabu::new(false);
    let names = Names::of(state.costs);
    let near = state.value.len() / 20;
    let mut patience = PATIENCE;
    let mut plans: Vec<Plan> = Vec::new();
    let mut barren = 0;
    loop {
        // The plan at hand is the first.
        if plans.len() >= POPULATION {
            let child = cross(&plans, names, state, stream);
            state.load(&child);
        } else if !plans.is_empty() || watch.iterations > 0 {
            let plan = random(state, stream);
            state.load(&plan);
        }
        if !tabu.climb(state, patience, book, stream, watch) {
            return;
        }
        let young = (book.present(), book.plan().to_vec());
        if plans.len() < POPULATION {
            plans.push(young);
            continue;
        }
        barren += 1;
        let twin = plans.iter().position(|plan| apart(&plan.1, &young.1) <= near);
        let place = twin.or_else(|| (0..plans.len()).max_by_key(|&i| plans[i].0));
        if let Some(place) = place
            && (young.0 < plans[place].0 || twin.is_none() && young.0 == plans[place].0)
        {
            barren = 0;
            plans[place] = young;
        }
        if barren >= BARREN {
            barren = 0;
            patience = patience.saturating_mul(3) / 2;
            let best = (0..plans.len()).min_by_key(|&i| plans[i].0).unwrap_or(0);
            plans.swap(0, best);
            plans.truncate(1);
        }
    }
}

/// A child of two of the plans.
fn cross<W: Cost>(plans: &[Plan], names: Names, state: &State<W>, stream: &mut Stream) -> Vec<u32> {
    let a = stream.below(plans.len());
    let b = (a + 1 + stream.below(plans.len() - 1)) % plans.len();
    let values = state.open.iter().map(|open| open.1 as usize).max().unwrap_or(0);
    let other = names.turned(&plans[a].1, &plans[b].1, values);
    let take = |(variable, (&own, &other)): (usize, (&u32, &u32))| {
        let value = if stream.one_in(2) { own } else { other };
        if state.is_barred(variable, value) { own } else { value }
    };
    plans[a].1.iter().zip(&other).enumerate().map(take).collect()
}

/// A plan with random values for half of the variables, the others on their cheapest.
fn random<W: Cost>(state: &State<W>, stream: &mut Stream) -> Vec<u32> {
    let draw = |variable: usize| {
        let (low, high) = state.open[variable];
        let value = low + stream.below((high - low) as usize) as u32;
        let free = stream.one_in(2) && !state.is_barred(variable, value);
        if free { value } else { NOWHERE }
    };
    (0..state.value.len()).map(draw).collect()
}

/// Number of variables with different values.
fn apart(a: &[u32], b: &[u32]) -> usize {
    a.iter().zip(b).filter(|(a, b)| a != b).count()
}

/// What names of values may be exchanged without a change of cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Names {
    /// None.
    Fixed,
    /// The first for the last, the second for the last but one, and so on.
    Mirrored,
    /// Any for any other.
    Free,
}

impl Names {
    /// What the costs of a network with the same values for every variable allow.
    pub(super) fn of<W: Cost>(costs: &Costs<W>) -> Self {
        let network = &costs.network;
        let values = network.own.first().map_or(0, Vec::len);
        if !network.alike() || values == 0 {
            return Self::Fixed;
        }
        let row =
            |at: usize| &network.runs[network.first[at] as usize..network.first[at + 1] as usize];
        let tables = (0..network.first.len() - 1).step_by(values);
        let flat = network.own.iter().all(|own| own.iter().all(|cost| *cost == own[0]));
        let same_only = |table: usize| {
            let cost = row(table).first().map(|run| run.cost);
            (0..values).all(|value| {
                let run = row(table + value);
                run.len() == 1
                    && (run[0].low, run[0].high) == (value as u32, value as u32 + 1)
                    && Some(run[0].cost) == cost
            })
        };
        if flat && tables.clone().all(same_only) {
            return Self::Free;
        }
        let even = network.own.iter().all(|own| own.iter().eq(own.iter().rev()));
        let mirrored = |table: usize| {
            (0..values).all(|value| {
                let turned = row(table + values - 1 - value).iter().rev();
                row(table + value).len() == turned.len()
                    && row(table + value).iter().zip(turned).all(|(run, turned)| {
                        (run.low, run.high, run.cost)
                            == (
                                values as u32 - turned.high,
                                values as u32 - turned.low,
                                turned.cost,
                            )
                    })
            })
        };
        if even && tables.clone().all(mirrored) { Self::Mirrored } else { Self::Fixed }
    }

    /// A plan with its values named so that it is nearer to another.
    pub(super) fn turned(self, to: &[u32], plan: &[u32], values: usize) -> Vec<u32> {
        match self {
            Self::Fixed => plan.to_vec(),
            Self::Mirrored => {
                let mirror: Vec<u32> = plan.iter().map(|&at| values as u32 - 1 - at).collect();
                if apart(to, &mirror) < apart(to, plan) { mirror } else { plan.to_vec() }
            }
            Self::Free => {
                let mut common = vec![0_usize; values * values];
                for (&to, &own) in to.iter().zip(plan) {
                    common[own as usize * values + to as usize] += 1;
                }
                // Largest overlaps first; a name that is left over takes one that is.
                let mut pairs: Vec<usize> = (0..common.len()).collect();
                pairs.sort_by_key(|&at| std::cmp::Reverse(common[at]));
                let mut name = vec![NOWHERE; values];
                let mut taken = vec![false; values];
                for at in pairs {
                    let (own, to) = (at / values, at % values);
                    if name[own] == NOWHERE && !taken[to] {
                        name[own] = to as u32;
                        taken[to] = true;
                    }
                }
                plan.iter().map(|&at| name[at as usize]).collect()
            }
        }
    }
}
