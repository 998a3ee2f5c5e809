//! The check against carrier sets whose products are known from the literature or by enumeration.

use std::collections::BTreeSet;

use sidon::check::{Kind, Report, check};

use crate::problems::{benchmark, integers, on_carriers};

const THIRD: [&str; 2] = ["2A-B", "A+B-C"];
const THIRD_AND_FIFTH: [&str; 8] =
    ["2A-B", "A+B-C", "3A-2B", "2A+B-2C", "3A-B-C", "2A+B-C-D", "A+B+C-2D", "A+B+C-D-E"];

fn report(carriers: &[i64], separation: i64, guards: &[(&str, i64)]) -> Report {
    let (problem, assignment) = on_carriers(carriers, separation, guards);
    check(&problem, &assignment).expect("a valid problem")
}

/// Whether no product of these forms falls exactly on a carrier and no two carriers coincide.
fn coincidence_free(carriers: &[i64], forms: &[&str]) -> bool {
    let guards: Vec<_> = forms.iter().map(|&form| (form, 1)).collect();
    report(carriers, 1, &guards).is_clean()
}

fn hits(carriers: &[i64], form: &str, guard: i64) -> u64 {
    report(carriers, 0, &[(form, guard)]).hard
}

/// Optimal Golomb rulers: lengths from OEIS A003022, marks for n <= 10 from OEIS A106683.
const RULERS: [&[i64]; 9] = [
    &[0, 1],
    &[0, 1, 3],
    &[0, 1, 4, 6],
    &[0, 1, 4, 9, 11],
    &[0, 1, 4, 10, 12, 17],
    &[0, 1, 4, 10, 18, 23, 25],
    &[0, 1, 4, 9, 15, 22, 32, 34],
    &[0, 1, 5, 12, 25, 27, 35, 41, 44],
    &[0, 1, 6, 10, 23, 26, 34, 41, 53, 55],
];

#[test]
fn optimal_golomb_rulers_are_clean_and_shorter_ones_are_not() {
    let mut rulers: Vec<Vec<i64>> = RULERS.iter().map(|marks| marks.to_vec()).collect();
    if let Some(file) = benchmark("golomb/golomb_rulers.json") {
        let rows = file["optimal"].as_array().expect("rows");
        assert_eq!(rows.len(), 27, "n = 2 to 28");
        rulers.extend(rows.iter().map(|row| integers(&row["marks"])));
    }
    for mut marks in rulers {
        assert!(coincidence_free(&marks, &THIRD), "{marks:?}");
        // No ruler with as many marks is shorter, so pulling in the last mark must break one rule.
        *marks.last_mut().expect("two marks or more") -= 1;
        assert!(!coincidence_free(&marks, &THIRD), "{marks:?}");
    }
}

/// Babcock, Bell System Technical Journal 32 (1953), from memory: channels of third-order-free sets.
#[test]
fn babcock_sets_are_clean() {
    let sets: [&[i64]; 8] = [
        &[1, 2, 4],
        &[1, 2, 5, 7],
        &[1, 2, 5, 10, 12],
        &[1, 2, 5, 11, 13, 18],
        &[1, 2, 5, 11, 19, 24, 26],
        &[1, 2, 5, 10, 16, 23, 33, 35],
        &[1, 2, 5, 14, 25, 31, 39, 41, 46],
        &[1, 2, 8, 12, 27, 40, 48, 57, 60, 62],
    ];
    for set in sets {
        assert!(coincidence_free(set, &THIRD), "{set:?}");
    }
}

/// OEIS A065825: the most numbers in 1..k with no three in arithmetic progression.
#[test]
fn progression_free_sets_are_clean_for_two_tones_only() {
    let mut sets: Vec<Vec<i64>> = vec![
        vec![1, 2, 4, 5, 10, 11, 13, 14],
        vec![1, 3, 4, 8, 9, 11, 20, 22, 23, 27, 28, 30],
        vec![1, 2, 4, 5, 10, 11, 13, 14, 28, 29, 31, 32, 37, 38, 40, 41],
        vec![1, 2, 5, 7, 11, 16, 18, 19, 24, 26, 38, 39, 42, 44, 48, 53, 55, 56, 61, 63],
    ];
    if let Some(file) = benchmark("golomb/im_free_min_length.json") {
        let rows = file["tables"]["no_3AP"]["rows"].as_array().expect("rows");
        sets.extend(rows.iter().map(|row| integers(&row["example"])));
    }
    for set in sets {
        assert!(coincidence_free(&set, &["2A-B"]), "{set:?}");
        // From eight carriers on they are shorter than any Golomb ruler.
        if set.len() >= 8 {
            assert!(hits(&set, "A+B-C", 1) > 0, "{set:?}");
        }
    }
}

