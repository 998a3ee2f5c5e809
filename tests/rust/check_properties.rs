//! The check against a second, still plainer enumeration; and both doors against any input.

use std::collections::BTreeSet;

use proptest::prelude::*;
use sidon::check::{Kind, Report, check};
use sidon::problem::{
    Assignment, Coupling, Degree, Domain, Guard, Link, PairRule, Problem, Profile,
    ProfileSeparation, Relation, Weight, Window,
};

use crate::problems::form;

const FORMS: [&str; 9] = [
    "2A-B",
    "A+B-C",
    "3A-2B",
    "2A+B-2C",
    "3A-B-C",
    "2A+B-C-D",
    "A+B+C-2D",
    "A+B+C-D-E",
    "2A+2B-3C",
];

/// What a violation is, without its figures: enough to compare two enumerations.
type Broken = BTreeSet<(String, bool, Vec<usize>)>;

/// All broken rules, hard and soft counts, by going through every ordered choice of links.
fn enumerate(problem: &Problem, assignment: &Assignment) -> (Broken, u64, u64) {
    let links = &problem.links;
    let served: Vec<usize> = (0..links.len()).filter(|&i| assignment[i].is_some()).collect();
    let hz = |i: usize| assignment[i].expect("served");
    let degree = |i: usize, j: usize| {
        let (a, b) = (links[i].zone, links[j].zone);
        let listed = |c: &&Coupling| (c.a, c.b) == (a, b) || (c.a, c.b) == (b, a);
        let coupling = problem.couplings.iter().find(listed);
        if a == b { Degree::Full } else { coupling.map_or(Degree::None, |c| c.degree) }
    };
    // Windows are half open, so that a common instant can be moved back to the start of a window.
    let mut instants: Vec<i64> =
        links.iter().flat_map(|link| &link.windows).map(|window| window.start).collect();
    instants.push(0);
    let on_air = |i: usize, t: i64| {
        let windows = &links[i].windows;
        windows.is_empty() || windows.iter().any(|w| w.start <= t && t < w.end)
    };
    let together = |all: &[usize]| instants.iter().any(|&t| all.iter().all(|&i| on_air(i, t)));

    let (mut broken, mut hard, mut soft) = (Broken::new(), 0, 0);
    let mut add = |name: String, weight: Weight, all: Vec<usize>| {
        if broken.insert((name, weight == Weight::Hard, all)) {
            match weight {
                Weight::Hard => hard += 1,
                Weight::Soft(cost) => soft += u64::from(cost),
            }
        }
    };
    for (rule, pair) in problem.pairs.iter().enumerate() {
        if let (Some(a), Some(b)) = (assignment[pair.a], assignment[pair.b]) {
            let distance = (a - b).abs();
            let holds = match pair.relation {
                Relation::AtLeast(least) => distance >= least,
                Relation::Exactly(exact) => distance == exact,
            };
            if !holds {
                add("pair".into(), pair.weight, vec![rule]);
            }
        }
    }
    let mut prices = 0;
    for &i in &served {
        let candidates = problem.domains[links[i].domain].candidates_hz();
        match candidates.iter().position(|&candidate| candidate == hz(i)) {
            None => add("domain".into(), Weight::Hard, vec![i]),
            Some(at) => {
                prices += links[i].costs.map_or(0, |table| u64::from(problem.costs[table][at]));
            }
        }
        if links[i].locked_hz.is_some_and(|locked| locked != hz(i)) {
            add("lock".into(), Weight::Hard, vec![i]);
        }
        for &j in served.iter().filter(|&&j| j > i) {
            let (a, b) = (links[i].profile, links[j].profile);
            let listed = |s: &&ProfileSeparation| (s.a, s.b) == (a, b) || (s.a, s.b) == (b, a);
            let own = problem.profiles[a].separation_hz.max(problem.profiles[b].separation_hz);
            let asked = problem.separations.iter().find(listed).map_or(own, |s| s.separation_hz);
            if (hz(i) - hz(j)).abs() < asked && degree(i, j) != Degree::None && together(&[i, j]) {
                add("separation".into(), Weight::Hard, vec![i, j]);
            }
        }
    }
    for &victim in &served {
        for guard in &problem.profiles[links[victim].profile].guards {
            let coefficients = guard.form.coefficients();
            for tuple in ordered_choices(&served, coefficients.len()) {
                let mut all = tuple.clone();
                all.push(victim);
                let product: i64 =
                    coefficients.iter().zip(&tuple).map(|(&m, &i)| i64::from(m) * hz(i)).sum();
                let hit = (product - hz(victim)).abs() < guard.guard_hz
                    && !tuple.contains(&victim)
                    && tuple.iter().all(|&i| problem.profiles[links[i].profile].mixes)
                    && all.iter().all(|&i| all.iter().all(|&j| degree(i, j) == Degree::Full))
                    && together(&all);
                if hit {
                    let mut letters: Vec<_> = coefficients.iter().copied().zip(tuple).collect();
                    letters.sort_by_key(|&(m, i)| (m < 0, -m.abs(), i));
                    let mut named: Vec<usize> = letters.into_iter().map(|(_, i)| i).collect();
                    named.push(victim);
                    add(guard.form.to_string(), guard.weight, named);
                }
            }
        }
    }
    (broken, hard, soft + prices)
}

