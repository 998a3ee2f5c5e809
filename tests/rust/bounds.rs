//! Lower bounds against published values and brute force.

use proptest::prelude::*;
use sidon::bound::lower_bounds;
use sidon::check::check;
use sidon::problem::{Domain, Problem, ProfileSeparation, Weight};

use crate::methods::{cells, graph};
use crate::search::uniform;

#[test]
fn cliques_need_their_size_in_frequencies() {
    for n in 2..9 {
        let edges: Vec<_> = (0..n).flat_map(|a| (0..a).map(move |b| (a, b, 1))).collect();
        let bounds = lower_bounds(&graph(n, &edges, 20)).expect("a sound problem");
        assert_eq!((bounds.order, bounds.span_hz), (n as u64, n as u64 - 1));
        let bounds = lower_bounds(&graph(n, &edges, 3)).expect("a sound problem");
        assert_eq!(bounds.unserved, n.saturating_sub(3) as u64);
    }
}

#[test]
fn what_separate_cliques_leave_over_adds_up() {
    // Two sets of five on three frequencies leave two over each, whatever is done between them; one
    // edge between them changes nothing.
    let inside =
        |from: usize| (from..from + 5).flat_map(move |a| (from..a).map(move |b| (a, b, 1)));
    let edges: Vec<_> = inside(0).chain(inside(5)).chain([(0, 9, 1)]).collect();
    let bounds = lower_bounds(&graph(10, &edges, 3)).expect("a sound problem");
    assert_eq!(bounds.unserved, 4);
}

#[test]
fn one_cell_counts_its_own_differences() {
    // m carriers s apart: (m - 1) s.
    let bounds = lower_bounds(&cells(&[7], &[vec![5]], 100)).expect("a sound problem");
    assert_eq!((bounds.span_hz, bounds.order), (30, 7));
}

#[test]
fn a_star_of_unequal_distances_uses_the_hamiltonian_path() {
    // A centre 3 from two cells that are 1 from each other: 0 1 4 or 0 3 .. 6; the path is 1 + 3.
    let matrix = [vec![5, 3, 3], vec![3, 5, 1], vec![3, 1, 5]];
    let bounds = lower_bounds(&cells(&[1, 1, 1], &matrix, 100)).expect("a sound problem");
    assert_eq!(bounds.span_hz, 4);
}

prop_compose! {
    fn small()(
        sizes in proptest::collection::vec(1_usize..3, 2..4),
        entries in proptest::collection::vec(0_i64..4, 16),
        steps in 3_i64..7,
    ) -> (Problem, Vec<i64>) {
        let n = sizes.len();
        let matrix: Vec<Vec<i64>> = (0..n)
            .map(|a| (0..n).map(|b| entries[a.min(b) * 4 + a.max(b)]).collect())
            .collect();
        (cells(&sizes, &matrix, steps - 1), (0..steps).collect())
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_plan_is_below_a_bound((problem, steps) in small()) {
        let bounds = lower_bounds(&problem).expect("a sound problem");
        let n = problem.links.len() as u32;
        let base = steps.len() + 1;
        for code in 0..base.pow(n) {
            let plan: Vec<Option<i64>> =
                (0..n).map(|i| steps.get(code / base.pow(i) % base).copied()).collect();
            let report = check(&problem, &plan).expect("a sound problem");
            if report.hard > 0 {
                continue;
            }
            prop_assert!(report.unserved >= bounds.unserved);
            if report.refused == 0 {
                let mut used: Vec<i64> = plan.into_iter().flatten().collect();
                used.sort_unstable();
                prop_assert!((used[used.len() - 1] - used[0]) as u64 >= bounds.span_hz);
                used.dedup();
                prop_assert!(used.len() as u64 >= bounds.order);
            }
        }
    }
}

#[test]
fn domains_and_separations_of_profiles_count() {
    let mut problem = cells(&[3], &[vec![4]], 20);
    problem.separations = vec![ProfileSeparation { a: 0, b: 0, separation_hz: 6 }];
    problem.domains = vec![Domain::Frequencies(vec![0, 3, 6, 9])];
    let bounds = lower_bounds(&problem).expect("a sound problem");
    // 6 apart, two of {0, 3, 6, 9} fit.
    assert_eq!((bounds.span_hz, bounds.unserved), (12, 1));
}

#[test]
fn third_order_guards_leave_no_more_marks_than_rulers_have() {
    // A ruler of 12 marks is 85 long (OEIS A003022); difference counting lets 11 or 12 into 72 steps, as it is known
    // to be near, where separation alone lets in 73.
    let mut problem = uniform(20, 73, 1, &[("2A-B", 1), ("A+B-C", 1)]);
    let bounds = lower_bounds(&problem).expect("a sound problem");
    assert!((8..=9).contains(&bounds.unserved), "{bounds:?}");
    // Whoever does not mix makes no products, and a soft guard forbids nothing.
    problem.profiles[0].mixes = false;
    assert_eq!(lower_bounds(&problem).expect("a sound problem").unserved, 0);
    problem.profiles[0].mixes = true;
    problem.profiles[0].guards[1].weight = Weight::Soft(1);
    assert_eq!(lower_bounds(&problem).expect("a sound problem").unserved, 0);
}