/// Minimal lengths by exhaustive search; the rule of each table in the forms that express it.
#[test]
fn sets_of_minimal_length_are_clean_for_their_own_rule() {
    let Some(file) = benchmark("golomb/im_free_min_length.json") else { return };
    let rules: [(&str, &[&str]); 5] = [
        ("sidon", &THIRD),
        ("weak_sidon", &["A+B-C"]),
        ("two_tone_im3_im5", &["2A-B", "3A-2B"]),
        ("B3", &THIRD_AND_FIFTH),
        ("two_tone_im3_im5_im7", &["2A-B", "3A-2B", "4A-3B"]),
    ];
    for (table, forms) in rules {
        for row in file["tables"][table]["rows"].as_array().expect("rows") {
            let mut set = integers(&row["example"]);
            assert!(coincidence_free(&set, forms), "{table} {set:?}");
            *set.last_mut().expect("not empty") -= 1;
            assert!(!coincidence_free(&set, forms), "{table} shortened {set:?}");
        }
    }
}

/// Mian-Chowla (OEIS A005282) and greedy B3 (OEIS A051912) sequences.
#[test]
fn greedy_sequences_are_clean() {
    let mian_chowla = [
        1, 2, 4, 8, 13, 21, 31, 45, 66, 81, 97, 123, 148, 182, 204, 252, 290, 361, 401, 475, 565,
        593, 662, 775, 822, 916, 970, 1016, 1159, 1312,
    ];
    assert!(coincidence_free(&mian_chowla, &THIRD));
    let greedy_b3 = [0, 1, 4, 13, 32, 71, 124, 218, 375, 572, 744, 1208, 1556, 2441, 3097, 4047];
    assert!(coincidence_free(&greedy_b3, &THIRD_AND_FIFTH));
}

/// Four carriers that a national regulator's page on 863 to 865 MHz gives for use at once.
#[test]
fn four_carriers_of_863_to_865_mhz_are_clean() {
    let carriers = [863_100_000, 863_700_000, 864_100_000, 864_900_000];
    // On a raster of 200 kHz from 863.1 MHz they are 0, 3, 5, 9: a Golomb ruler, so that every
    // product misses by a whole step at least, and 2 * 3 - 5 misses 0 by just one.
    let step = 200_000;
    assert!(report(&carriers, 400_000, &[("2A-B", step), ("A+B-C", step)]).is_clean());
    assert!(!report(&carriers, 400_000, &[("2A-B", step + 1)]).is_clean());
    assert!(!report(&carriers, 400_001, &[]).is_clean());
}

/// Sets of minimal length under separation s and guards g2, g3, by exhaustive search.
#[test]
fn guarded_optima_are_clean_and_tighten_as_enumeration_says() {
    let rows: [(i64, i64, i64, &[i64]); 9] = [
        (2, 2, 1, &[0, 2, 8, 19, 28, 33, 40, 43]),
        (2, 2, 2, &[0, 2, 8, 20, 36, 46, 50]),
        (3, 2, 2, &[0, 4, 20, 32, 42, 50, 56]),
        (3, 3, 3, &[0, 3, 12, 30, 54, 69, 75]),
        (4, 2, 1, &[0, 5, 14, 20, 30, 38, 42, 49]),
        (14, 4, 0, &[0, 14, 32, 46, 68, 82, 100, 114, 140]),
        (14, 4, 2, &[0, 14, 32, 56, 72, 92, 118, 140]),
        (14, 4, 4, &[0, 14, 40, 70, 88, 122, 166, 188]),
        (14, 4, 4, &[0, 14, 66, 106, 136, 154, 180, 216, 238]),
    ];
    let mut broken = 0;
    for (s, g2, g3, set) in rows {
        let clean = |s, g2, g3| report(set, s, &[("2A-B", g2), ("A+B-C", g3)]).is_clean();
        assert!(clean(s, g2, g3), "{set:?}");
        for (s, g2, g3) in [(s + 1, g2, g3), (s, g2 + 1, g3), (s, g2, g3 + 1)] {
            let expected = third_order_clean(set, s, g2, g3);
            assert_eq!(clean(s, g2, g3), expected, "{set:?} {s} {g2} {g3}");
            broken += u32::from(!expected);
        }
    }
    assert!(broken > 9, "most optima leave no slack: {broken}");
}

/// Separation and third-order guards by plain loops over places in the list.
fn third_order_clean(set: &[i64], s: i64, g2: i64, g3: i64) -> bool {
    let n = 0..set.len();
    n.clone().all(|i| n.clone().all(|j| i == j || (set[i] - set[j]).abs() >= s))
        && n.clone().all(|i| {
            n.clone().all(|j| {
                n.clone().all(|k| {
                    let distinct = i != j && j != k && i != k;
                    !distinct
                        || ((2 * set[i] - set[j] - set[k]).abs() >= g2
                            && n.clone().all(|l| {
                                [i, j, k].contains(&l)
                                    || (set[i] + set[j] - set[k] - set[l]).abs() >= g3
                            }))
                })
            })
        })
}

