//! Hits and hit counts against brute force, published sets and the benchmark files.

#![allow(clippy::unwrap_used, clippy::print_stderr)]

use std::collections::BTreeMap;

use proptest::prelude::*;
use serde_json::Value;
use sidon::Error;
use sidon::product::{Form, Hit, hit_counts, hit_counts_by_victim, hits, hits_by_victim};

/// A file of the benchmark collection beside the repository; says so and gives `None` without it.
pub(crate) fn benchmark(name: &str) -> Option<Value> {
    let path = format!("{}/../shared/benchmarks/{name}", env!("CARGO_MANIFEST_DIR"));
    match std::fs::read_to_string(&path) {
        Ok(text) => Some(serde_json::from_str(&text).unwrap()),
        Err(error) => {
            eprintln!("skipped: benchmark {name} is not at hand ({error})");
            None
        }
    }
}

fn form(text: &str) -> Form {
    text.parse().unwrap()
}

fn guard(text: &str, width: i64) -> Vec<(Form, i64)> {
    vec![(form(text), width)]
}

fn integers(value: &Value) -> Vec<i64> {
    value.as_array().unwrap().iter().map(|v| v.as_i64().unwrap()).collect()
}

/// All hits by the definition: every tuple of distinct carriers, every other carrier as victim.
fn brute_force(f: &[i64], guards: &[(Form, Vec<i64>)]) -> Vec<Hit> {
    fn extend(c: &[i32], f: &[i64], sources: &mut Vec<usize>, found: &mut dyn FnMut(&[usize])) {
        let i = sources.len();
        if i == c.len() {
            return found(sources);
        }
        for carrier in 0..f.len() {
            let repeated = sources.contains(&carrier);
            let exchanged = i > 0 && c[i] == c[i - 1] && carrier < sources[i - 1];
            if !repeated && !exchanged {
                sources.push(carrier);
                extend(c, f, sources, found);
                sources.pop();
            }
        }
    }
    let mut all = Vec::new();
    for (g, (form, widths)) in guards.iter().enumerate() {
        let c = form.coefficients();
        extend(c, f, &mut Vec::new(), &mut |sources| {
            let product: i64 = sources.iter().zip(c).map(|(&s, &m)| i64::from(m) * f[s]).sum();
            for victim in (0..f.len()).filter(|v| !sources.contains(v)) {
                if (product - f[victim]).abs() < widths[victim] {
                    all.push(Hit {
                        form: g,
                        victim,
                        sources: sources.to_vec(),
                        product_hz: product,
                        offset_hz: product - f[victim],
                    });
                }
            }
        });
    }
    all.sort_by(|a, b| (a.form, a.victim, &a.sources).cmp(&(b.form, b.victim, &b.sources)));
    all
}

fn tally(hits: &[Hit], forms: usize, carriers: usize) -> Vec<Vec<u64>> {
    let mut counts = vec![vec![0; carriers]; forms];
    for hit in hits {
        counts[hit.form][hit.victim] += 1;
    }
    counts
}

fn every_form(width: i64) -> Vec<(Form, i64)> {
    [3, 5, 7, 9].into_iter().flat_map(Form::all).map(|f| (f, width)).collect()
}

fn widened(guards: &[(Form, i64)], carriers: usize) -> Vec<(Form, Vec<i64>)> {
    guards.iter().map(|(f, w)| (f.clone(), vec![*w; carriers])).collect()
}

/// Sets that force coincidences: few raster steps, equal frequencies allowed.
fn crowded(most: usize) -> impl Strategy<Value = Vec<i64>> {
    let steps = prop::collection::vec(0_i64..16, 0..=most);
    (steps, prop::sample::select(vec![1_i64, 7, 25_000]), -5_i64..5)
        .prop_map(|(steps, raster, origin)| steps.iter().map(|s| origin + s * raster).collect())
}

/// Sets that coincide to the hertz although no raster is coarse enough for a counter per sum.
fn clustered(most: usize) -> impl Strategy<Value = Vec<i64>> {
    let places = prop::sample::select(vec![0, 30_000_001, 60_000_000, 75_000_002, 90_000_007]);
    let near = (places, 0_i64..7).prop_map(|(place, offset)| 470_000_000 + place + offset);
    prop::collection::vec(near, 0..=most)
}

