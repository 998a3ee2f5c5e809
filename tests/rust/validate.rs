//! Every fault a problem can have, alone and together.

use sidon::problem::{
    Coupling, Degree, Domain, PairRule, Problem, ProfileSeparation, Relation, Weight, Window,
};
use sidon::{Error, Fault};

use crate::problems::{guards, link, problem, profile};

const TERA: i64 = 1_000_000_000_000;

fn faults(problem: &Problem) -> Vec<Fault> {
    match problem.validate() {
        Ok(()) => vec![],
        Err(Error::Invalid(faults)) => faults,
        Err(other) => panic!("not a list of faults: {other}"),
    }
}

/// The problem has this one fault, at this place, with this in its words.
fn assert_fault(problem: &Problem, place: &str, what: &str) {
    let found = faults(problem);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].place, place, "{}", found[0]);
    assert!(found[0].what.contains(what), "{}", found[0]);
    assert!(!found[0].remedy.is_empty());
}

/// Three sound links.
fn sound() -> Problem {
    problem(3, 10, &[("2A-B", 5)])
}

fn broken(change: impl FnOnce(&mut Problem)) -> Problem {
    let mut problem = sound();
    change(&mut problem);
    problem
}

#[test]
fn sound_and_empty_problems_pass() {
    assert_eq!(sound().validate(), Ok(()));
    let nothing = r#"{"profiles": [], "zones": [], "domains": [], "links": []}"#;
    let empty: Problem = serde_json::from_str(nothing).expect("readable");
    assert_eq!(empty.validate(), Ok(()));
}

#[test]
fn small_numbers_and_zero_are_sound_in_any_unit() {
    let problem = broken(|p| p.domains[0] = Domain::Frequencies(vec![0, 1, 4, 6, TERA]));
    assert_eq!(problem.validate(), Ok(()));
}

#[test]
fn references_outside_their_lists() {
    assert_fault(&broken(|p| p.links[1].profile = 7), "links[1].profile", "index 7");
    assert_fault(&broken(|p| p.links[1].zone = 1), "links[1].zone", "index 1 is outside the 1");
    assert_fault(&broken(|p| p.links[2].domain = usize::MAX), "links[2].domain", "domains");
    assert_fault(&broken(|p| p.links[0].costs = Some(0)), "links[0].costs", "0 cost tables");
    let pair = PairRule { a: 0, b: 3, relation: Relation::AtLeast(1), weight: Weight::Hard };
    assert_fault(&broken(|p| p.pairs = vec![pair]), "pairs[0].b", "3 links");
    let separation = ProfileSeparation { a: 4, b: 0, separation_hz: 1 };
    assert_fault(&broken(|p| p.separations = vec![separation]), "separations[0].a", "1 profiles");
    let coupling = Coupling { a: 0, b: 9, degree: Degree::Full };
    assert_fault(&broken(|p| p.couplings = vec![coupling]), "couplings[0].b", "1 zones");
}

#[test]
fn blank_and_repeated_names() {
    assert_fault(&broken(|p| p.links[2].id = "L0".into()), "links[2].id", "links[0]");
    assert_fault(&broken(|p| p.links[1].id = "  ".into()), "links[1].id", "blank");
    assert_fault(&broken(|p| p.zones.push("Z0".into())), "zones[1]", "zones[0]");
    assert_fault(&broken(|p| p.zones.push(String::new())), "zones[1]", "blank");
    let twin = profile("P0", 1, &[]);
    assert_fault(&broken(|p| p.profiles.push(twin)), "profiles[1].name", "profiles[0]");
    assert_fault(&broken(|p| p.profiles[0].name.clear()), "profiles[0].name", "blank");
}

#[test]
fn domains_without_candidates() {
    let raster = |ranges: Vec<[i64; 2]>, step_hz| Domain::Raster {
        ranges_hz: ranges,
        step_hz,
        origin_hz: 0,
    };
    let with = |domain: Domain| broken(|p| p.domains[0] = domain);
    assert_fault(&with(Domain::Frequencies(vec![])), "domains[0]", "no candidate");
    assert_fault(&with(raster(vec![], 5)), "domains[0]", "no candidate");
    assert_fault(&with(raster(vec![[6, 9], [11, 14]], 5)), "domains[0]", "no candidate");
    assert_fault(&with(raster(vec![[0, 9]], 0)), "domains[0].raster.step_hz", "0 Hz");
    assert_fault(&with(raster(vec![[0, 9]], i64::MIN)), "domains[0].raster.step_hz", "-9223");
    assert_fault(&with(raster(vec![[1, 9], [9, 1]], 1)), "domains[0].raster.ranges_hz[1]", "9 Hz");
}