/// Every ordered choice of distinct members.
fn ordered_choices(members: &[usize], length: usize) -> Vec<Vec<usize>> {
    (0..length).fold(vec![vec![]], |choices, _| {
        let longer = |choice: &Vec<usize>| {
            let choice = choice.clone();
            let fresh = members.iter().filter(|&m| !choice.contains(m)).copied();
            fresh.map(|m| [&choice[..], &[m]].concat()).collect::<Vec<_>>()
        };
        choices.iter().flat_map(longer).collect()
    })
}

fn summary(report: &Report) -> Broken {
    let listed = report.violations.iter().map(|violation| {
        let (name, all) = match &violation.kind {
            Kind::OffDomain { link, .. } => ("domain".into(), vec![*link]),
            Kind::LockMoved { link, .. } => ("lock".into(), vec![*link]),
            Kind::Separation { a, b, .. } => ("separation".into(), vec![*a, *b]),
            Kind::Hit { form, sources, victim, .. } => {
                (form.to_string(), [&sources[..], &[*victim]].concat())
            }
            Kind::Pair { rule, .. } => ("pair".into(), vec![*rule]),
        };
        (name, violation.weight == Weight::Hard, all)
    });
    listed.collect()
}

fn weight() -> impl Strategy<Value = Weight> {
    prop_oneof![Just(Weight::Hard), (0_u32..9).prop_map(Weight::Soft)]
}

fn guard(hz: impl Strategy<Value = i64>) -> impl Strategy<Value = Guard> {
    (prop::sample::select(&FORMS[..]), hz, weight()).prop_map(|(text, guard_hz, weight)| Guard {
        form: form(text),
        guard_hz,
        weight,
    })
}

/// Disjoint windows between ascending cuts.
fn windows() -> impl Strategy<Value = Vec<Window>> {
    prop::collection::btree_set(0_i64..9, 0..6).prop_map(|cuts| {
        let cuts: Vec<i64> = cuts.into_iter().collect();
        let window = |cut: &[i64]| Window { start: cut[0], end: cut[1] };
        cuts.chunks_exact(2).map(window).rev().collect()
    })
}