/// Sets off any coarse raster, whose sums cannot have a counter each.
fn scattered(most: usize) -> impl Strategy<Value = Vec<i64>> {
    prop::collection::vec(470_000_000_i64..608_000_000, 0..=most)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn every_form_up_to_ninth_order_equals_brute_force(f in crowded(11), width in 0_i64..30) {
        let guards = every_form(width);
        let expected = brute_force(&f, &widened(&guards, f.len()));
        prop_assert_eq!(&hits(&f, &guards).unwrap(), &expected);
        let counts = hit_counts(&f, &guards).unwrap();
        prop_assert_eq!(counts, tally(&expected, guards.len(), f.len()));
    }

    #[test]
    fn widths_per_victim_equal_brute_force(
        f in crowded(9), widths in prop::collection::vec(prop::sample::select(vec![0, 1, 3, 8, 60_000]), 9),
    ) {
        let guards: Vec<(Form, Vec<i64>)> = [3, 5, 7]
            .into_iter()
            .flat_map(Form::all)
            .enumerate()
            .map(|(i, form)| {
                let mut own = widths.clone();
                own.rotate_left(i % widths.len());
                own.truncate(f.len());
                (form, own)
            })
            .collect();
        let expected = brute_force(&f, &guards);
        prop_assert_eq!(&hits_by_victim(&f, &guards).unwrap(), &expected);
        let counts = hit_counts_by_victim(&f, &guards).unwrap();
        prop_assert_eq!(counts, tally(&expected, guards.len(), f.len()));
    }

    #[test]
    fn crowded_sets_of_more_carriers_equal_brute_force(f in crowded(17), width in 1_i64..60_000) {
        // Enough carriers on few steps for the polynomials to be the cheaper way.
        let guards: Vec<(Form, i64)> =
            [3, 5].into_iter().flat_map(Form::all).map(|form| (form, width)).collect();
        let expected = brute_force(&f, &widened(&guards, f.len()));
        let counts = hit_counts(&f, &guards).unwrap();
        prop_assert_eq!(counts, tally(&expected, guards.len(), f.len()));
    }

    #[test]
    fn scattered_sets_equal_brute_force(f in scattered(12), width in 0_i64..9_000_000) {
        let guards: Vec<(Form, i64)> =
            [3, 5].into_iter().flat_map(Form::all).map(|form| (form, width)).collect();
        let expected = brute_force(&f, &widened(&guards, f.len()));
        prop_assert_eq!(&hits(&f, &guards).unwrap(), &expected);
        let counts = hit_counts(&f, &guards).unwrap();
        prop_assert_eq!(counts, tally(&expected, guards.len(), f.len()));
    }

    #[test]
    fn clustered_sets_equal_brute_force(f in clustered(12), width in 0_i64..12) {
        let guards: Vec<(Form, i64)> =
            [3, 5].into_iter().flat_map(Form::all).map(|form| (form, width)).collect();
        let expected = brute_force(&f, &widened(&guards, f.len()));
        prop_assert_eq!(&hits(&f, &guards).unwrap(), &expected);
        let counts = hit_counts(&f, &guards).unwrap();
        prop_assert_eq!(counts, tally(&expected, guards.len(), f.len()));
    }

    #[test]
    fn third_order_counts_equal_the_list(
        f in prop_oneof![scattered(40), crowded(24), clustered(24)], width in 1_i64..400_000,
    ) {
        let guards = [(form("2A-B"), width), (form("A+B-C"), width)];
        let counts = hit_counts(&f, &guards).unwrap();
        prop_assert_eq!(counts, tally(&hits(&f, &guards).unwrap(), 2, f.len()));
    }

    #[test]
    fn hits_move_with_their_carriers(f in crowded(8), shift in -1_000_000_i64..1_000_000) {
        let guards = [(form("A+B-C"), 8), (form("3A-2B"), 8)];
        let moved: Vec<i64> = f.iter().map(|x| x + shift).collect();
        let mut expected = hits(&f, &guards).unwrap();
        for hit in &mut expected {
            hit.product_hz += shift;
        }
        prop_assert_eq!(hits(&moved, &guards).unwrap(), expected);
    }
}

