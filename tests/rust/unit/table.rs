//! The table against a full recount: every row entry, every total, every conflict list.

use proptest::prelude::*;

use super::{HARD, Table};
use crate::check::check;
use crate::problem::{
    Assignment, Coupling, Degree, Domain, Guard, Link, PairRule, Problem, Profile,
    ProfileSeparation, Relation, Weight, Window,
};

const FORMS: [&str; 9] =
    ["2A-B", "A+B-C", "3A-2B", "2A+B-2C", "3A-B-C", "2A+B-C-D", "A+B+C-2D", "A+B+C-D-E", "4A-3B"];

fn weight() -> impl Strategy<Value = Weight> {
    prop_oneof![3 => Just(Weight::Hard), 1 => (1_u32..40).prop_map(Weight::Soft)]
}

fn guards(forms: usize) -> impl Strategy<Value = Vec<Guard>> {
    proptest::collection::btree_map(0..forms, (0_i64..8, weight()), 0..3).prop_map(|chosen| {
        chosen
            .into_iter()
            .map(|(form, (guard_hz, weight))| Guard {
                form: FORMS[form].parse().expect("a form of the trade"),
                guard_hz,
                weight,
            })
            .collect()
    })
}

fn profiles(forms: usize) -> impl Strategy<Value = Vec<Profile>> {
    proptest::collection::vec((0_i64..5, guards(forms), proptest::bool::weighted(0.8)), 2).prop_map(
        |all| {
            all.into_iter()
                .enumerate()
                .map(|(i, (separation_hz, guards, mixes))| Profile {
                    name: format!("profile {i}"),
                    separation_hz,
                    guards,
                    mixes,
                })
                .collect()
        },
    )
}

fn windows() -> impl Strategy<Value = Vec<Window>> {
    prop_oneof![
        2 => Just(vec![]),
        1 => (0_i64..4, 1_i64..4).prop_map(|(start, span)| vec![Window { start, end: start + span }]),
        1 => (0_i64..3, 4_i64..6).prop_map(|(a, b)| vec![
            Window { start: a, end: a + 1 },
            Window { start: b, end: b + 2 },
        ]),
    ]
}

prop_compose! {
    fn problems(forms: usize, links: usize)(
        profiles in profiles(forms),
        one in proptest::bool::weighted(0.4),
        degrees in proptest::collection::vec(0..3_usize, 3),
        step in 1_i64..4,
        low in 0_i64..10,
        listed in proptest::collection::btree_set(0_i64..30, 3..8),
        places in proptest::collection::vec((0..2_usize, 0..3_usize, windows(), 0..2_usize, any::<bool>()), 3..=links),
        pair in proptest::option::of((0_i64..6, any::<bool>(), weight())),
        cross in proptest::option::of(0_i64..6),
    ) -> Problem {
        let domains = vec![
            Domain::Raster { ranges_hz: vec![[low, low + 8], [low + 14, low + 20]], step_hz: step, origin_hz: 1 },
            Domain::Frequencies(listed.into_iter().collect()),
        ];
        let costs = vec![(0..domains[1].candidates_hz().len() as u32).collect()];
        let degree = |d: usize| [Degree::None, Degree::Separation, Degree::Full][d];
        Problem {
            profiles,
            separations: cross.map(|separation_hz| ProfileSeparation { a: 0, b: 1, separation_hz }).into_iter().collect(),
            zones: ["north", "south", "hall"].map(String::from).into(),
            couplings: vec![
                Coupling { a: 0, b: 1, degree: degree(degrees[0]) },
                Coupling { a: 1, b: 2, degree: degree(degrees[1]) },
                Coupling { a: 0, b: 2, degree: degree(degrees[2]) },
            ],
            domains,
            costs,
            links: places.into_iter().enumerate().map(|(i, (profile, zone, windows, domain, dear))| Link {
                id: format!("link {i}"),
                profile: if one { 0 } else { profile },
                zone,
                windows,
                domain,
                costs: (dear && domain == 1).then_some(0),
                priority: 1,
                locked_hz: None,
            }).collect(),
            pairs: pair.map(|(distance, exact, weight)| PairRule {
                a: 0,
                b: 2,
                relation: if exact { Relation::Exactly(distance) } else { Relation::AtLeast(distance) },
                weight,
            }).into_iter().collect(),
        }
    }
}

fn recount(problem: &Problem, assignment: &Assignment) -> i64 {
    let report = check(problem, assignment).expect("a sound problem");
    report.hard as i64 * HARD + report.soft as i64
}

fn plan(table: &Table, problem: &Problem) -> Assignment {
    (0..problem.links.len()).map(|link| table.frequency_hz(link)).collect()
}

