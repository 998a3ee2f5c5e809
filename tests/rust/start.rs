//! Warm starts: never worse than the start, faults stated, and repair with the fewest retuned links.

use proptest::prelude::*;
use sidon::Error;
use sidon::check::check;
use sidon::problem::{Assignment, Domain, Problem};
use sidon::search::{
    Budget, Control, Method, Objective, Options, Outcome, Session, Status, solve_from,
};

use crate::methods::{METHODS, OBJECTIVES, brute_force, tiny};
use crate::problems::problem;

fn run(
    problem: &Problem,
    objective: Objective,
    method: Method,
    start: &[Option<i64>],
    threads: usize,
) -> Outcome {
    run_for(6_000, problem, objective, method, start, threads)
}

fn run_for(
    iterations: u64,
    problem: &Problem,
    objective: Objective,
    method: Method,
    start: &[Option<i64>],
    threads: usize,
) -> Outcome {
    let options = Options {
        objective,
        method,
        seed: 7,
        budget: Budget { iterations: Some(iterations), seconds: None },
        threads: Some(threads),
    };
    solve_from(problem, &options, Some(start), &Control::default()).expect("a sound problem")
}

/// What a plan is worth, in the order of weight; less is better.
fn worth(problem: &Problem, objective: Objective, plan: &[Option<i64>]) -> (u64, u64, u64) {
    let report = check(problem, plan).expect("a sound problem");
    let mut used: Vec<i64> = plan.iter().copied().flatten().collect();
    used.sort_unstable();
    used.dedup();
    let span = used.first().zip(used.last()).map_or(0, |(low, high)| (high - low) as u64);
    let broken = (report.hard << 32) + report.unserved;
    match objective {
        Objective::MaxService => (broken, report.soft, 0),
        Objective::MinInterference => (report.unserved, (report.hard << 32) + report.soft, 0),
        Objective::MinSpan => (broken, span, report.soft),
        Objective::MinOrder => (broken, used.len() as u64, report.soft),
    }
}

/// `listed[i]` for each pick; none where the pick goes beyond.
fn start_of(problem: &Problem, picks: &[usize]) -> Assignment {
    let listed = problem.domains[0].candidates_hz();
    let locks = problem.links.iter().map(|link| link.locked_hz);
    picks.iter().zip(locks).map(|(&at, lock)| lock.or(listed.get(at).copied())).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_method_ends_worse_than_it_began(
        problem in tiny(),
        picks in proptest::collection::vec(0_usize..7, 5),
    ) {
        let start = start_of(&problem, &picks[..problem.links.len()]);
        for objective in OBJECTIVES {
            let begun = worth(&problem, objective, &start);
            for method in METHODS {
                let outcome = run(&problem, objective, method, &start, 2);
                let ended = worth(&problem, objective, &outcome.assignment);
                prop_assert!(ended <= begun, "{:?} {:?}: {:?} after {:?}", objective, method, ended, begun);
            }
        }
    }

}

proptest! {
    // The methods are heuristics, so the cases are fixed ones.
    #![proptest_config(ProptestConfig {
        cases: 40,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(1),
        ..ProptestConfig::default()
    })]

    #[test]
    fn repair_moves_as_few_links_as_brute_force(
        problem in tiny(),
        picks in proptest::collection::vec(0_usize..7, 5),
        weights in proptest::collection::vec(1_u32..4, 5),
    ) {
        let start = start_of(&problem, &picks[..problem.links.len()]);
        let repair = repair(&problem, &start, &weights);
        let best = brute_force(&repair, Objective::MaxService).expect("nothing served is a plan");
        for method in [Method::LocalSearch, Method::Lns, Method::Portfolio] {
            let outcome = run_for(30_000, &repair, Objective::MaxService, method, &start, 2);
            prop_assert_eq!((outcome.unserved, outcome.soft), best, "{:?}", method);
        }
    }
}

/// The problem with a cost on every frequency of a link but the one it has.
fn repair(problem: &Problem, start: &[Option<i64>], weights: &[u32]) -> Problem {
    let mut repair = problem.clone();
    repair.costs.clear();
    for ((link, &hz), &weight) in repair.links.iter_mut().zip(start).zip(weights) {
        link.costs = hz.map(|home| {
            let all = repair.domains[link.domain].candidates_hz();
            repair.costs.push(all.iter().map(|&f| if f == home { 0 } else { weight }).collect());
            repair.costs.len() - 1
        });
    }
    repair
}

