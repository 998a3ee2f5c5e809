//! Iterations per second of the methods: plain colouring, bandwidth colouring, weighted interference.
#![allow(missing_docs)] // criterion's macros make public items

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use rand_core::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use sidon::problem::{Domain, Link, PairRule, Problem, Profile, Relation, Weight};
use sidon::search::{Budget, Control, Method, Objective, Options, solve};

const LINKS: usize = 200;
const ITERATIONS: u64 = 20_000;

/// A random graph: every second pair of links has a rule, of distance 1 to `widest` and this weight at most.
fn problem(channels: i64, widest: u64, dearest: u32) -> Problem {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(7);
    let mut pairs = Vec::new();
    for a in 0..LINKS {
        for b in 0..a {
            let draw = random.next_u64();
            if draw & 1 == 1 {
                let weight = match dearest {
                    0 => Weight::Hard,
                    most => Weight::Soft(1 + (draw >> 40) as u32 % most),
                };
                let relation = Relation::AtLeast(1 + ((draw >> 20) % widest) as i64);
                pairs.push(PairRule { a, b, relation, weight });
            }
        }
    }
    Problem {
        profiles: vec![Profile {
            name: "any".into(),
            separation_hz: 0,
            guards: vec![],
            mixes: false,
        }],
        separations: vec![],
        zones: vec!["net".into()],
        couplings: vec![],
        domains: vec![Domain::Raster {
            ranges_hz: vec![[0, channels - 1]],
            step_hz: 1,
            origin_hz: 0,
        }],
        costs: vec![],
        links: (0..LINKS)
            .map(|i| Link {
                id: format!("link {i}"),
                profile: 0,
                zone: 0,
                windows: vec![],
                domain: 0,
                costs: None,
                priority: 1,
                locked_hz: None,
            })
            .collect(),
        pairs,
    }
}

fn methods(criterion: &mut Criterion) {
    let cases = [
        ("colouring, min-span", problem(60, 1, 0), Objective::MinSpan),
        ("bandwidth colouring, min-span", problem(150, 4, 0), Objective::MinSpan),
        ("weights up to 50, min-interference", problem(12, 3, 50), Objective::MinInterference),
    ];
    for (name, problem, objective) in &cases {
        let mut group = criterion.benchmark_group(*name);
        group.throughput(Throughput::Elements(ITERATIONS)).sample_size(10);
        for method in
            [Method::Tabucol, Method::Partialcol, Method::SimulatedAnnealing, Method::Portfolio]
        {
            let options = Options {
                objective: *objective,
                method,
                seed: 1,
                budget: Budget { iterations: Some(ITERATIONS), seconds: None },
                threads: Some(1),
            };
            group.bench_function(BenchmarkId::from_parameter(format!("{method:?}")), |b| {
                b.iter(|| black_box(solve(problem, &options, &Control::default())));
            });
        }
        group.finish();
    }
}

criterion_group!(benches, methods);
criterion_main!(benches);
