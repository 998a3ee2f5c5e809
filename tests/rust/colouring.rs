//! Plain graph colouring by the portfolio: known chromatic numbers, windows of uneven candidates, threads.

use sidon::check::check;
use sidon::problem::{Domain, Problem};
use sidon::search::{
    Budget, Control, Method, Objective, Options, Outcome, Status, solve, solve_from,
};

use crate::methods::graph;

fn options(objective: Objective, iterations: u64, threads: usize) -> Options {
    Options {
        objective,
        method: Method::Portfolio,
        seed: 3,
        budget: Budget { iterations: Some(iterations), seconds: None },
        threads: Some(threads),
    }
}

/// The answer, recounted; the number of frequencies in it.
fn coloured(problem: &Problem, objective: Objective, iterations: u64) -> (Outcome, usize) {
    let options = options(objective, iterations, 2);
    let outcome = solve(problem, &options, &Control::default()).expect("a sound problem");
    let report = check(problem, &outcome.assignment).expect("small");
    assert_eq!((report.hard, report.refused), (0, 0));
    let mut used: Vec<_> = outcome.assignment.iter().flatten().collect();
    used.sort_unstable();
    used.dedup();
    (outcome.clone(), used.len())
}

/// Mycielski's construction, begun with one edge: no triangles, one colour more each time.
fn mycielski(steps: usize) -> (usize, Vec<(usize, usize, i64)>) {
    let (mut n, mut edges) = (2, vec![(0, 1, 1)]);
    for _ in 0..steps {
        let copies: Vec<_> =
            edges.iter().flat_map(|&(a, b, _)| [(a, n + b, 1), (b, n + a, 1)]).collect();
        edges.extend(copies);
        edges.extend((0..n).map(|v| (n + v, 2 * n, 1)));
        n = 2 * n + 1;
    }
    (n, edges)
}

/// A graph with edges at random, the same on every machine.
fn random(n: usize, tenths: u64) -> Vec<(usize, usize, i64)> {
    let mut state = 88_172_645_463_325_252_u64;
    let mut edges = Vec::new();
    for a in 0..n {
        for b in 0..a {
            // Marsaglia 2003, xorshift.
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            if state % 10 < tenths {
                edges.push((a, b, 1));
            }
        }
    }
    edges
}

#[test]
fn known_chromatic_numbers_are_met() {
    // Mycielski 1955: triangle-free, chromatic number 2 plus the number of steps.
    for steps in 1..5 {
        let (n, edges) = mycielski(steps);
        for objective in [Objective::MinSpan, Objective::MinOrder] {
            let (_, used) = coloured(&graph(n, &edges, 12), objective, 20_000);
            assert_eq!(used, steps + 2, "{objective:?}");
        }
    }
    // An even wheel's rim is odd: four colours; an odd cycle three; a complete graph one for each.
    let rim = |n: usize| (0..n).map(move |v| (v, (v + 1) % n, 1));
    let wheel: Vec<_> = rim(15).chain((0..15).map(|v| (v, 15, 1))).collect();
    assert_eq!(coloured(&graph(16, &wheel, 9), Objective::MinSpan, 2_000).1, 4);
    assert_eq!(
        coloured(&graph(15, &rim(15).collect::<Vec<_>>(), 9), Objective::MinOrder, 2_000).1,
        3
    );
    let complete: Vec<_> = (0..12).flat_map(|a| (0..a).map(move |b| (a, b, 1))).collect();
    let (outcome, used) = coloured(&graph(12, &complete, 14), Objective::MinSpan, 2_000);
    assert_eq!((used, outcome.status), (12, Status::Optimal));
}

#[test]
fn colours_stand_where_candidates_are_closest() {
    let mut problem = graph(15, &(0..15).map(|v| (v, (v + 1) % 15, 1)).collect::<Vec<_>>(), 9);
    problem.domains = vec![Domain::Frequencies(vec![0, 10, 20, 23, 25, 50, 90])];
    let (outcome, used) = coloured(&problem, Objective::MinSpan, 2_000);
    // An odd cycle needs three; 20, 23 and 25 are the closest.
    assert_eq!((outcome.objective, used), (Some(5), 3));
    assert!(outcome.assignment.iter().flatten().all(|hz| (20..=25).contains(hz)));
}

#[test]
fn threads_do_not_change_a_colouring() {
    let problem = graph(60, &random(60, 5), 40);
    for objective in [Objective::MinSpan, Objective::MinOrder] {
        let plan = |threads| {
            let options = options(objective, 60_000, threads);
            solve(&problem, &options, &Control::default()).expect("a sound problem").assignment
        };
        let one = plan(1);
        assert_eq!(one, plan(2));
        assert_eq!(one, plan(4));
    }
}

#[test]
fn too_few_candidates_leave_links_out_without_a_broken_rule() {
    let complete: Vec<_> = (0..12).flat_map(|a| (0..a).map(move |b| (a, b, 1))).collect();
    for objective in [Objective::MinSpan, Objective::MinOrder] {
        let problem = graph(12, &complete, 9);
        let outcome = solve(&problem, &options(objective, 3_000, 2), &Control::default())
            .expect("a sound problem");
        assert_eq!((outcome.hard, outcome.refused), (0, 3));
    }
}

#[test]
fn a_colouring_given_is_never_made_worse() {
    let problem = graph(60, &random(60, 5), 40);
    let (best, used) = coloured(&problem, Objective::MinSpan, 200_000);
    for iterations in [0, 1, 500] {
        let options = options(Objective::MinSpan, iterations, 1);
        let start = Some(best.assignment.as_slice());
        let outcome =
            solve_from(&problem, &options, start, &Control::default()).expect("a sound problem");
        assert!(outcome.objective.expect("a full plan") < used as u64);
    }
}