#[test]
fn equally_spaced_carriers_match_the_classical_formulas() {
    // Two-tone and three-tone hits on carrier r of N equally spaced ones, from memory of the
    // literature; the file holds the same values by enumeration.
    let u2 = |r: i64, n: i64| {
        let odd = if n % 2 == 0 { 0 } else { 1 - 2 * (r % 2) };
        (n - 2 - odd) / 2
    };
    let u3 = |r: i64, n: i64| {
        let odd = if n % 2 == 0 { 0 } else { 1 - 2 * ((n + r) % 2) };
        (2 * r * (n - r + 1) + (n - 3).pow(2) - 5 - odd) / 4
    };
    // The classical three-tone count holds D = C, where C is midway between A and B. That is the
    // two-tone relation 2C - A = B, counted as such; our three-tone count leaves it out.
    let midpoints = |r: i64, n: i64| (r - 1).min(n - r);
    for n in 3..=40_i64 {
        let f: Vec<i64> = (0..n).map(|k| 470_000_000 + 400_000 * k).collect();
        let counts = hit_counts(&f, &[(form("2A-B"), 1), (form("A+B-C"), 1)]).unwrap();
        for r in 1..=n {
            let own = [counts[0][r as usize - 1] as i64, counts[1][r as usize - 1] as i64];
            assert_eq!(own, [u2(r, n), u3(r, n) - midpoints(r, n)], "carrier {r} of {n}");
        }
    }
    // Totals without D = C for N = 4, 5, 8, 16; computed by exhaustive search.
    for (n, two_tone, three_tone) in [(4, 4, 4), (5, 8, 12), (8, 24, 88), (16, 112, 1008)] {
        let f: Vec<i64> = (0..n).map(|k| 25_000 * k).collect();
        let counts = hit_counts(&f, &[(form("2A-B"), 1), (form("A+B-C"), 1)]).unwrap();
        assert_eq!(counts[0].iter().sum::<u64>(), two_tone);
        assert_eq!(counts[1].iter().sum::<u64>(), three_tone);
    }
    let Some(file) = benchmark("im/equally_spaced_counts.json") else { return };
    for row in file["rows"].as_array().unwrap() {
        let n = row["n"].as_i64().unwrap();
        let (two, three) = (&row["two_tone_2a_minus_b"], &row["three_tone_a_plus_b_minus_c"]);
        for r in 1..=n {
            assert_eq!(integers(two)[r as usize - 1], u2(r, n));
            assert_eq!(integers(three)[r as usize - 1], u3(r, n));
        }
    }
}

#[test]
fn worked_examples_match_their_listed_products() {
    // Benchmark im/worked_examples.json: every third- and fifth-order product as a coefficient
    // vector. Its hits include products on their own sources, which are no hits here.
    let Some(file) = benchmark("im/worked_examples.json") else { return };
    let examples = file["examples"].as_array().unwrap();
    for example in examples {
        let f: Vec<i64> = integers(&example["carriers_khz"]).iter().map(|k| k * 1000).collect();
        for (order, listed) in example["orders"].as_object().unwrap() {
            let mut expected: BTreeMap<(usize, Vec<i64>), i64> = BTreeMap::new();
            let mut on_carriers: BTreeMap<String, i64> = BTreeMap::new();
            for (khz, vectors) in listed["products_khz"].as_object().unwrap() {
                let hz = khz.parse::<i64>().unwrap() * 1000;
                for vector in vectors.as_array().unwrap().iter().map(integers) {
                    for victim in (0..f.len()).filter(|&v| f[v] == hz) {
                        *on_carriers.entry(khz.clone()).or_default() += 1;
                        if vector[victim] == 0 {
                            expected.insert((victim, vector.clone()), hz);
                        }
                    }
                }
            }
            let stated = listed["hits_on_carriers"].as_object().unwrap();
            assert_eq!(on_carriers.len(), stated.len());
            assert!(stated.iter().all(|(khz, n)| on_carriers[khz] == n.as_i64().unwrap()));

            let guards: Vec<(Form, i64)> =
                Form::all(order.parse().unwrap()).into_iter().map(|form| (form, 1)).collect();
            let found: BTreeMap<(usize, Vec<i64>), i64> = hits(&f, &guards)
                .unwrap()
                .into_iter()
                .map(|hit| {
                    let mut vector = vec![0; f.len()];
                    for (&s, &m) in hit.sources.iter().zip(guards[hit.form].0.coefficients()) {
                        vector[s] = i64::from(m);
                    }
                    ((hit.victim, vector), hit.product_hz)
                })
                .collect();
            assert_eq!(found, expected, "{} order {order}", example["name"]);
        }
    }
    assert_eq!(examples.len(), 7);
}

