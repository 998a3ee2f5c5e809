//! The portfolio: which method a restart takes, and how many iterations it gets.

use super::pairwise::Pairwise;
use super::watch::Run;
use super::{Improve, Method, Objective};
use super::{anneal, branch_and_bound, interference, lns, pairwise, partialcol, service, tabucol};

/// Iterations of the shortest restart of local search; longer ones follow the sequence of Luby, Sinclair
/// and Zuckerman (1993).
const UNIT: u64 = 2_000;
/// Links for which they suffice.
const LINKS: usize = 100;
/// Iterations of the first restarts of the other methods; they double every few restarts.
const FIRST: u64 = 20_000;
/// Restarts of one length.
const ROUND: u64 = 4;
/// A problem of so few links is searched to the end by the portfolio's first restart.
const TINY: usize = 10;

/// The method of one restart.
///
/// Where the problem is a network, [`Method::Portfolio`] itself stands for the search of that.
pub(super) fn method(
    asked: Method,
    objective: Objective,
    links: usize,
    restart: u64,
    network: Option<&Pairwise>,
) -> Method {
    if asked != Method::Portfolio {
        return asked;
    }
    if restart == 0 && links <= TINY {
        return Method::BranchAndBound;
    }
    if let Some(network) = network {
        let cooling = objective == Objective::MinInterference && network.anneals(restart);
        return if cooling { Method::SimulatedAnnealing } else { Method::Portfolio };
    }
    let turns = match objective {
        Objective::MaxService => {
            [Method::LocalSearch, Method::Partialcol, Method::LocalSearch, Method::Lns]
        }
        Objective::MinInterference => {
            [Method::Tabucol, Method::SimulatedAnnealing, Method::Tabucol, Method::Lns]
        }
        Objective::MinSpan => {
            [Method::BranchAndBound, Method::Lns, Method::LocalSearch, Method::Lns]
        }
        Objective::MinOrder => {
            [Method::Partialcol, Method::Tabucol, Method::Partialcol, Method::LocalSearch]
        }
    };
    turns[(restart % 4) as usize]
}

/// The search of a method; `None` for a method that only constructs.
pub(super) fn improver(method: Method, objective: Objective, pairwise: bool) -> Option<Improve> {
    match method {
        Method::FirstFit | Method::Dsatur | Method::Rlf => None,
        Method::Portfolio if pairwise => Some(pairwise::evolve),
        Method::LocalSearch | Method::Portfolio if objective == Objective::MinInterference => {
            Some(interference::improve)
        }
        Method::LocalSearch | Method::Portfolio => Some(service::improve),
        Method::Tabucol => Some(tabucol::improve),
        Method::Partialcol => Some(partialcol::improve),
        Method::SimulatedAnnealing => Some(anneal::improve),
        Method::Lns => Some(lns::improve),
        Method::BranchAndBound => Some(branch_and_bound::improve),
    }
}

/// What the lengths of restarts depend on beside their number and the links.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A graph to be coloured: what grows on it is one search rather than many.
    Plain,
    /// A network where annealing is the better search: one long cooling beats many short ones.
    Cooling,
    /// Any other network.
    Network,
    /// Moves on the cost table.
    Table,
}

impl Kind {
    pub(super) fn of(run: &Run) -> Self {
        match (&run.plain, &run.pairwise) {
            (Some(_), _) => Self::Plain,
            (None, Some(network)) if network.cools() => Self::Cooling,
            (None, Some(_)) => Self::Network,
            (None, None) => Self::Table,
        }
    }
}

/// Iterations of one restart, without regard to the budget.
pub(super) fn length(asked: Method, links: usize, restart: u64, kind: Kind) -> u64 {
    // A restart builds its plan anew: where that takes long, it is worth more iterations.
    let scale = (links / LINKS).max(1) as u64;
    match asked {
        Method::Portfolio if kind == Kind::Plain => (FIRST * scale) << (4 * restart).min(32),
        Method::Portfolio if kind == Kind::Cooling && restart > 1 => {
            FIRST << (2 * restart + 4).min(40)
        }
        Method::Portfolio | Method::Tabucol | Method::SimulatedAnnealing if kind != Kind::Table => {
            FIRST << (2 * restart).min(40)
        }
        Method::FirstFit | Method::Dsatur | Method::Rlf => 0,
        Method::BranchAndBound => u64::MAX,
        Method::LocalSearch => UNIT * scale * luby(restart),
        _ => FIRST << (restart / ROUND).min(32),
    }
}

/// Whether a method has one restart only.
pub(super) fn single(asked: Method) -> bool {
    matches!(asked, Method::FirstFit | Method::Dsatur | Method::Rlf | Method::BranchAndBound)
}

/// 1, 1, 2, 1, 1, 2, 4, ...
fn luby(i: u64) -> u64 {
    let mut i = i + 1;
    loop {
        let top = (i + 1).next_power_of_two();
        if i + 1 == top {
            return top / 2;
        }
        i -= top / 2 - 1;
    }
}

#[cfg(test)]
mod tests {
    use super::luby;

    #[test]
    fn the_sequence_is_the_published_one() {
        // Luby, Sinclair and Zuckerman 1993, first fifteen terms.
        let terms: Vec<u64> = (0..15).map(luby).collect();
        assert_eq!(terms, [1, 1, 2, 1, 1, 2, 4, 1, 1, 2, 1, 1, 2, 4, 8]);
    }
}