/// Hits on carrier r of n equally spaced ones: the classical closed forms (from memory), which
/// count A+B-C on the midpoint C as well; the definition here counts that relation as 2A-B only.
#[test]
fn equally_spaced_carriers_are_hit_as_the_closed_forms_say() {
    for n in 3_i64..=20 {
        let carriers: Vec<i64> = (1..=n).collect();
        let found = report(&carriers, 0, &[("2A-B", 1), ("A+B-C", 1)]);
        assert!(!found.truncated);
        for r in 1..=n {
            let count = |letters: usize| {
                let on_r = found.violations.iter().filter(|violation| {
                    matches!(&violation.kind, Kind::Hit { sources, victim, .. }
                        if *victim as i64 == r - 1 && sources.len() == letters)
                });
                on_r.count() as i64
            };
            let sign = |k: i64| if k % 2 == 0 { 1 } else { -1 };
            let odd = n % 2;
            let midpoint = (r - 1).min(n - r);
            assert_eq!(2 * count(2), n - 2 - odd * sign(r), "2A-B, n = {n}, r = {r}");
            assert_eq!(
                4 * (count(3) + midpoint),
                2 * r * (n - r + 1) + (n - 3) * (n - 3) - 5 - odd * sign(n + r),
                "A+B-C, n = {n}, r = {r}"
            );
        }
    }
}

/// Numbers of products of n carriers, by enumeration: 2A-B has n(n-1), A+B-C n(n-1)(n-2)/2, ...
#[test]
fn each_product_is_formed_once() {
    let carriers: Vec<i64> = (0..8).map(|i| 1000 * i * i).collect();
    let of_eight = [("2A-B", 56), ("A+B-C", 168), ("3A-2B", 56), ("2A+B-2C", 336), ("3A-B-C", 168)];
    let of_four_or_five_letters = [("2A+B-C-D", 840), ("A+B+C-2D", 280), ("A+B+C-D-E", 560)];
    for (form, products) in of_eight.into_iter().chain(of_four_or_five_letters) {
        let letters = form.chars().filter(char::is_ascii_alphabetic).count() as u64;
        // Under so wide a guard every product hits every carrier that does not take part.
        assert_eq!(hits(&carriers, form, 1_000_000_000), products * (8 - letters), "{form}");
    }
}

/// Random carriers in kHz with products counted within a distance, inclusive, the product's own
/// letters counted as victims too: the guard is one more, and the letters are counted beside.
#[test]
fn random_sets_have_as_many_hits_as_counted_elsewhere() {
    let Some(file) = benchmark("im/random_guard_band.json") else { return };
    for row in file["rows"].as_array().expect("rows") {
        let carriers = integers(&row["carriers_khz"]);
        for (distance, expected) in row["pairs_within_khz"].as_object().expect("distances") {
            let distance: i64 = distance.parse().expect("kHz");
            for (name, form) in [("2a-b", "2A-B"), ("a+b-c", "A+B-C"), ("3a-2b", "3A-2B")] {
                let near = |offset: i64| u64::from(offset.abs() <= distance);
                let mut own = 0;
                for (i, &a) in carriers.iter().enumerate() {
                    for (j, &b) in carriers.iter().enumerate().filter(|&(j, _)| j != i) {
                        own += match form {
                            "2A-B" => near(a - b) + near(2 * (a - b)),
                            "3A-2B" => near(2 * (a - b)) + near(3 * (a - b)),
                            _ => (0..carriers.len())
                                .filter(|&k| i < j && k != i && k != j)
                                .map(|k| carriers[k])
                                .map(|c| near(b - c) + near(a - c) + near(a + b - 2 * c))
                                .sum(),
                        };
                    }
                }
                let found = hits(&carriers, form, distance + 1);
                assert_eq!(Some(found + own), expected[name].as_u64(), "{carriers:?} {name}");
            }
        }
    }
}

/// Minimal forbidden sets of subset problems whose guard is inclusive and covers the product's own
/// letters: the guard is one more, and a separation of as much says the rest.
#[test]
fn forbidden_sets_are_as_many_as_counted_elsewhere() {
    let Some(file) = benchmark("im/max_compatible.json") else { return };
    for instance in file["instances"].as_array().expect("instances") {
        let guard = instance["guard"].as_i64().expect("a guard") + 1;
        let products = instance["products"].as_array().expect("products");
        let forms: Vec<String> =
            products.iter().map(|form| form.as_str().expect("a form").to_uppercase()).collect();
        let guards: Vec<_> = forms.iter().map(|form| (form.as_str(), guard)).collect();
        let found = report(&integers(&instance["candidates"]), guard, &guards);
        assert!(!found.truncated);
        let sets: BTreeSet<BTreeSet<usize>> = found
            .violations
            .iter()
            .map(|violation| match &violation.kind {
                Kind::Separation { a, b, .. } => BTreeSet::from([*a, *b]),
                Kind::Hit { sources, victim, .. } => {
                    sources.iter().chain([victim]).copied().collect()
                }
                other => panic!("not asked for: {other:?}"),
            })
            .collect();
        let minimal = |set: &&BTreeSet<usize>| {
            !sets.iter().any(|other| other.len() < set.len() && other.is_subset(set))
        };
        for size in 2..=4 {
            let count = sets.iter().filter(minimal).filter(|set| set.len() == size).count() as u64;
            let expected = &instance["minimal_forbidden_sets_by_size"][size.to_string()];
            assert_eq!(count, expected.as_u64().unwrap_or(0), "{} {size}", instance["id"]);
        }
    }
}