#[test]
fn domains_out_of_bounds() {
    let with = |domain: Domain| broken(|p| p.domains[0] = domain);
    assert_fault(&with(Domain::Frequencies(vec![1, -1])), "domains[0].frequencies[1]", "-1 Hz");
    let above = Domain::Frequencies(vec![TERA + 1]);
    assert_fault(&with(above), "domains[0].frequencies[0]", "1000000000001 Hz");
    let raster =
        |range, step_hz, origin_hz| Domain::Raster { ranges_hz: vec![range], step_hz, origin_hz };
    let range = "domains[0].raster.ranges_hz[0]";
    assert_fault(&with(raster([-5, 5], 1, 0)), range, "-5 Hz");
    assert_fault(&with(raster([5, i64::MAX], 1, 0)), range, "9223372036854775807 Hz");
    assert_fault(&with(raster([0, 5], 1, i64::MIN)), "domains[0].raster.origin_hz", "-9223");
    // 47 to 60.8 GHz in hertz steps: refused by counting, not by writing it out.
    let wide = raster([47_000_000_000, 60_800_000_000], 1, 0);
    assert_fault(&with(wide), "domains[0]", "13800000001 candidates");
}

#[test]
fn overlapping_ranges_count_once() {
    let domain = Domain::Raster {
        ranges_hz: vec![[0, 20], [10, 30], [40, 44]],
        step_hz: 5,
        origin_hz: 1_000,
    };
    assert_eq!(domain.candidates_hz(), [0, 5, 10, 15, 20, 25, 30, 40]);
    assert_eq!(domain.count(), 8);
    assert!(domain.contains(25) && !domain.contains(35) && !domain.contains(26));
}

#[test]
fn extreme_domains_do_not_overflow() {
    let domain = Domain::Raster {
        ranges_hz: vec![[i64::MIN, i64::MIN + 1], [i64::MAX - 1, i64::MAX]],
        step_hz: i64::MAX,
        origin_hz: i64::MIN,
    };
    assert_eq!(domain.candidates_hz(), [i64::MIN, i64::MAX - 1]);
    assert!(domain.contains(i64::MAX - 1) && !domain.contains(i64::MAX));
    let none = Domain::Raster { ranges_hz: vec![[0, 9]], step_hz: -1, origin_hz: 0 };
    assert!(none.candidates_hz().is_empty() && none.count() == 0 && !none.contains(3));
    let all = Domain::Raster { ranges_hz: vec![[i64::MIN, i64::MAX]], step_hz: 1, origin_hz: 7 };
    assert_eq!(all.count(), 1 << 64);
}

#[test]
fn distances_negative_or_absurd() {
    let place = "profiles[0].separation_hz";
    assert_fault(&broken(|p| p.profiles[0].separation_hz = -1), place, "-1 Hz is negative");
    assert_fault(&broken(|p| p.profiles[0].separation_hz = TERA + 1), place, "above");
    let place = "profiles[0].guards[0].guard_hz";
    assert_fault(&broken(|p| p.profiles[0].guards[0].guard_hz = i64::MIN), place, "negative");
    assert_fault(&broken(|p| p.profiles[0].guards[0].guard_hz = i64::MAX), place, "above");
    let separation = ProfileSeparation { a: 0, b: 0, separation_hz: -3 };
    let place = "separations[0].separation_hz";
    assert_fault(&broken(|p| p.separations = vec![separation]), place, "-3 Hz");
    for relation in [Relation::AtLeast(-2), Relation::Exactly(-2)] {
        let pair = PairRule { a: 0, b: 1, relation, weight: Weight::Hard };
        assert_fault(&broken(|p| p.pairs = vec![pair]), "pairs[0].relation", "-2 Hz");
    }
    // Wider than the domain is impossible to serve, not wrong to ask.
    assert_eq!(broken(|p| p.profiles[0].separation_hz = 2_000).validate(), Ok(()));
}

