//! Every method on every objective: against brute force, against published optima, and repeatable.

use proptest::prelude::*;
use sidon::check::check;
use sidon::problem::{
    Domain, Guard, Link, PairRule, Problem, Profile, ProfileSeparation, Relation, Weight,
};
use sidon::search::{Budget, Control, Method, Objective, Options, Outcome, Status, solve};
use sidon::table::HARD;

pub(crate) const METHODS: [Method; 10] = [
    Method::FirstFit,
    Method::Dsatur,
    Method::Rlf,
    Method::LocalSearch,
    Method::Tabucol,
    Method::Partialcol,
    Method::SimulatedAnnealing,
    Method::Lns,
    Method::BranchAndBound,
    Method::Portfolio,
];
pub(crate) const OBJECTIVES: [Objective; 4] =
    [Objective::MaxService, Objective::MinInterference, Objective::MinSpan, Objective::MinOrder];

fn link(id: usize, profile: usize) -> Link {
    Link {
        id: format!("link {id}"),
        profile,
        zone: 0,
        windows: vec![],
        domain: 0,
        costs: None,
        priority: 1,
        locked_hz: None,
    }
}

/// Links as vertices, `(a, b, distance)` as edges, frequencies `0..colours`.
pub(crate) fn graph(vertices: usize, edges: &[(usize, usize, i64)], colours: i64) -> Problem {
    let mut problem = cells(&[vertices], &[vec![0]], colours - 1);
    problem.pairs = edges
        .iter()
        .map(|&(a, b, distance)| PairRule {
            a,
            b,
            relation: Relation::AtLeast(distance),
            weight: Weight::Hard,
        })
        .collect();
    problem
}

/// Cells with demands and a separation matrix, frequencies `0..=top`: one profile for each cell.
pub(crate) fn cells(demand: &[usize], matrix: &[Vec<i64>], top: i64) -> Problem {
    let n = demand.len();
    let off_diagonal = (0..n).flat_map(|a| (0..a).map(move |b| (a, b)));
    Problem {
        profiles: (0..n)
            .map(|i| Profile {
                name: format!("cell {i}"),
                separation_hz: matrix[i][i],
                guards: vec![],
                mixes: true,
            })
            .collect(),
        separations: off_diagonal
            .map(|(a, b)| ProfileSeparation { a, b, separation_hz: matrix[a][b] })
            .collect(),
        zones: vec!["site".into()],
        couplings: vec![],
        domains: vec![Domain::Raster { ranges_hz: vec![[0, top]], step_hz: 1, origin_hz: 0 }],
        costs: vec![],
        links: (0..n)
            .flat_map(|i| std::iter::repeat_n(i, demand[i]))
            .enumerate()
            .map(|(id, cell)| link(id, cell))
            .collect(),
        pairs: vec![],
    }
}

fn run(problem: &Problem, objective: Objective, method: Method, iterations: u64) -> Outcome {
    let options = Options {
        objective,
        method,
        seed: 3,
        budget: Budget { iterations: Some(iterations), seconds: None },
        threads: Some(2),
    };
    solve(problem, &options, &Control::default()).expect("a sound problem")
}

/// The least value of the objective over all plans; a locked link stays where it is.
pub(crate) fn brute_force(problem: &Problem, objective: Objective) -> Option<(u64, u64)> {
    let lists: Vec<Vec<Option<i64>>> = problem
        .links
        .iter()
        .map(|link| {
            let all = problem.domains[link.domain].candidates_hz().into_iter().map(Some);
            match link.locked_hz {
                Some(hz) => vec![Some(hz)],
                None => all.chain([None]).collect(),
            }
        })
        .collect();
    let mut best = None;
    let mut at = vec![0; lists.len()];
    loop {
        let plan: Vec<Option<i64>> = lists.iter().zip(&at).map(|(list, &i)| list[i]).collect();
        let report = check(problem, &plan).expect("a sound problem");
        let mut used: Vec<i64> = plan.iter().copied().flatten().collect();
        used.sort_unstable();
        let full = report.refused == 0;
        let value = match objective {
            Objective::MaxService => (report.hard == 0).then_some((report.unserved, report.soft)),
            Objective::MinInterference => {
                full.then_some((report.hard * HARD as u64 + report.soft, 0))
            }
            Objective::MinSpan => (full && report.hard == 0)
                .then(|| ((used[used.len() - 1] - used[0]) as u64, report.soft)),
            Objective::MinOrder => (full && report.hard == 0).then(|| {
                used.dedup();
                (used.len() as u64, report.soft)
            }),
        };
        if let Some(value) = value {
            best = Some(best.map_or(value, |known: (u64, u64)| known.min(value)));
        }
        let Some(next) = (0..at.len()).find(|&i| at[i] + 1 < lists[i].len()) else { return best };
        at[next] += 1;
        at[..next].fill(0);
    }
}

