//! Bandwidth colouring and multicolouring: published sets (Trick's geometric graphs) and random ones.
//!
//! Channel counts: tables of Lai and Hao 2013 and Jin and Hao 2014, here where a clique bound proves
//! them. The files stand beside the repository in `../shared/benchmarks`; without them the test says so and
//! passes.

use std::fs;
use std::path::Path;

use sidon::check::check;
use sidon::problem::Problem;
use sidon::search::{Budget, Control, Method, Objective, Options, Outcome, Status, solve};

use crate::methods::cells;

/// Demands and least distances of a file of the form `n vertex demand`, `e vertex vertex distance`.
fn read(path: &Path) -> (Vec<usize>, Vec<Vec<i64>>) {
    let text = fs::read_to_string(path).expect("a readable file");
    let (mut demand, mut matrix) = (vec![], vec![]);
    for line in text.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        let number = |at: usize| words[at].parse::<usize>().expect("a number");
        match words.first() {
            Some(&"p") => {
                demand = vec![1; number(2)];
                matrix = vec![vec![0; number(2)]; number(2)];
            }
            Some(&"n") => demand[number(1) - 1] = number(2),
            Some(&"e") => {
                let (a, b) = (number(1) - 1, number(2) - 1);
                matrix[a][b] = number(3) as i64;
                matrix[b][a] = number(3) as i64;
            }
            _ => {}
        }
    }
    (demand, matrix)
}

fn run(problem: &Problem, iterations: u64, threads: usize) -> Outcome {
    let options = Options {
        objective: Objective::MinSpan,
        method: Method::Portfolio,
        seed: 1,
        budget: Budget { iterations: Some(iterations), seconds: None },
        threads: Some(threads),
    };
    solve(problem, &options, &Control::default()).expect("a sound problem")
}

#[test]
#[allow(clippy::print_stderr)] // a skipped test must say so
fn published_channel_counts_are_reached() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/benchmarks/bmcp/geom");
    // (file, whether demands count, channels)
    let sets = [
        ("GEOM20a", true, 169),
        ("GEOM30b", true, 77),
        ("GEOM40", true, 167),
        ("GEOM40b", true, 74),
        ("GEOM40b", false, 33),
        ("GEOM70", false, 38),
    ];
    for (name, multi, channels) in sets {
        let path = folder.join(format!("{name}.col"));
        if !path.exists() {
            eprintln!("skipped: {} is not there", path.display());
            continue;
        }
        let (mut demand, matrix) = read(&path);
        if !multi {
            demand.fill(1);
        }
        let outcome = run(&cells(&demand, &matrix, channels * 3 / 2), 400_000, 2);
        assert_eq!(outcome.objective, Some(channels as u64 - 1), "{name}");
        assert_eq!(outcome.status, Status::Optimal, "{name}");
    }
}

/// Cells at invented places, nearer ones further apart in frequency, as in Trick's generator.
fn scattered(n: usize, most: usize) -> (Vec<usize>, Vec<Vec<i64>>) {
    let place = |i: usize| ((i * 37 % 101) as i64, (i * 53 % 97) as i64);
    let apart = |a: usize, b: usize| {
        let ((ax, ay), (bx, by)) = (place(a), place(b));
        let squared = (ax - bx).pow(2) + (ay - by).pow(2);
        if a == b { 10 } else { (9 - squared / 100).max(0) }
    };
    let matrix = (0..n).map(|a| (0..n).map(|b| apart(a, b)).collect()).collect();
    ((0..n).map(|i| 1 + i * 7 % most).collect(), matrix)
}

#[test]
fn a_plan_is_clean_and_the_same_on_any_number_of_threads() {
    for most in [1, 4] {
        let (demand, matrix) = scattered(30, most);
        let problem = cells(&demand, &matrix, 400);
        let outcome = run(&problem, 150_000, 1);
        let report = check(&problem, &outcome.assignment).expect("a sound plan");
        assert_eq!((report.hard, report.unserved), (0, 0));
        assert!(outcome.objective >= Some(outcome.lower_bound));
        for threads in [2, 3] {
            assert_eq!(run(&problem, 150_000, threads).assignment, outcome.assignment);
        }
    }
}

#[test]
fn a_domain_that_only_just_holds_a_plan_is_enough() {
    let matrix: Vec<Vec<i64>> =
        (0..3).map(|a| (0..3).map(|b| if a == b { 6 } else { 2 }).collect()).collect();
    // Nine carriers two apart take 16 steps, and each cell in turn keeps six within it.
    let problem = cells(&[3, 3, 3], &matrix, 16);
    let outcome = run(&problem, 20_000, 1);
    assert_eq!(outcome.objective, Some(16));
}
