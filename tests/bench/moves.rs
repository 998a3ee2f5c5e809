//! Moves per second of the cost table: one thread, third order, a raster of 5,520 steps.
#![allow(missing_docs)] // criterion's macros make public items

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use rand_core::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use sidon::problem::{Domain, Guard, Link, Problem, Profile, Weight};
use sidon::table::Table;

const STEPS: u64 = 5_520;

/// `n` links on 25 kHz steps over 138 MHz; `profiles` of them differ in their guards.
fn problem(n: usize, profiles: usize) -> Problem {
    let guard = |form: &str, guard_hz| Guard {
        form: form.parse().expect("a form of the trade"),
        guard_hz,
        weight: Weight::Hard,
    };
    Problem {
        profiles: (0..profiles as i64)
            .map(|p| Profile {
                name: format!("class {p}"),
                separation_hz: 350_000,
                guards: vec![
                    guard("2A-B", 100_000 - 25_000 * p),
                    guard("A+B-C", 100_000 - 25_000 * p),
                ],
                mixes: true,
            })
            .collect(),
        separations: vec![],
        zones: vec!["stage".into()],
        couplings: vec![],
        domains: vec![Domain::Raster {
            ranges_hz: vec![[470_000_000, 470_000_000 + 25_000 * (STEPS as i64 - 1)]],
            step_hz: 25_000,
            origin_hz: 470_000_000,
        }],
        costs: vec![],
        links: (0..n)
            .map(|i| Link {
                id: format!("link {i}"),
                profile: i % profiles,
                zone: 0,
                windows: vec![],
                domain: 0,
                costs: None,
                priority: 1,
                locked_hz: None,
            })
            .collect(),
        pairs: vec![],
    }
}

/// One move takes a random link off the air and puts it on a random step; the row is read once.
fn moves(criterion: &mut Criterion) {
    for profiles in [1, 3] {
        let mut group = criterion.benchmark_group(format!("move, {profiles} profile(s)"));
        group.throughput(Throughput::Elements(1));
        for n in [50, 200, 1_000] {
            let mut table = Table::new(&problem(n, profiles)).expect("a sound problem");
            let mut random = Xoshiro256PlusPlus::seed_from_u64(n as u64);
            for link in 0..n {
                table.place(link, (random.next_u64() % STEPS) as usize);
            }
            let mut relocate = |table: &mut Table| {
                let link = (random.next_u64() % n as u64) as usize;
                let at = (random.next_u64() % STEPS) as usize;
                table.lift(link);
                table.place(link, at);
                link
            };
            group.bench_function(BenchmarkId::new("lift and place", n), |b| {
                b.iter(|| black_box(relocate(&mut table)));
            });
            group.bench_function(BenchmarkId::new("lift, read the row, place", n), |b| {
                b.iter(|| {
                    let link = relocate(&mut table);
                    black_box(table.row(link).len())
                });
            });
        }
        group.finish();
    }
}

criterion_group!(benches, moves);
criterion_main!(benches);
