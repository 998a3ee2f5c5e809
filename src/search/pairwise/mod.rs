//! Searches over a network: problems of nothing but rules between two links.
//!
//! Tied links move as one, and a look at every value of every variable in conflict costs a microsecond,
//! so that a search makes a hundred times the moves it would make on the cost table, which must serve
//! products too. Plans are put on the table to be offered.

mod anneal;
mod book;
mod cross;
mod evolve;
mod memetic;
mod state;
mod tabu;
#[cfg(test)]
#[path = "../../../tests/rust/unit/pairwise.rs"]
mod tests;

use std::collections::BTreeMap;

use self::book::Book;
use self::state::{Cost, Costs, State};
use super::colouring::Plain;
use super::stream::Stream;
use super::watch::Watch;
use super::{Method, Objective};
use crate::problem::compile::Compiled;
use crate::problem::network::Network;
use crate::table::Table;

/// A network with its costs as the objective needs them.
#[derive(Debug)]
pub(super) struct Pairwise(Kind);

/// Values of all variables that a look of the tabu search may take in.
const SCANNED: usize = 2_500;

#[derive(Debug)]
enum Kind {
    /// Only whether rules are broken matters.
    Unit(Costs<i32>),
    /// Soft costs matter.
    Graded(Costs<i64>),
}

impl Pairwise {
    /// The network of a problem, where there is one and a method has a use for it.
    pub(super) fn of(problem: &Compiled, objective: Objective, method: Method) -> Option<Self> {
        let served =
            matches!(method, Method::Tabucol | Method::SimulatedAnnealing | Method::Portfolio);
        if !served || objective == Objective::MaxService {
            return None;
        }
        let network = Network::of(problem)?;
        if objective == Objective::MinInterference && !network.is_hard() {
            return Some(Self(Kind::Graded(Costs::new(network))));
        }
        // Under the other objectives soft costs come second: the cost table minds them.
        let kind = if objective == Objective::MinInterference || network.is_hard() {
            Kind::Unit(Costs::new(network))
        } else {
            return None;
        };
        Some(Self(kind))
    }

    /// Whether annealing is the better search: where rules are soft, values the same, and so many that the
    /// tabu search, which looks at all of them before each move, makes few moves.
    pub(super) fn cools(&self) -> bool {
        match &self.0 {
            Kind::Unit(_) => false,
            Kind::Graded(costs) => costs.network.alike() && costs.values() > SCANNED,
        }
    }

    /// Whether a restart of the portfolio anneals under min-interference.
    pub(super) fn anneals(&self, restart: u64) -> bool {
        match &self.0 {
            // Cooling gains where all links are alike; elsewhere weights do, but for one try.
            Kind::Unit(costs) if costs.network.alike() => restart % 2 == 1,
            _ => restart == 1 || restart > 1 && self.cools(),
        }
    }

    /// The network as a graph, where all that counts is that neighbours have different values.
    pub(super) fn plain(&self, problem: &Compiled, objective: Objective) -> Option<Plain> {
        let Kind::Unit(costs) = &self.0 else { return None };
        let network = &costs.network;
        costs.plain?;
        let alone = |links: &[usize], v: usize| *links == [v];
        if !network.links.iter().enumerate().all(|(v, links)| alone(links, v)) {
            return None;
        }
        let domain = problem.classes[*problem.class_of.first()?].domain;
        let candidates_hz = &problem.candidates_hz[domain];
        if network.values(0).len() != candidates_hz.len() {
            return None;
        }
        let lists: Vec<Vec<u32>> =
            network.arcs.iter().map(|arcs| arcs.iter().map(|arc| arc.other).collect()).collect();
        Plain::new(&lists, candidates_hz, objective)
    }

    /// The one frequency beside which ties always put another, for those that have one.
    pub(super) fn partners(&self, problem: &Compiled) -> BTreeMap<i64, i64> {
        match &self.0 {
            Kind::Unit(costs) => costs.network.partners(problem),
            Kind::Graded(costs) => costs.network.partners(problem),
        }
    }

    /// Search from the plan on the table, and leave the best found there; whether this could be done.
    pub(super) fn improve(
        &self,
        method: Method,
        table: &mut Table,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> bool {
        match &self.0 {
            Kind::Unit(costs) => improve(costs, method, table, stream, watch),
            Kind::Graded(costs) => improve(costs, method, table, stream, watch),
        }
    }
}

fn improve<W: Cost>(
    costs: &Costs<W>,
    method: Method,
    table: &mut Table,
    stream: &mut Stream,
    watch: &mut Watch,
) -> bool {
    let Some(mut state) = State::of(costs, table) else { return false };
    let mut book = Book::new(table, &state);
    match method {
        Method::Tabucol => {
            tabu::Tabu::new(false).search(&mut state, u64::MAX, &mut book, stream, watch);
        }
        Method::SimulatedAnnealing => anneal::search(&mut state, &mut book, stream, watch),
        // Where rules are soft and values the same, uniform crossover of several plans is better.
        _ if !W::UNIT && costs.network.alike() => {
            memetic::search(&mut state, &mut book, stream, watch);
        }
        _ => evolve::search(&mut state, &mut book, stream, watch),
    }
    book.close(costs, watch);
    true
}

/// The search for a problem that is a network: a hybrid of crossover and tabu search.
pub(super) fn evolve(table: &mut Table, stream: &mut Stream, watch: &mut Watch) {
    let found = watch.run.pairwise.as_ref();
    if !found.is_some_and(|it| it.improve(Method::Portfolio, table, stream, watch)) {
        super::tabucol::improve(table, stream, watch);
    }
}