#[test]
fn a_new_link_moves_no_more_than_it_must() {
    // Frequencies 0 to 9, two apart. 0 2 4 6 8 are full with five; 1 3 5 7 and a sixth link on 9: the
    // shift of one link suffices only where a gap of three is: 0 3 6 9 takes no fifth without moves.
    let mut problem = problem(5, 2, &[]);
    problem.domains = vec![Domain::Frequencies((0..10).collect())];
    let start = [Some(0), Some(3), Some(6), Some(9), None];
    let repair = repair(&problem, &start, &[1; 5]);
    for seed_threads in [1, 2] {
        let outcome =
            run(&repair, Objective::MaxService, Method::LocalSearch, &start, seed_threads);
        // 0 3 6 9 has gaps of three; one link moved by one (3 to 2) opens 4: one retune, as brute force.
        assert_eq!((outcome.unserved, outcome.soft), (0, 1));
    }
}

#[test]
fn a_start_is_repeatable_on_any_number_of_threads() {
    let mut large = problem(24, 11, &[("2A-B", 3)]);
    large.costs = vec![(0..1_000).map(|f| f % 7).collect()];
    for link in &mut large.links {
        link.costs = Some(0);
    }
    let start: Assignment = (0..24).map(|i| (i % 5 > 0).then_some(i * 40)).collect();
    for objective in [Objective::MaxService, Objective::MinInterference] {
        let plan = |threads| run(&large, objective, Method::Portfolio, &start, threads).assignment;
        assert_eq!(plan(1), plan(2), "{objective:?}");
        assert_eq!(plan(1), plan(4), "{objective:?}");
    }
}

#[test]
fn every_fault_of_a_start_is_told() {
    let problem = problem(3, 2, &[]);
    let faults = |start: &[Option<i64>]| {
        let control = Control::default();
        let solved = solve_from(&problem, &Options::default(), Some(start), &control);
        match solved.expect_err("a faulty start") {
            Error::Invalid(faults) => {
                faults.into_iter().map(|fault| (fault.place, fault.what)).collect::<Vec<_>>()
            }
            other => panic!("{other}"),
        }
    };
    assert_eq!(faults(&[Some(1)]), [("start".into(), "it has 1 entries for 3 links".into())]);
    assert_eq!(
        faults(&[Some(-4), None, Some(1_000)]),
        [
            ("start[0]".into(), "-4 Hz is no candidate of \"L0\"".into()),
            ("start[2]".into(), "1000 Hz is no candidate of \"L2\"".into()),
        ]
    );
}

#[test]
fn a_lock_stands_whatever_the_start_says_and_a_session_begins_with_it() {
    let mut problem = problem(3, 10, &[]);
    problem.links[0].locked_hz = Some(50);
    let start = [Some(400), Some(45), Some(600)];
    for method in METHODS {
        let outcome = run(&problem, Objective::MaxService, method, &start, 1);
        assert_eq!(outcome.assignment[0], Some(50), "{method:?}");
        assert_eq!(outcome.unserved, 0, "{method:?}");
    }
    let options = Options::default();
    let (_, table) = Session::open_from(&problem, &options, Some(&start), Control::default())
        .expect("a sound start");
    // 45 is too near to the lock: where hard rules must hold that link is left to be placed.
    let plan: Assignment = (0..3).map(|link| table.frequency_hz(link)).collect();
    assert_eq!(plan, [Some(50), None, Some(600)]);
}

#[test]
fn a_repair_that_moves_what_it_must_is_proved() {
    // The second link has no home: every frequency costs it 3, so nothing is below 3.
    let mut problem = problem(2, 2, &[]);
    problem.domains = vec![Domain::Frequencies((0..10).collect())];
    let start = [Some(4), None];
    let mut repair = repair(&problem, &start, &[1; 2]);
    repair.costs.push(vec![3; 10]);
    repair.links[1].costs = Some(1);
    let outcome = run(&repair, Objective::MaxService, Method::LocalSearch, &start, 1);
    assert_eq!((outcome.unserved, outcome.soft), (0, 3));
    assert_eq!(outcome.status, Status::Optimal);
    assert!(outcome.iterations < 6_000);
}
