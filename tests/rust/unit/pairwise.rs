//! The pairwise state against full recounts, under random moves and raised weights.

use proptest::prelude::*;

use super::memetic::Names;
use super::state::{Cost, Costs, State, write};
use crate::check::check;
use crate::problem::compile::{Compiled, HARD};
use crate::problem::network::Network;
use crate::problem::{Domain, Link, PairRule, Problem, Profile, Relation, Weight};
use crate::search::{Budget, Control, Method, Objective, Options, solve};
use crate::table::Table;

/// Links on two domains with rules (a, b, distance, exact, weight; weight 0 is hard), no products.
fn problem(links: &[(usize, i64)], rules: &[(usize, usize, i64, bool, u32)]) -> Problem {
    let mut problem = Problem {
        profiles: vec![Profile {
            name: "radio link".into(),
            separation_hz: 0,
            guards: vec![],
            mixes: true,
        }],
        separations: vec![],
        zones: vec!["net".into()],
        couplings: vec![],
        domains: vec![
            Domain::Frequencies(vec![0, 1, 3, 4, 7, 8, 11]),
            Domain::Frequencies(vec![2, 3, 5, 6, 10]),
        ],
        costs: vec![vec![0, 2, 0, 1, 0, 3, 0], vec![1, 0, 0, 2, 0]],
        links: vec![],
        pairs: vec![],
    };
    problem.links = links
        .iter()
        .enumerate()
        .map(|(i, &(domain, dear))| Link {
            id: format!("link {i}"),
            profile: 0,
            zone: 0,
            windows: vec![],
            domain,
            costs: (dear == 1).then_some(domain),
            priority: 1,
            locked_hz: None,
        })
        .collect();
    for &(a, b, hz, exact, weight) in rules {
        let (a, b) = (a % links.len(), b % links.len());
        if a != b {
            let relation = if exact { Relation::Exactly(hz) } else { Relation::AtLeast(hz) };
            let weight = if weight == 0 { Weight::Hard } else { Weight::Soft(weight) };
            problem.pairs.push(PairRule { a, b, relation, weight });
        }
    }
    problem
}