#[test]
fn rules_listed_twice() {
    // The order of letters makes no other form.
    let twice = guards(&[("A+B-C", 1), ("A-B+C", 2)]);
    let place = "profiles[0].guards[1].form";
    assert_fault(&broken(|p| p.profiles[0].guards = twice), place, "A+B-C");
    let separation = |a, b| ProfileSeparation { a, b, separation_hz: 1 };
    let problem = broken(|p| {
        p.profiles.push(profile("P1", 1, &[]));
        p.separations = vec![separation(0, 1), separation(1, 1), separation(1, 0)];
    });
    assert_fault(&problem, "separations[2]", "separations[0]");
    let coupling = |a, b| Coupling { a, b, degree: Degree::Full };
    let zones = vec!["Z0".to_string(), "Z1".into()];
    let problem = broken(|p| {
        p.zones = zones.clone();
        p.couplings = vec![coupling(0, 1), coupling(1, 0)];
    });
    assert_fault(&problem, "couplings[1]", "couplings[0]");
    assert_fault(&broken(|p| p.couplings = vec![coupling(0, 0)]), "couplings[0]", "itself");
}

#[test]
fn weights_priorities_and_costs() {
    let heavy = Weight::Soft(1_000_001);
    let place = "profiles[0].guards[0].weight";
    assert_fault(&broken(|p| p.profiles[0].guards[0].weight = heavy), place, "1000001");
    assert_eq!(
        broken(|p| p.profiles[0].guards[0].weight = Weight::Soft(1_000_000)).validate(),
        Ok(())
    );
    let pair = PairRule { a: 0, b: 1, relation: Relation::AtLeast(1), weight: heavy };
    assert_fault(&broken(|p| p.pairs = vec![pair]), "pairs[0].weight", "1000001");
    assert_fault(&broken(|p| p.links[1].priority = 0), "links[1].priority", "priority 0");
    let problem = broken(|p| {
        p.domains.push(Domain::Frequencies(vec![5, 5, 9]));
        p.links[0].domain = 1;
        p.costs = vec![vec![1, 2, 3]];
        p.links[0].costs = Some(0);
    });
    assert_fault(&problem, "links[0].costs", "3 entries, but domain 1 has 2 candidates");
    let dear = broken(|p| p.costs = vec![vec![1, 1_000_001]]);
    assert_fault(&dear, "costs[0]", "1000001");
}

#[test]
fn windows() {
    let window = |start, end| Window { start, end };
    let with = |windows: Vec<Window>| broken(|p| p.links[0].windows = windows);
    assert_fault(&with(vec![window(5, 5)]), "links[0].windows[0]", "5 to 5");
    assert_fault(&with(vec![window(0, 1), window(9, 5)]), "links[0].windows[1]", "9 to 5");
    let nested = with(vec![window(3, 4), window(0, 9), window(9, 12)]);
    assert_fault(&nested, "links[0].windows[0]", "overlaps windows[1]");
    let long = with(vec![window(0, 100), window(5, 6), window(50, 60)]);
    assert_eq!(faults(&long).len(), 2, "both lie within the first");
    assert_eq!(
        with(vec![window(5, 9), window(i64::MIN, 5), window(9, i64::MAX)]).validate(),
        Ok(())
    );
}

#[test]
fn a_pair_rule_of_a_link_with_itself() {
    let pair = PairRule { a: 1, b: 1, relation: Relation::Exactly(3), weight: Weight::Hard };
    assert_fault(&broken(|p| p.pairs = vec![pair]), "pairs[0]", "itself");
}

#[test]
fn a_lock_off_the_domain() {
    assert_fault(&broken(|p| p.links[1].locked_hz = Some(1000)), "links[1].locked_hz", "1000 Hz");
    let problem = broken(|p| {
        p.domains[0] = Domain::Frequencies(vec![30, 10, 20]);
        p.links[1].locked_hz = Some(15);
    });
    assert_fault(&problem, "links[1].locked_hz", "contradictory lock");
}