/// Small problems that mostly hold together, with an assignment near the domain.
fn tame() -> impl Strategy<Value = (Problem, Assignment)> {
    let profile =
        (0_i64..4, prop::collection::vec(guard(0_i64..5), 1..5), prop::bool::weighted(0.85));
    let degree =
        prop::sample::select(vec![Degree::None, Degree::Separation, Degree::Full, Degree::Full]);
    let link = (
        (0_usize..3, 0_usize..3, prop::bool::weighted(0.4), prop::bool::weighted(0.4)),
        windows(),
        (any::<bool>(), 1_u32..5, prop::option::weighted(0.08, 0_i64..20)),
        prop::option::weighted(0.9, -1_i64..22),
    );
    let relation =
        prop_oneof![(0_i64..6).prop_map(Relation::AtLeast), (0_i64..6).prop_map(Relation::Exactly)];
    let pair = (0_usize..7, 0_usize..7, relation, weight());
    (
        prop::collection::vec(profile, 3),
        prop::collection::vec((0_usize..3, 0_usize..3, 0_i64..5), 0..2),
        prop::collection::vec(degree, 3),
        prop::collection::vec(0_u32..5, 20),
        prop::collection::vec(link, 2..7),
        prop::collection::vec(pair, 0..3),
    )
        .prop_map(|(profiles, separations, degrees, costs, links, pairs)| {
            let profiles = profiles.into_iter().enumerate();
            let mut problem = Problem {
                profiles: profiles
                    .map(|(i, (separation_hz, mut guards, mixes))| {
                        guards.sort_by(|a, b| a.form.cmp(&b.form));
                        guards.dedup_by(|a, b| a.form == b.form);
                        Profile { name: format!("P{i}"), separation_hz, guards, mixes }
                    })
                    .collect(),
                separations: separations
                    .into_iter()
                    .map(|(a, b, separation_hz)| ProfileSeparation { a, b, separation_hz })
                    .collect(),
                zones: (0..3).map(|i| format!("Z{i}")).collect(),
                couplings: [(0, 1), (2, 1), (0, 2)]
                    .into_iter()
                    .zip(degrees)
                    .map(|((a, b), degree)| Coupling { a, b, degree })
                    .collect(),
                domains: vec![
                    Domain::Raster { ranges_hz: vec![[0, 19]], step_hz: 1, origin_hz: 3 },
                    Domain::Frequencies((0..20).map(|k| 19 - k).collect()),
                ],
                costs: vec![costs],
                links: vec![],
                pairs: vec![],
            };
            let mut assignment = vec![];
            for (i, (place, windows, (dear, priority, locked_hz), hz)) in
                links.into_iter().enumerate()
            {
                problem.links.push(Link {
                    id: format!("L{i}"),
                    profile: place.0,
                    // Often one zone and no windows, or products would be rare.
                    zone: if place.2 { 0 } else { place.1 },
                    windows: if place.3 { vec![] } else { windows },
                    domain: i % 2,
                    costs: dear.then_some(0),
                    priority,
                    locked_hz,
                });
                assignment.push(hz);
            }
            let n = problem.links.len();
            problem.pairs = pairs
                .into_iter()
                .map(|(a, b, relation, weight)| PairRule { a: a % n, b: b % n, relation, weight })
                .filter(|pair| pair.a != pair.b)
                .collect();
            (problem, assignment)
        })
}

fn wild_hz() -> impl Strategy<Value = i64> {
    prop_oneof![
        90 => 0_i64..40,
        1 => -3_i64..1,
        1 => prop::sample::select(vec![i64::MIN, i64::MIN + 1, i64::MAX, 1 << 40, 1 << 62]),
        1 => any::<i64>(),
    ]
}

fn wild_index() -> impl Strategy<Value = usize> {
    prop_oneof![200 => 0_usize..2, 1 => 0_usize..9, 1 => Just(usize::MAX)]
}

/// What turns one index into the other of a pair.
fn wild_tie() -> impl Strategy<Value = usize> {
    prop_oneof![30 => Just(1), 1 => Just(0), 1 => Just(6)]
}

fn name() -> impl Strategy<Value = String> {
    prop_oneof![90 => "[a-z]{6}", 1 => Just(String::new()), 1 => Just("twin".to_string())]
}