/// Every cost of the state, one value at a time, by checking the plan with that value in it.
fn recounted<W: Cost>(state: &State<W>, source: &Problem) {
    let mut table = Table::new(source).expect("a sound problem");
    let mut plan = state.value.clone();
    let mut cost = |plan: &[u32]| {
        write(state.costs, plan, &mut table);
        let all: Vec<_> = (0..source.links.len()).map(|link| table.frequency_hz(link)).collect();
        let report = check(source, &all).expect("a sound problem");
        report.hard as i64 * HARD + report.soft as i64
    };
    let total = cost(&plan);
    assert_eq!(state.total, W::of(total).wide());
    for variable in 0..plan.len() {
        let here = plan[variable];
        let active = state.active.contains(&(variable as u32));
        assert_eq!(active, state.cost(variable, here) > W::default());
        let (low, high) = state.open[variable];
        for value in low..high {
            plan[variable] = value;
            let change = state.cost(variable, value).wide() - state.cost(variable, here).wide();
            if !state.is_weighted() {
                assert_eq!(change, W::of(cost(&plan) - total).wide());
            }
        }
        plan[variable] = here;
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn costs_and_totals_are_those_of_the_check(
        links in proptest::collection::vec((0_usize..2, 0_i64..2), 3..8),
        rules in proptest::collection::vec((0_usize..8, 0_usize..8, 0_i64..5, any::<bool>(), 0_u32..6), 1..12),
        moves in proptest::collection::vec((0_usize..8, 0_usize..64, 0_u32..4), 1..25),
        hard in any::<bool>(),
    ) {
        let mut source = problem(&links, &rules);
        if hard {
            // Rules of one weight are kept in narrow counts.
            source.links.iter_mut().for_each(|link| link.costs = None);
            source.pairs.iter_mut().for_each(|rule| rule.weight = Weight::Hard);
        }
        prop_assume!(source.validate().is_ok());
        let compiled = Compiled::new(&source).expect("a sound problem");
        let network = Network::of(&compiled).expect("no products");
        let table = Table::new(&source).expect("a sound problem");
        if hard {
            walk(&Costs::<i32>::new(network), &table, &source, &moves);
        } else {
            walk(&Costs::<i64>::new(network), &table, &source, &moves);
        }
    }
}

fn walk<W: Cost>(costs: &Costs<W>, table: &Table, source: &Problem, moves: &[(usize, usize, u32)]) {
    let mut state = State::of(costs, table).expect("nothing is barred");
    recounted(&state, source);
    for &(variable, value, turn) in moves {
        let variable = variable % state.value.len();
        let (low, high) = state.open[variable];
        state.assign(variable, low + (value % (high - low) as usize) as u32);
        if turn == 3 {
            state.raise();
        }
    }
    // Weights leave the total alone; without them the costs are the check's.
    recounted(&state, source);
    let plan = state.value.clone();
    state.load(&plan);
    recounted(&state, source);
}

/// Soft rules (a, b, distance, weight) between links on four frequencies 1 apart.
fn soft(links: usize, rules: &[(usize, usize, i64, u32)]) -> Problem {
    let all: Vec<_> = rules.iter().map(|&(a, b, hz, weight)| (a, b, hz, false, weight)).collect();
    let mut source = problem(&vec![(0, 0); links], &all);
    source.domains = vec![Domain::Frequencies(vec![0, 1, 2, 3])];
    source.costs.clear();
    source
}

#[test]
fn values_are_renamed_only_where_no_plan_changes_its_cost() {
    let names = |source: &Problem| {
        let compiled = Compiled::new(source).expect("a sound problem");
        Names::of(&Costs::<i64>::new(Network::of(&compiled).expect("no products")))
    };
    // Only whether two links share a frequency counts.
    assert_eq!(names(&soft(3, &[(0, 1, 1, 3), (1, 2, 1, 5)])), Names::Free);
    // Neighbouring frequencies count as well: only a reversal keeps every distance.
    let source = soft(4, &[(0, 1, 1, 3), (1, 2, 2, 5), (2, 3, 3, 1)]);
    assert_eq!(names(&source), Names::Mirrored);
    // A frequency that costs more than its mirror image.
    let mut dear = source.clone();
    dear.costs = vec![vec![0, 0, 0, 7]];
    dear.links[0].costs = Some(0);
    assert_eq!(names(&dear), Names::Fixed);
    let cost = |plan: &[u32]| {
        let plan: Vec<_> = plan.iter().map(|&at| Some(i64::from(at))).collect();
        check(&source, &plan).expect("a sound problem").soft
    };
    let (to, plan) = ([0, 1, 3, 3], [3, 2, 0, 1]);
    let turned = Names::Mirrored.turned(&to, &plan, 4);
    assert_eq!(turned, [0, 1, 3, 2]);
    assert_eq!(cost(&turned), cost(&plan));
    // Names of classes: 2 is what the other calls 0, 0 what it calls 1.
    assert_eq!(Names::Free.turned(&[0, 0, 1, 3], &[2, 2, 0, 3], 4), [0, 0, 1, 3]);
}

#[test]
fn moves_without_the_list_of_conflicts_cost_the_same() {
    let source = soft(5, &[(0, 1, 1, 3), (1, 2, 2, 5), (2, 3, 3, 1), (3, 4, 1, 4), (0, 4, 2, 2)]);
    let compiled = Compiled::new(&source).expect("a sound problem");
    let costs = Costs::<i64>::new(Network::of(&compiled).expect("no products"));
    let table = Table::new(&source).expect("a sound problem");
    let mut listed = State::of(&costs, &table).expect("nothing is barred");
    let mut unlisted = listed.clone();
    for (variable, value) in [(0, 3), (4, 2), (2, 0), (1, 1), (0, 0), (3, 2)] {
        listed.assign(variable, value);
        unlisted.assign_unlisted(variable, value);
        assert_eq!((&listed.gamma, listed.total), (&unlisted.gamma, unlisted.total));
    }
    let plan = unlisted.value.clone();
    unlisted.load(&plan);
    recounted(&unlisted, &source);
}

#[test]
fn the_memetic_search_finds_the_least_cost_of_a_small_problem() {
    // Eight links on four frequencies, rules by a fixed recurrence; the least cost by trying all 4^8 plans.
    let mut draw = 7_usize;
    let mut next = |below: usize| {
        draw = draw * 1_103 % 65_521;
        draw % below
    };
    let mut rules = Vec::new();
    for b in 1..8 {
        for a in 0..b {
            rules.push((a, b, 1 + next(3) as i64, 1 + next(20) as u32));
        }
    }
    let cost = |plan: &[i64]| -> u64 {
        let broken = rules.iter().filter(|&&(a, b, hz, _)| (plan[a] - plan[b]).abs() < hz);
        broken.map(|&(.., weight)| u64::from(weight)).sum()
    };
    let least = (0..4_i64.pow(8))
        .map(|at| cost(&(0..8).map(|i| at / 4_i64.pow(i) % 4).collect::<Vec<_>>()))
        .min()
        .expect("a plan");
    let options = |threads| Options {
        objective: Objective::MinInterference,
        method: Method::Portfolio,
        budget: Budget { iterations: Some(200_000), seconds: None },
        threads: Some(threads),
        ..Options::default()
    };
    // Links enough that the portfolio does not enumerate: three free ones beside the eight.
    let larger = soft(11, &rules);
    let one = solve(&larger, &options(1), &Control::default()).expect("a sound problem");
    let report = check(&larger, &one.assignment).expect("a sound problem");
    assert_eq!((report.hard, report.soft), (0, least));
    let two = solve(&larger, &options(2), &Control::default()).expect("a sound problem");
    assert_eq!(one.assignment, two.assignment);
}

#[test]
fn links_tied_by_an_exact_distance_are_one_variable() {
    let tied = [(0, 1, 3, true, 0), (1, 2, 1, false, 0)];
    let source = problem(&[(0, 0), (0, 0), (1, 0)], &tied);
    let network =
        Network::of(&Compiled::new(&source).expect("a sound problem")).expect("no products");
    assert_eq!(network.links, [vec![0, 1], vec![2]]);
    // Candidates 0, 1, 3, 4, 7, 8, 11, three apart: 0-3, 1-4, 4-7 and 8-11, either way round.
    assert_eq!(network.values(0).len(), 8);
    // A distance that no two candidates have leaves them apart.
    let source = problem(&[(0, 0), (0, 0), (1, 0)], &[(0, 1, 40, true, 0)]);
    let network =
        Network::of(&Compiled::new(&source).expect("a sound problem")).expect("no products");
    assert_eq!(network.len(), 3);
}