#[test]
fn locks_nearer_than_their_separation() {
    let locked = |change: &dyn Fn(&mut Problem)| {
        broken(|p| {
            p.links[0].locked_hz = Some(109);
            p.links[2].locked_hz = Some(100);
            p.zones.push("Z1".into());
            change(p);
        })
    };
    let place = "links[2].locked_hz";
    let words = "\"L0\" and \"L2\" are locked 9 Hz apart";
    assert_fault(&locked(&|_| ()), place, words);
    assert_eq!(locked(&|p| p.links[0].locked_hz = Some(110)).validate(), Ok(()));
    assert_eq!(locked(&|p| p.links[0].zone = 1).validate(), Ok(()));
    let coupled = |degree| {
        locked(&|p| {
            p.links[0].zone = 1;
            p.couplings = vec![Coupling { a: 1, b: 0, degree }];
        })
    };
    assert_eq!(coupled(Degree::None).validate(), Ok(()));
    assert_fault(&coupled(Degree::Separation), place, words);
    assert_fault(&coupled(Degree::Full), place, words);
    let narrow = ProfileSeparation { a: 0, b: 0, separation_hz: 9 };
    assert_eq!(locked(&|p| p.separations = vec![narrow.clone()]).validate(), Ok(()));
    let windows = |end| {
        locked(&|p| {
            p.links[0].windows = vec![Window { start: 50, end: 60 }, Window { start: 0, end }];
            p.links[2].windows = vec![Window { start: 10, end: 20 }];
        })
    };
    assert_eq!(windows(10).validate(), Ok(()));
    assert_fault(&windows(11), place, words);
}

#[test]
fn locks_that_a_pair_rule_forbids() {
    let with = |relation, weight| {
        broken(|p| {
            p.links[0].locked_hz = Some(100);
            p.links[1].locked_hz = Some(150);
            p.pairs = vec![PairRule { a: 1, b: 0, relation, weight }];
        })
    };
    let words = "\"L1\" and \"L0\" are locked 50 Hz apart";
    assert_fault(&with(Relation::AtLeast(51), Weight::Hard), "pairs[0]", words);
    assert_fault(&with(Relation::Exactly(49), Weight::Hard), "pairs[0]", words);
    assert_eq!(with(Relation::AtLeast(50), Weight::Hard).validate(), Ok(()));
    assert_eq!(with(Relation::Exactly(50), Weight::Hard).validate(), Ok(()));
    assert_eq!(with(Relation::AtLeast(51), Weight::Soft(5)).validate(), Ok(()));
}

#[test]
fn ten_faults_in_one_report() {
    let problem = broken(|p| {
        p.profiles[0].separation_hz = -1;
        p.profiles[0].guards[0].weight = Weight::Soft(u32::MAX);
        p.zones.push("Z0".into());
        p.couplings = vec![Coupling { a: 0, b: 0, degree: Degree::Full }];
        p.domains.push(Domain::Frequencies(vec![]));
        p.links[0].profile = 3;
        p.links[1].id = "L0".into();
        p.links[1].windows = vec![Window { start: 1, end: 0 }];
        p.links[2].priority = 0;
        p.pairs =
            vec![PairRule { a: 2, b: 2, relation: Relation::Exactly(0), weight: Weight::Hard }];
    });
    let mut places: Vec<String> = faults(&problem).into_iter().map(|fault| fault.place).collect();
    places.sort();
    assert_eq!(
        places,
        [
            "couplings[0]",
            "domains[1]",
            "links[0].profile",
            "links[1].id",
            "links[1].windows[0]",
            "links[2].priority",
            "pairs[0]",
            "profiles[0].guards[0].weight",
            "profiles[0].separation_hz",
            "zones[1]",
        ]
    );
    let text = problem.validate().expect_err("ten faults").to_string();
    assert!(text.starts_with("10 fault(s)") && text.lines().count() == 11, "{text}");
}

#[test]
fn beyond_a_thousand_faults_the_rest_is_counted() {
    let problem = broken(|p| p.domains[0] = Domain::Frequencies(vec![-1; 5_000]));
    let found = faults(&problem);
    assert_eq!(found.len(), 1_001);
    assert!(found[1_000].what.contains("4000"), "{}", found[1_000]);
    // Ten thousand locks on one frequency contradict each other fifty million times.
    let problem = broken(|p| {
        p.links = (0..10_000).map(|i| link(&format!("L{i}"))).collect();
        p.links.iter_mut().for_each(|link| link.locked_hz = Some(5));
    });
    assert!(faults(&problem).len() <= 1_001);
}
