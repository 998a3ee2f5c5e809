//! Links of one kind in one air are served as the largest set is found, and its bound is a bound of theirs.

use proptest::prelude::*;
use sidon::problem::{Coupling, Degree, Domain, Problem, Window};
use sidon::search::{
    Budget, Control, Method, Objective, Options, Outcome, SetQuestion, Status, largest_set, solve,
};

use crate::search::uniform;

const ENGINES: [Method; 2] = [Method::LocalSearch, Method::Portfolio];

fn run(problem: &Problem, method: Method, iterations: u64, threads: usize) -> Outcome {
    let options = Options {
        objective: Objective::MaxService,
        method,
        seed: 3,
        budget: Budget { iterations: Some(iterations), seconds: None },
        threads: Some(threads),
    };
    solve(problem, &options, &Control::default()).expect("a sound problem")
}

/// One channel of 6 MHz in 25 kHz steps, 350 kHz apart, guards of 100 kHz: nine fit, by an independent exhaustive search.
fn channel(links: usize) -> Problem {
    uniform(links, 240, 14, &[("2A-B", 4), ("A+B-C", 4)])
}

#[test]
fn as_many_are_served_as_fit_and_more_are_ruled_out() {
    for method in ENGINES {
        let served = run(&channel(9), method, 12_000, 2);
        assert_eq!((served.unserved, served.status), (0, Status::Optimal));
        let short = run(&channel(12), method, 12_000, 2);
        assert_eq!((short.unserved, short.bound, short.status), (3, 3, Status::Optimal));
        assert!(short.iterations <= 12_000);
    }
}

#[test]
fn the_heaviest_links_are_served() {
    let mut problem = channel(12);
    for (i, link) in problem.links.iter_mut().enumerate() {
        link.priority = 1 + i as u32 % 4;
    }
    // Of three links of each priority the three lightest stay out.
    let outcome = run(&problem, Method::LocalSearch, 12_000, 2);
    assert_eq!((outcome.unserved, outcome.bound), (3, 3));
    assert!((0..12).all(|i| outcome.assignment[i].is_none() == (i % 4 == 0)));
}

#[test]
fn isolated_zones_are_served_each_by_a_set_of_its_own() {
    let mut problem = channel(22);
    problem.zones.push("yard".into());
    problem.domains.push(Domain::Raster {
        ranges_hz: vec![[1_000, 1_239]],
        step_hz: 1,
        origin_hz: 0,
    });
    for link in &mut problem.links[11..] {
        (link.zone, link.domain) = (1, 1);
    }
    let outcome = run(&problem, Method::LocalSearch, 24_000, 2);
    assert_eq!((outcome.unserved, outcome.bound, outcome.status), (4, 4, Status::Optimal));
    // Coupled they share the air but not their frequencies: no part of one kind, whose bounds add up.
    problem.couplings.push(Coupling { a: 0, b: 1, degree: Degree::Full });
    let coupled = run(&problem, Method::LocalSearch, 2_000, 2);
    assert!(coupled.bound <= coupled.unserved && coupled.unserved > 4);
}

#[test]
fn a_locked_link_stays_and_the_others_are_fitted_around_it() {
    let mut problem = channel(8);
    problem.links[5].locked_hz = Some(100);
    let outcome = run(&problem, Method::LocalSearch, 12_000, 2);
    assert_eq!(outcome.assignment[5], Some(100));
    assert!(outcome.unserved <= 1 && outcome.hard == 0);
}

#[test]
fn a_band_half_taken_serves_what_the_largest_set_finds() {
    let free: Vec<i64> = (0..5_520).filter(|k| k / 240 % 2 == 0).collect();
    let guards = ["2A-B", "A+B-C"].map(|form| (form.parse().expect("a form of the trade"), 4));
    let question =
        SetQuestion { candidates_hz: free.clone(), separation_hz: 14, guards: guards.to_vec() };
    let budget = Budget { iterations: Some(3_200), seconds: None };
    let options = Options { budget, seed: 3, threads: Some(2), ..Options::default() };
    let set = largest_set(&question, &options, &Control::default()).expect("a sound question");
    let mut problem = question.problem(set.frequencies_hz.len());
    for link in problem.links.iter_mut().skip(1).step_by(2) {
        link.windows = vec![Window { start: 0, end: 60 }];
    }
    let outcomes = [1, 2, 4].map(|threads| run(&problem, Method::LocalSearch, 8_000, threads));
    assert_eq!((outcomes[0].unserved, outcomes[0].hard), (0, 0));
    assert!(outcomes.iter().all(|other| other.assignment == outcomes[0].assignment));
}