#[test]
fn guard_bands_match_the_random_benchmark() {
    // Benchmark im/random_guard_band.json counts distances up to and including the guard, and
    // every carrier as the victim, a product's own sources among them. A guard of g there is g + 1
    // Hz here, and what falls on own sources is counted beside it from the definition.
    let Some(file) = benchmark("im/random_guard_band.json") else { return };
    let mut compared = 0;
    for row in file["rows"].as_array().unwrap() {
        let f: Vec<i64> = integers(&row["carriers_khz"]).iter().map(|k| k * 1000).collect();
        for (khz, stated) in row["pairs_within_khz"].as_object().unwrap() {
            let width = khz.parse::<i64>().unwrap() * 1000;
            for (name, count) in stated.as_object().unwrap() {
                let counts = hit_counts(&f, &guard(name, width + 1)).unwrap();
                let others: u64 = counts[0].iter().sum();
                let own = on_own_sources(&f, name, width);
                assert_eq!(others + own, count.as_u64().unwrap(), "{name} {khz} {f:?}");
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 20 * 6 * 3);
}

/// How many products of a third- or fifth-order form lie within `width` of one of their sources.
fn on_own_sources(f: &[i64], name: &str, width: i64) -> u64 {
    let n = f.len();
    let near = |distance: i64| u64::from(distance.abs() <= width);
    let mut total = 0;
    for a in 0..n {
        for b in (0..n).filter(|&b| b != a) {
            let apart = f[a] - f[b];
            match name {
                "2a-b" => total += near(apart) + near(2 * apart),
                "3a-2b" => total += near(2 * apart) + near(3 * apart),
                _ => {
                    for c in (0..n).filter(|&c| c != a && c != b && a < b) {
                        total += near(f[b] - f[c]) + near(f[a] - f[c]);
                        total += near(f[a] + f[b] - 2 * f[c]);
                    }
                }
            }
        }
    }
    total
}

#[test]
fn a_worked_list_has_no_hit() {
    // Products of 500.000, 500.400 and 501.100 MHz; computed by hand from the definition.
    let f = [500_000, 500_400, 501_100];
    for (name, khz) in [
        ("2A-B", &[498_900, 499_600, 499_700, 500_800, 501_800, 502_200][..]),
        ("A+B-C", &[499_300, 500_700, 501_500][..]),
        ("3A-2B", &[497_800, 499_000, 499_200, 501_200, 502_500, 503_300][..]),
    ] {
        assert!(hits(&f, &guard(name, 1)).unwrap().is_empty());
        // A probe carrier on each product is hit by it: exactly the listed frequencies are found.
        let probed: Vec<i64> = (497_000..504_000)
            .step_by(100)
            .filter(|probe| {
                let with_probe = [f[0], f[1], f[2], *probe];
                let found = hits(&with_probe, &guard(name, 1)).unwrap();
                found.iter().any(|hit| hit.victim == 3)
            })
            .collect();
        assert_eq!(probed, khz, "{name}");
    }
}

#[test]
fn midpoints_are_counted_once_as_two_tone_hits() {
    // A, its neighbour and the midpoint: 2B - A falls on C and 2B - C on A; A + C - B falls on B,
    // which is its own source.
    let f = [500_000_000, 500_300_000, 500_600_000];
    assert_eq!(hit_counts(&f, &guard("2A-B", 1)).unwrap(), [[1, 0, 1]]);
    assert_eq!(hit_counts(&f, &guard("A+B-C", 1)).unwrap(), [[0, 0, 0]]);
}

#[test]
fn four_carriers_of_a_shared_band_are_clean() {
    // 863.1, 863.7, 864.1, 864.9 MHz: a published four-carrier plan of the 863-865 MHz band. In
    // steps of 200 kHz the differences 2, 3, 4, 5, 6, 9 are distinct, so third order is clean.
    let f = [863_100_000, 863_700_000, 864_100_000, 864_900_000];
    for width in [1, 200_000] {
        assert!(hits(&f, &[(form("2A-B"), width), (form("A+B-C"), width)]).unwrap().is_empty());
    }
    assert!(!hits(&f, &[(form("2A-B"), 200_001), (form("A+B-C"), 200_001)]).unwrap().is_empty());
}

#[test]
fn widths_must_match_the_carriers() {
    let guards = [(form("2A-B"), vec![1, 1]), (form("A+B-C"), vec![-1, 1, 1])];
    for error in [
        hits_by_victim(&[1, 2, 3], &guards).unwrap_err(),
        hit_counts_by_victim(&[1, 2, 3], &guards).unwrap_err(),
    ] {
        assert!(matches!(error, Error::Invalid(faults) if faults.len() == 2));
    }
}

#[test]
fn extreme_but_legal_input_is_exact() {
    let limit = 1_000_000_000_000;
    let f = [-limit, limit, limit - 1, 0, 1];
    let guards = every_form(i64::MAX);
    let expected = brute_force(&f, &widened(&guards, f.len()));
    assert_eq!(hits(&f, &guards).unwrap(), expected);
    assert_eq!(hit_counts(&f, &guards).unwrap(), tally(&expected, guards.len(), f.len()));
    // Every product is a hit on every carrier outside it.
    for (counts, (form, _)) in hit_counts(&f, &guards).unwrap().iter().zip(&guards) {
        assert!(counts.iter().all(|&n| u128::from(n) == form.products(f.len() - 1)), "{form}");
    }
    assert!(hits(&[], &guards).unwrap().is_empty());
    assert!(hits(&[5, 5], &guards).unwrap().is_empty());
}

#[test]
fn too_much_is_refused_at_once() {
    let too_large = |result: Result<usize, Error>| matches!(result, Err(Error::TooLarge { .. }));
    // 400 carriers on one frequency: 400 * 399 * 398 / 2 products, each on 397 carriers.
    let equal = vec![470_000_000; 400];
    assert!(too_large(hits(&equal, &guard("A+B-C", 1)).map(|list| list.len())));
    let counts = hit_counts(&equal, &guard("A+B-C", 1)).unwrap();
    assert!(counts[0].iter().all(|&n| u128::from(n) == form("A+B-C").products(399)));
    let counts = hit_counts(&equal, &guard("A+B+C-D-E", 1)).unwrap();
    assert!(counts[0].iter().all(|&n| u128::from(n) == form("A+B+C-D-E").products(399)));
    // No common raster, too many letters: neither polynomials nor half-sums fit.
    let scattered: Vec<i64> = (0..2000).map(|k| 470_000_000 + k * 65_537 + k * k % 7919).collect();
    assert!(too_large(hits(&scattered, &guard("A+B+C-D-E", 50_000)).map(|list| list.len())));
    assert!(too_large(hit_counts(&scattered, &guard("A+B+C-D-E", 1)).map(|c| c.len())));
    let crowd: Vec<i64> = (0..50_000).collect();
    assert!(too_large(hit_counts(&crowd, &guard("2A-B", 1)).map(|c| c.len())));
    assert!(too_large(hit_counts(&crowd, &guard("A+B-C", 1)).map(|c| c.len())));
    // What is waived needs no work.
    assert!(hits(&crowd, &guard("A+B-C", 0)).unwrap().is_empty());
}