/// Walk through random moves, comparing everything with the recount.
fn walk(problem: &Problem, moves: &[(usize, usize)]) -> Result<(), TestCaseError> {
    let mut table = Table::new(problem).expect("a sound problem");
    for &(link, at) in moves {
        let link = link % problem.links.len();
        let candidates = table.candidates_hz(link).to_vec();
        table.lift(link);
        let before = plan(&table, problem);
        let without = recount(problem, &before);
        prop_assert_eq!(table.total(), without);
        let row = table.row(link).to_vec();
        for (i, &hz) in candidates.iter().enumerate() {
            let mut with = before.clone();
            with[link] = Some(hz);
            prop_assert_eq!(row[i], recount(problem, &with) - without, "candidate {}", hz);
            prop_assert_eq!(row[i], table.cost(link, i));
        }
        let at = at % candidates.len();
        table.place(link, at);
        let conflicts = table.conflicts(link);
        prop_assert_eq!(conflicts.is_empty(), row[at] < HARD);
        // Without one link of every conflict, the moved link is clean.
        let gone: Vec<usize> = conflicts.iter().filter_map(|rule| rule.first().copied()).collect();
        let mut partial = plan(&table, problem);
        for link in gone {
            partial[link] = None;
        }
        let mut others = partial.clone();
        others[link] = None;
        prop_assert!(recount(problem, &partial) - recount(problem, &others) < HARD);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn rows_and_totals_equal_a_recount(
        problem in problems(FORMS.len(), 7),
        moves in proptest::collection::vec((0..100_usize, 0..100_usize), 12),
    ) {
        walk(&problem, &moves)?;
    }

    #[test]
    fn third_order_rows_equal_a_recount_with_more_links(
        problem in problems(3, 14),
        moves in proptest::collection::vec((0..100_usize, 0..100_usize), 30),
    ) {
        walk(&problem, &moves)?;
    }
}

prop_compose! {
    /// Carriers on a raster of ten hertz, and one or two that stand still between its positions.
    fn between()(
        guards in proptest::collection::btree_map(0..FORMS.len(), 1_i64..4, 1..3),
        odd in 0_i64..2,
        mixes in any::<bool>(),
        moving in 2..6_usize,
        still in proptest::collection::vec(0_i64..200, 1..3),
    ) -> Problem {
        let guards: Vec<Guard> = guards
            .into_iter()
            .map(|(form, steps)| Guard {
                form: FORMS[form].parse().expect("a form of the trade"),
                guard_hz: steps * 10 - 3 * odd,
                weight: Weight::Hard,
            })
            .collect();
        let profile = |name: &str, mixes| Profile {
            name: name.into(), separation_hz: 12, guards: guards.clone(), mixes,
        };
        let link = |i: usize, profile, domain| Link {
            id: format!("link {i}"), profile, zone: 0, windows: vec![], domain, costs: None,
            priority: 1, locked_hz: None,
        };
        let mut domains = vec![Domain::Raster { ranges_hz: vec![[20, 180]], step_hz: 10, origin_hz: 0 }];
        let mut links: Vec<Link> = (0..moving).map(|i| link(i, 0, 0)).collect();
        for hz in still {
            links.push(link(links.len(), 1, domains.len()));
            domains.push(Domain::Frequencies(vec![hz]));
        }
        Problem {
            profiles: vec![profile("moving", true), profile("still", mixes)],
            separations: vec![], zones: vec!["hall".into()], couplings: vec![], domains,
            costs: vec![], links, pairs: vec![],
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn carriers_between_raster_positions_are_never_missed(
        problem in between(),
        moves in proptest::collection::vec((0..100_usize, 0..100_usize), 15),
    ) {
        let mut table = Table::new(&problem).expect("a sound problem");
        let whole = problem.profiles[0].guards.iter().all(|guard| guard.guard_hz % 10 == 0);
        for (link, at) in moves {
            let link = link % problem.links.len();
            let candidates = table.candidates_hz(link).to_vec();
            table.lift(link);
            let before = plan(&table, &problem);
            let without = recount(&problem, &before);
            let row = table.row(link).to_vec();
            for (i, &hz) in candidates.iter().enumerate() {
                let mut with = before.clone();
                with[link] = Some(hz);
                let cost = recount(&problem, &with) - without;
                prop_assert!(row[i] >= cost, "a cost is an upper bound");
                // Sums of two such carriers spread over three positions: more cautious than exact.
                let still = before.iter().enumerate().filter(|&(j, hz)| hz.is_some() && problem.links[j].domain > 0).count();
                if whole && still + usize::from(problem.links[link].domain > 0) < 2 {
                    prop_assert_eq!(row[i] == 0, cost == 0, "{} Hz", hz);
                }
                prop_assert_eq!(row[i], table.cost(link, i));
            }
            table.place(link, at % candidates.len());
        }
        for link in 0..problem.links.len() {
            table.lift(link);
        }
        prop_assert_eq!(table.total(), 0, "whatever the order of lifting");
    }
}
