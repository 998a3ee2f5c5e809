//! Cellular min-span sets (Philadelphia and relatives) against their published spans.
//!
//! Spans: Anderson 1973; Valenzuela, Hurley and Smith 1998; FAP web. The files stand beside the
//! repository in `../shared/benchmarks`; without them the test says so and passes.

use std::fs;
use std::path::Path;

use serde_json::Value;
use sidon::problem::Problem;
use sidon::search::{Budget, Control, Method, Objective, Options, Status, solve};

use crate::methods::cells;

fn numbers(value: &Value) -> Vec<i64> {
    value.as_array().expect("a list").iter().map(|n| n.as_i64().expect("a number")).collect()
}

/// The problem and its published span.
fn load(path: &Path) -> (Problem, u64) {
    let text = fs::read_to_string(path).expect("a readable file");
    let file: Value = serde_json::from_str(&text).expect("a JSON file");
    let demand: Vec<usize> = numbers(&file["demand"]).iter().map(|&n| n as usize).collect();
    let rows = file["separation_matrix"].as_array().expect("a matrix");
    let matrix: Vec<Vec<i64>> = rows.iter().map(numbers).collect();
    let span = file["best_known_span"].as_u64().expect("a span");
    (cells(&demand, &matrix, span as i64 * 5 / 4), span)
}

#[test]
#[allow(clippy::print_stderr)] // a skipped test must say so
fn published_spans_are_reached_and_never_beaten() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/benchmarks/philadelphia");
    let Ok(files) = fs::read_dir(&folder) else {
        eprintln!("skipped: {} is not there", folder.display());
        return;
    };
    let mut paths: Vec<_> = files.filter_map(|file| Some(file.ok()?.path())).collect();
    paths.sort();
    for path in paths.iter().filter(|path| path.extension().is_some_and(|e| e == "json")) {
        let (problem, span) = load(path);
        let options = Options {
            objective: Objective::MinSpan,
            method: Method::Portfolio,
            seed: 1,
            budget: Budget { iterations: Some(160_000), seconds: None },
            threads: Some(2),
        };
        let outcome = solve(&problem, &options, &Control::default()).expect("a sound problem");
        let name = path.file_stem().expect("a name").to_string_lossy();
        assert_eq!(outcome.objective, Some(span), "{name}");
        assert!(outcome.lower_bound <= span, "{name}");
        // Of these two the published proof is longer than a clique.
        if !["P6", "P8"].contains(&name.as_ref()) {
            assert_eq!(outcome.status, Status::Optimal, "{name}");
        }
    }
}