/// Anything that can be read from a file, sound about as often as not.
fn wild() -> impl Strategy<Value = (Problem, Assignment)> {
    let profile =
        (name(), wild_hz(), prop::collection::vec(guard(wild_hz()), 0..2), any::<bool>()).prop_map(
            |(name, separation_hz, guards, mixes)| Profile { name, separation_hz, guards, mixes },
        );
    let separation = (wild_index(), wild_index(), wild_hz())
        .prop_map(|(a, b, separation_hz)| ProfileSeparation { a, b, separation_hz });
    let coupling =
        (wild_index(), wild_index()).prop_map(|(a, b)| Coupling { a, b, degree: Degree::Full });
    let range = prop_oneof![
        6 => (0_i64..20, 0_i64..20).prop_map(|(low, length)| [low, low + length]),
        1 => (wild_hz(), wild_hz()).prop_map(|(low, high)| [low, high])
    ];
    let step = prop_oneof![8 => 1_i64..4, 1 => wild_hz()];
    let domain = prop_oneof![
        prop::collection::vec(wild_hz(), 1..5).prop_map(Domain::Frequencies),
        (prop::collection::vec(range, 1..3), step, wild_hz()).prop_map(
            |(ranges_hz, step_hz, origin_hz)| Domain::Raster { ranges_hz, step_hz, origin_hz }
        ),
    ];
    let link = (
        (name(), wild_index(), wild_index(), wild_index()),
        prop::collection::vec((wild_hz(), wild_hz()), 0..2),
        (prop::option::weighted(0.02, wild_index()), prop_oneof![60 => 1_u32..20, 1 => Just(0)]),
        prop::option::weighted(0.03, wild_hz()),
    )
        .prop_map(|((id, profile, zone, domain), windows, (costs, priority), locked_hz)| Link {
            id,
            profile,
            zone,
            windows: windows
                .into_iter()
                .map(|(start, length)| Window { start, end: start.saturating_add(length) })
                .collect(),
            domain,
            costs,
            priority,
            locked_hz,
        });
    let relation =
        prop_oneof![wild_hz().prop_map(Relation::AtLeast), wild_hz().prop_map(Relation::Exactly)];
    let pair =
        (wild_index(), wild_tie(), relation, any::<u32>()).prop_map(|(a, tie, relation, cost)| {
            PairRule {
                a,
                b: a ^ tie,
                relation,
                weight: if cost % 2 == 0 { Weight::Hard } else { Weight::Soft(cost % 1_000_002) },
            }
        });
    let assignment = prop::collection::vec(prop::option::weighted(0.9, wild_hz()), 6);
    (
        prop::collection::vec(profile, 2),
        prop::collection::vec(separation, 0..2),
        prop::collection::vec(name(), 2),
        prop::collection::vec(coupling, 0..2),
        prop::collection::vec(domain, 2),
        prop::collection::vec(prop::collection::vec(any::<u32>(), 0..4), 0..2),
        prop::collection::vec(link, 2..7),
        prop::collection::vec(pair, 0..2),
        assignment,
    )
        .prop_map(
            |(profiles, separations, zones, couplings, domains, costs, links, pairs, hz)| {
                let assignment = hz.into_iter().take(links.len()).collect();
                let problem = Problem {
                    profiles,
                    separations,
                    zones,
                    couplings,
                    domains,
                    costs,
                    links,
                    pairs,
                };
                (problem, assignment)
            },
        )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3_000, failure_persistence: None, ..Default::default() })]

    #[test]
    fn the_check_agrees_with_plain_enumeration((problem, assignment) in tame()) {
        let Ok(report) = check(&problem, &assignment) else {
            prop_assert!(problem.validate().is_err(), "small problems are never too large");
            return Ok(());
        };
        let (broken, hard, soft) = enumerate(&problem, &assignment);
        prop_assert_eq!(summary(&report), broken);
        prop_assert_eq!((report.hard, report.soft, report.truncated), (hard, soft, false));
        let without: Vec<_> =
            problem.links.iter().zip(&assignment).filter(|(_, hz)| hz.is_none()).collect();
        prop_assert_eq!(report.refused, without.len() as u64);
        let priority: u64 = without.iter().map(|(link, _)| u64::from(link.priority)).sum();
        prop_assert_eq!(report.unserved, priority);
        for violation in &report.violations {
            prop_assert!(!violation.describe(&problem).is_empty());
        }
    }

    #[test]
    fn nothing_that_can_be_read_makes_either_panic((problem, assignment) in wild()) {
        let valid = problem.validate();
        match check(&problem, &assignment) {
            Ok(report) => {
                prop_assert!(valid.is_ok());
                prop_assert!(report.violations.len() as u64 >= u64::from(report.hard > 0));
                for violation in &report.violations {
                    prop_assert!(!violation.describe(&problem).is_empty());
                }
            }
            Err(error) => prop_assert_eq!(valid, Err(error)),
        }
        let text = serde_json::to_string(&problem).expect("writable");
        prop_assert_eq!(serde_json::from_str::<Problem>(&text).expect("readable"), problem);
    }
}