prop_compose! {
    /// Up to five links with guards, separations, pair rules, soft costs and a lock.
    pub(crate) fn tiny()(
        separation in 0_i64..4,
        guard in 0_i64..3,
        second in 0_i64..3,
        profiles in proptest::collection::vec(0_usize..2, 2..6),
        listed in proptest::collection::btree_set(0_i64..16, 3..6),
        costs in proptest::option::of(proptest::collection::vec(0_u32..5, 6)),
        priority in 1_u32..4,
        lock in any::<bool>(),
        pairs in proptest::collection::vec((0..6_usize, 0..6_usize, 0_i64..6, any::<bool>(), 0_u32..9), 0..4),
    ) -> Problem {
        let mut problem = cells(&[1, 1], &[vec![separation, second], vec![second, separation]], 9);
        problem.profiles[0].guards = ["2A-B", "A+B-C"].map(|form| Guard {
            form: form.parse().expect("a form of the trade"),
            guard_hz: guard,
            weight: Weight::Hard,
        }).to_vec();
        let listed: Vec<i64> = listed.into_iter().collect();
        if let Some(costs) = costs {
            problem.costs = vec![costs[..listed.len()].to_vec()];
        }
        problem.links = profiles.iter().enumerate().map(|(i, &profile)| link(i, profile)).collect();
        for link in &mut problem.links {
            link.costs = (!problem.costs.is_empty()).then_some(0);
        }
        problem.links[0].priority = priority;
        problem.links[1].locked_hz = lock.then_some(listed[1]);
        problem.domains = vec![Domain::Frequencies(listed)];
        let n = problem.links.len();
        for (a, b, hz, exact, weight) in pairs {
            if a % n != b % n {
                problem.pairs.push(PairRule {
                    a: a % n,
                    b: b % n,
                    relation: if exact { Relation::Exactly(hz) } else { Relation::AtLeast(hz) },
                    weight: if weight == 0 { Weight::Hard } else { Weight::Soft(weight) },
                });
            }
        }
        problem
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_method_beats_brute_force_and_exact_ones_equal_it(problem in tiny()) {
        for objective in OBJECTIVES {
            let best = brute_force(&problem, objective);
            for method in METHODS {
                let outcome = run(&problem, objective, method, 3_000);
                let report = check(&problem, &outcome.assignment).expect("a sound problem");
                prop_assert_eq!((report.hard, report.soft), (outcome.hard, outcome.soft));
                let value = outcome.objective.map(|value| match objective {
                    Objective::MinInterference => (value, 0),
                    _ => (value, outcome.soft),
                });
                let exact = matches!(method, Method::BranchAndBound | Method::Portfolio);
                match (best, value) {
                    (Some(best), Some(value)) => {
                        prop_assert!(value >= best, "{:?} {:?}: {:?} < {:?}", objective, method, value, best);
                        prop_assert!(!exact || value == best, "{:?} {:?}: {:?}, not {:?}", objective, method, value, best);
                        prop_assert!(outcome.lower_bound <= best.0, "{:?} {:?}", objective, method);
                        prop_assert!(outcome.status != Status::Optimal || value.0 == best.0);
                    }
                    (None, Some(value)) => prop_assert!(false, "{:?} {:?} found {:?} where nothing is", objective, method, value),
                    (Some(best), None) => prop_assert!(!exact, "{:?} {:?} missed {:?}", objective, method, best),
                    (None, None) => {}
                }
            }
        }
    }
}

#[test]
fn every_method_is_repeatable_on_any_number_of_threads() {
    let ring: Vec<_> = (0..24).flat_map(|i| [(i, (i + 1) % 24, 2), (i, (i + 5) % 24, 1)]).collect();
    let problem = graph(24, &ring, 9);
    for objective in OBJECTIVES {
        for method in METHODS {
            let plan = |threads| {
                let options = Options {
                    objective,
                    method,
                    seed: 5,
                    budget: Budget { iterations: Some(6_000), seconds: None },
                    threads: Some(threads),
                };
                solve(&problem, &options, &Control::default()).expect("a sound problem").assignment
            };
            assert_eq!(plan(1), plan(3), "{objective:?} {method:?}");
        }
    }
}

#[test]
fn searches_colour_queens_graphs_with_as_many_frequencies_as_columns() {
    // Chvatal's queens page: the 5 x 5 and 7 x 7 queens graphs have chromatic numbers 5 and 7.
    for side in [5_usize, 7] {
        let mut edges = Vec::new();
        for a in 0..side * side {
            for b in 0..a {
                let (rows, columns) =
                    ((a / side).abs_diff(b / side), (a % side).abs_diff(b % side));
                if rows == 0 || columns == 0 || rows == columns {
                    edges.push((a, b, 1));
                }
            }
        }
        let problem = graph(side * side, &edges, side as i64 + 6);
        for method in [Method::Tabucol, Method::Partialcol, Method::Portfolio] {
            for objective in [Objective::MinSpan, Objective::MinOrder] {
                let outcome = run(&problem, objective, method, 200_000);
                let colours = outcome.objective.expect("a full plan")
                    + u64::from(objective == Objective::MinSpan);
                assert_eq!(colours, side as u64, "{method:?} {objective:?}");
                assert_eq!(outcome.status, Status::Optimal);
            }
        }
    }
}

#[test]
fn a_uniform_cluster_is_sequenced_to_the_optimum() {
    // Seven mutually interfering cells, two apart, five within a cell, three carriers each: 21 carriers
    // 2 apart make 40, and a cyclic plan of period 14 reaches it.
    let matrix: Vec<Vec<i64>> =
        (0..7).map(|a| (0..7).map(|b| if a == b { 5 } else { 2 }).collect()).collect();
    let outcome = run(&cells(&[3; 7], &matrix, 60), Objective::MinSpan, Method::Portfolio, 1_000);
    assert_eq!((outcome.objective, outcome.lower_bound), (Some(40), 40));
    assert_eq!(outcome.status, Status::Optimal);
}

#[test]
fn a_domain_too_small_for_all_is_no_panic() {
    let matrix = [vec![5, 2], vec![2, 5]];
    for method in METHODS {
        let outcome = run(&cells(&[4, 4], &matrix, 9), Objective::MinSpan, method, 2_000);
        assert_eq!(outcome.objective, None, "{method:?}");
        assert_ne!(outcome.status, Status::Optimal, "{method:?}");
    }
}
