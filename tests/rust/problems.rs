//! Small problems that the tests start from.

use std::path::Path;

use sidon::problem::{Assignment, Domain, Guard, Link, Problem, Profile, Weight};
use sidon::product::Form;

pub(crate) fn form(text: &str) -> Form {
    text.parse().expect("the test writes forms as the trade does")
}

pub(crate) fn guards(list: &[(&str, i64)]) -> Vec<Guard> {
    list.iter()
        .map(|&(text, guard_hz)| Guard { form: form(text), guard_hz, weight: Weight::Hard })
        .collect()
}

pub(crate) fn profile(name: &str, separation_hz: i64, list: &[(&str, i64)]) -> Profile {
    Profile { name: name.into(), separation_hz, guards: guards(list), mixes: true }
}

pub(crate) fn link(id: &str) -> Link {
    Link {
        id: id.into(),
        profile: 0,
        zone: 0,
        windows: vec![],
        domain: 0,
        costs: None,
        priority: 1,
        locked_hz: None,
    }
}

/// Links of one profile in one zone, free on 0 to 999 Hz; `L0`, `L1` and so on.
pub(crate) fn problem(links: usize, separation_hz: i64, list: &[(&str, i64)]) -> Problem {
    Problem {
        profiles: vec![profile("P0", separation_hz, list)],
        separations: vec![],
        zones: vec!["Z0".into()],
        couplings: vec![],
        domains: vec![Domain::Raster { ranges_hz: vec![[0, 999]], step_hz: 1, origin_hz: 0 }],
        costs: vec![],
        links: (0..links).map(|i| link(&format!("L{i}"))).collect(),
        pairs: vec![],
    }
}

/// One link on each carrier, all in one zone at all times.
pub(crate) fn on_carriers(
    carriers_hz: &[i64],
    separation_hz: i64,
    list: &[(&str, i64)],
) -> (Problem, Assignment) {
    let mut problem = problem(carriers_hz.len(), separation_hz, list);
    problem.domains = vec![Domain::Frequencies(carriers_hz.to_vec())];
    (problem, carriers_hz.iter().map(|&hz| Some(hz)).collect())
}

/// A file of the benchmark folder beside the repository; says why when a test must do without.
#[allow(clippy::print_stderr, reason = "a skipped test says so")]
pub(crate) fn benchmark(file: &str) -> Option<serde_json::Value> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/benchmarks").join(file);
    match std::fs::read_to_string(&path) {
        Ok(text) => Some(serde_json::from_str(&text).expect("benchmark files are JSON")),
        Err(error) => {
            eprintln!("skipped: no benchmark file {file} ({error})");
            None
        }
    }
}

/// The integers of a JSON array.
pub(crate) fn integers(value: &serde_json::Value) -> Vec<i64> {
    let list = value.as_array().expect("an array");
    list.iter().map(|item| item.as_i64().expect("an integer")).collect()
}
