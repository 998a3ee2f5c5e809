//! Product forms: which exist, how many products they make, and their levels.

#![allow(clippy::unwrap_used, clippy::print_stderr)]

use std::collections::BTreeSet;

use sidon::product::Form;

use crate::hits::benchmark;

fn form(text: &str) -> Form {
    text.parse().unwrap()
}

#[test]
fn forms_are_pairs_of_partitions() {
    // Positive coefficients sum to (n + 1) / 2 and negative ones to (n - 1) / 2, so there are
    // p((n + 1) / 2) p((n - 1) / 2) forms; partition numbers p = 1, 2, 3, 5, 7 from OEIS A000041.
    for (order, count) in [(3, 2), (5, 3 * 2), (7, 5 * 3), (9, 7 * 5)] {
        let all = Form::all(order);
        assert_eq!(all.len(), count);
        assert_eq!(all.iter().collect::<BTreeSet<_>>().len(), count);
        for f in &all {
            assert_eq!(f.order(), order);
            assert!((2..=order as usize).contains(&f.letters()));
            assert_eq!(f.coefficients().iter().sum::<i32>(), 1);
            assert_eq!(Form::new(f.coefficients()).unwrap(), *f, "canonical");
            assert_eq!(form(&f.to_string()), *f);
        }
    }
    for order in [0, 1, 2, 4, 6, 8, 10, 11, u32::MAX] {
        assert_eq!(Form::all(order), []);
    }
}

#[test]
fn fifth_order_forms_stand_in_their_fixed_order() {
    // The names common in the trade for fifth-order products; source: common practice.
    let names: Vec<String> = Form::all(5).iter().map(Form::to_string).collect();
    assert_eq!(names, ["3A-2B", "3A-B-C", "2A+B-2C", "2A+B-C-D", "A+B+C-2D", "A+B+C-D-E"]);
}

#[test]
fn product_counts_match_their_closed_forms() {
    // N = 2, 3, 4, 8, 10, 16, 32, 40; computed by enumeration of distinct letters.
    let carriers = [2, 3, 4, 8, 10, 16, 32, 40];
    let table: [(&str, [u128; 8]); 8] = [
        ("2A-B", [2, 6, 12, 56, 90, 240, 992, 1560]),
        ("A+B-C", [0, 3, 12, 168, 360, 1680, 14_880, 29_640]),
        ("3A-2B", [2, 6, 12, 56, 90, 240, 992, 1560]),
        ("2A+B-2C", [0, 6, 24, 336, 720, 3360, 29_760, 59_280]),
        ("3A-B-C", [0, 3, 12, 168, 360, 1680, 14_880, 29_640]),
        ("2A+B-C-D", [0, 0, 12, 840, 2520, 21_840, 431_520, 1_096_680]),
        ("A+B+C-2D", [0, 0, 4, 280, 840, 7280, 143_840, 365_560]),
        ("A+B+C-D-E", [0, 0, 0, 560, 2520, 43_680, 2_013_760, 6_580_080]),
    ];
    for (name, counts) in table {
        for (n, count) in carriers.into_iter().zip(counts) {
            assert_eq!(form(name).products(n), count, "{name}, {n} carriers");
        }
    }
    // N (N - 1) for every two-tone form: 9,900 at N = 100; source: common practice.
    for name in ["2A-B", "3A-2B", "4A-3B", "5A-4B"] {
        assert_eq!(form(name).products(100), 9900);
    }
    // Third order together: N^2 (N - 1) / 2.
    for n in 0..60_usize {
        let total: u128 = Form::all(3).iter().map(|f| f.products(n)).sum();
        assert_eq!(total, (n * n * n.saturating_sub(1) / 2) as u128);
    }
    assert_eq!(form("A+B-C").products(usize::MAX), u128::MAX, "saturates");
}

#[test]
fn product_counts_match_the_enumerated_benchmark() {
    // Benchmark im/product_counts.json: coefficient vectors enumerated independently.
    let Some(file) = benchmark("im/product_counts.json") else { return };
    let mut compared = 0;
    for (order, rows) in file["orders"].as_object().unwrap() {
        let order: u32 = order.parse().unwrap();
        for row in rows.as_array().unwrap() {
            let n = row["n"].as_u64().unwrap() as usize;
            let kinds = row["by_kind"].as_object().unwrap();
            let mut total = 0;
            for f in Form::all(order) {
                // A kind reads ((1, 1), (1,)): the magnitudes before and after the minus sign.
                let side = |sign: i32| {
                    let parts: Vec<i32> =
                        f.coefficients().iter().map(|m| m * sign).filter(|&m| m > 0).collect();
                    let text: Vec<String> = parts.iter().map(i32::to_string).collect();
                    let comma = if parts.len() == 1 { "," } else { "" };
                    format!("({}{comma})", text.join(", "))
                };
                let kind = format!("({}, {})", side(1), side(-1));
                let expected = kinds.get(&kind).map_or(0, |count| count.as_u64().unwrap());
                assert_eq!(f.products(n), u128::from(expected), "{f}, {n} carriers");
                total += f.products(n);
                compared += 1;
            }
            assert_eq!(total, u128::from(row["total"].as_u64().unwrap()));
        }
    }
    assert!(compared >= 6 * 2 + 6 * 6, "the file holds orders 3 and 5 for 2 to 7 carriers");
}

#[test]
fn levels_follow_the_multinomials() {
    // 3!/(2!1!) = 3 against 3!/(1!1!1!) = 6, and so on: 20 log10 of the ratio. +6 dB for the
    // three-tone form is also published in trade articles; the rest is computed.
    for (name, db) in [
        ("2A-B", 0.0),
        ("A+B-C", 6.02),
        ("3A-2B", 0.0),
        ("3A-B-C", 6.02),
        ("2A+B-2C", 9.54),
        ("2A+B-C-D", 15.56),
        ("A+B+C-2D", 15.56),
        ("A+B+C-D-E", 21.58),
        ("5A-4B", 0.0),
    ] {
        assert!((form(name).level_db() - db).abs() < 0.005, "{name}: {}", form(name).level_db());
    }
}
