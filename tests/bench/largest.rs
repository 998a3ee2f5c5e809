//! The largest compatible set by a fixed number of iterations: clear bands from 6 to 138 MHz, and one half taken.
#![allow(missing_docs)] // criterion's macros make public items

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use sidon::search::{Budget, Control, Options, SetQuestion, largest_set};

/// 25 kHz steps, 350 kHz apart, third-order guards; `open` says which channels of 6 MHz are free.
fn question(steps: i64, guard_hz: i64, open: fn(i64) -> bool) -> SetQuestion {
    let guard = |form: &str| (form.parse().expect("a form of the trade"), guard_hz);
    SetQuestion {
        candidates_hz: (0..steps).filter(|k| open(k / 240)).map(|k| 25_000 * k).collect(),
        separation_hz: 350_000,
        guards: vec![guard("2A-B"), guard("A+B-C")],
    }
}

fn largest(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("largest set, 20,000 iterations");
    group.sample_size(10);
    let budget = Budget { iterations: Some(20_000), seconds: None };
    let options = Options { budget, ..Options::default() };
    let every: fn(i64) -> bool = |_| true;
    for (name, question) in [
        ("6 MHz, proved", question(240, 100_000, every)),
        ("36 MHz", question(1_440, 100_000, every)),
        ("72 MHz", question(2_880, 100_000, every)),
        ("138 MHz, 50 kHz", question(5_520, 50_000, every)),
        ("72 MHz, half taken", question(2_880, 100_000, |channel| channel % 2 == 0)),
    ] {
        group.bench_with_input(
            BenchmarkId::from_parameter(name),
            &question,
            |bencher, question| {
                bencher.iter(|| largest_set(black_box(question), &options, &Control::default()));
            },
        );
    }
    group.finish();
}

criterion_group!(benches, largest);
criterion_main!(benches);