fn problems() -> impl Strategy<Value = Problem> {
    let links = proptest::collection::vec((0_usize..2, 0_usize..4, 1_u32..4, 0_usize..8), 3..7);
    let candidates = proptest::collection::btree_set(0_i64..30, 2..9);
    let rules = (1_i64..4, 0_i64..4, 0_i64..4);
    (links, candidates, rules, 0_usize..3).prop_map(|(links, candidates, rules, degree)| {
        let (separation_hz, two_tone, three_tone) = rules;
        let guards = [("2A-B", two_tone), ("A+B-C", three_tone)];
        let mut problem = uniform(links.len(), 1, separation_hz, &guards);
        let candidates: Vec<i64> = candidates.into_iter().collect();
        problem.zones.push("yard".into());
        let degree = [Degree::None, Degree::Separation, Degree::Full][degree];
        problem.couplings.push(Coupling { a: 0, b: 1, degree });
        for (link, (zone, window, priority, lock)) in problem.links.iter_mut().zip(links) {
            (link.zone, link.priority) = (zone, priority);
            // Always, in the morning, in the evening, or astride of noon.
            let spans = [None, Some((0, 12)), Some((12, 24)), Some((6, 18))];
            let window = spans[window].map(|(start, end)| Window { start, end });
            link.windows = window.into_iter().collect();
            link.locked_hz = (lock == 0).then_some(candidates[0]);
        }
        problem.domains = vec![Domain::Frequencies(candidates)];
        problem
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn bounds_hold_against_exact_search(problem in problems()) {
        let options = Options { method: Method::BranchAndBound, ..Options::default() };
        // Locks that break a rule among themselves are refused as a problem.
        if let Ok(exact) = solve(&problem, &options, &Control::default()) {
            prop_assert_eq!(exact.status, Status::Optimal);
            for method in ENGINES {
                let found = run(&problem, method, 10_000, 1);
                prop_assert!(found.bound <= exact.unserved && exact.unserved <= found.unserved);
                prop_assert_eq!(found.hard, 0);
            }
        }
    }
}

#[test]
fn links_of_two_kinds_in_one_air_begin_from_a_set_under_the_stricter_rules() {
    // 138 MHz in 25 kHz steps, 39 carriers of one kind fit. Twelve of these 36 tune the upper half only and are
    // guarded less; local search by itself leaves seven out in the same number of iterations, measured.
    let mut problem = uniform(36, 5_521, 14, &[("2A-B", 4), ("A+B-C", 4)]);
    let mut other = problem.profiles[0].clone();
    other.name = "in-ear".into();
    other.guards[0].guard_hz = 3;
    problem.profiles.push(other);
    problem.domains.push(Domain::Raster {
        ranges_hz: vec![[2_800, 5_520]],
        step_hz: 1,
        origin_hz: 0,
    });
    for link in &mut problem.links[24..] {
        (link.profile, link.domain) = (1, 1);
    }
    let outcome = run(&problem, Method::LocalSearch, 12_000, 2);
    assert_eq!((outcome.refused, outcome.status), (0, Status::Optimal));
    assert_eq!(outcome.assignment, run(&problem, Method::LocalSearch, 12_000, 1).assignment);
}

#[test]
fn sessions_one_after_another_share_a_set() {
    // Eight links throughout and three sessions of 28: 36 carriers at a time where 39 fit, on the same frequencies
    // again and again.
    let mut problem = uniform(92, 5_521, 14, &[("2A-B", 4), ("A+B-C", 4)]);
    for (i, link) in problem.links.iter_mut().enumerate().skip(8) {
        let session = (i as i64 - 8) / 28;
        link.windows = vec![Window { start: 10 * session, end: 10 * session + 9 }];
    }
    let outcome = run(&problem, Method::LocalSearch, 12_000, 2);
    assert_eq!((outcome.refused, outcome.status), (0, Status::Optimal));
}
