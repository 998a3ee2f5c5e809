//! Benchmark of hit counts and hit lists; leaves its largest set and counts for `hits_numpy.py`.

#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)]

use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use rand_core::Rng;
use rand_core::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use sidon::product::{Form, hit_counts, hits};

const LOW_HZ: i64 = 470_000_000;
const HIGH_HZ: i64 = 608_000_000;
const STEP_HZ: i64 = 25_000;
const GUARD_HZ: i64 = 50_000;

/// Distinct carriers of the raster, drawn at random.
fn carriers(count: usize, step_hz: i64) -> Vec<i64> {
    let channels = ((HIGH_HZ - LOW_HZ) / step_hz + 1) as u64;
    let mut random = Xoshiro256PlusPlus::seed_from_u64(1);
    let mut drawn = Vec::new();
    while drawn.len() < count {
        let frequency = LOW_HZ + step_hz * (random.next_u64() % channels) as i64;
        if !drawn.contains(&frequency) {
            drawn.push(frequency);
        }
    }
    drawn
}

fn guards(forms: &[&str]) -> Vec<(Form, i64)> {
    forms.iter().map(|f| (f.parse().unwrap(), GUARD_HZ)).collect()
}

fn count(c: &mut Criterion) {
    let third = guards(&["2A-B", "A+B-C"]);
    let mut group = c.benchmark_group("third-order counts");
    for n in [100, 300, 1000] {
        let raster = carriers(n, STEP_HZ);
        group.bench_function(BenchmarkId::new("25 kHz raster", n), |b| {
            b.iter(|| hit_counts(black_box(&raster), &third).unwrap());
        });
    }
    // No raster coarse enough for a counter per sum: the sums are sorted.
    let hertz = carriers(1000, 1);
    group.bench_function(BenchmarkId::new("1 Hz raster", 1000), |b| {
        b.iter(|| hit_counts(black_box(&hertz), &third).unwrap());
    });
    group.finish();

    let mut group = c.benchmark_group("fifth-order counts");
    group.sample_size(10);
    let raster = carriers(300, STEP_HZ);
    for form in ["3A-2B", "2A+B-2C", "A+B+C-D-E"] {
        let guard = guards(&[form]);
        group.bench_function(BenchmarkId::new(form, 300), |b| {
            b.iter(|| hit_counts(black_box(&raster), &guard).unwrap());
        });
    }
    group.finish();
}

fn list(c: &mut Criterion) {
    let third = guards(&["2A-B", "A+B-C"]);
    let raster = carriers(100, STEP_HZ);
    c.bench_function("third-order list, 100 carriers", |b| {
        b.iter(|| hits(black_box(&raster), &third).unwrap());
    });
}

/// Times the 1,000-carrier count once more and writes set, counts and time for the yardstick.
fn leave_for_yardstick(_: &mut Criterion) {
    let set = carriers(1000, STEP_HZ);
    let third = guards(&["2A-B", "A+B-C"]);
    let mut best = Duration::MAX;
    let mut counts = Vec::new();
    for _ in 0..20 {
        let start = Instant::now();
        counts = hit_counts(&set, &third).unwrap();
        best = best.min(start.elapsed());
    }
    let record = serde_json::json!({
        "frequencies_hz": set,
        "guard_hz": GUARD_HZ,
        "counts": { "2A-B": counts[0], "A+B-C": counts[1] },
        "threads": rayon::current_num_threads(),
        "best_of_20_ms": best.as_secs_f64() * 1e3,
    });
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/target/hits_1000.json");
    std::fs::write(path, record.to_string()).unwrap();
    println!("1,000 carriers counted in {best:?}; set and counts are in {path}");
}

criterion_group!(benches, count, list, leave_for_yardstick);
criterion_main!(benches);
