//! Each rule of the check on small hand-made cases.

use sidon::Error;
use sidon::check::{Kind, MAX_LISTED, Report, Violation, check};
use sidon::problem::{
    Coupling, Degree, Domain, PairRule, Problem, ProfileSeparation, Relation, Weight, Window,
};

use crate::problems::{form, guards, on_carriers, problem, profile};

fn report(problem: &Problem, frequencies: &[i64]) -> Report {
    let assignment: Vec<_> = frequencies.iter().map(|&hz| Some(hz)).collect();
    check(problem, &assignment).expect("a valid problem")
}

fn kinds(report: &Report) -> Vec<Kind> {
    report.violations.iter().map(|violation| violation.kind.clone()).collect()
}

fn changed(mut problem: Problem, change: impl FnOnce(&mut Problem)) -> Problem {
    change(&mut problem);
    problem
}

/// Three carriers 10, 20, 30 where 2 * 20 - 10 = 30 and 2 * 20 - 30 = 10.
const COMB: [i64; 3] = [10, 20, 30];

fn comb() -> Problem {
    problem(3, 0, &[("2A-B", 1)])
}

fn hit(sources: [usize; 2], victim: usize, product_hz: i64) -> Kind {
    Kind::Hit {
        form: form("2A-B"),
        sources: sources.to_vec(),
        victim,
        product_hz,
        offset_hz: 0,
        guard_hz: 1,
    }
}

#[test]
fn an_empty_problem_breaks_nothing() {
    let problem = changed(problem(0, 0, &[]), |p| p.domains.clear());
    let report = check(&problem, &[]).expect("valid");
    assert_eq!(report, Report::default());
    assert!(report.is_clean());
}

#[test]
fn links_without_a_carrier_count_by_priority_and_break_nothing() {
    let problem = changed(comb(), |p| {
        p.links[0].priority = 5;
        p.links[1].priority = 7;
        p.links[1].locked_hz = Some(20);
    });
    let report = check(&problem, &[None, None, Some(30)]).expect("valid");
    assert_eq!((report.refused, report.unserved, report.hard), (2, 12, 0));
}

#[test]
fn off_domain_and_moved_locks() {
    let problem = changed(problem(2, 0, &[]), |p| {
        p.domains[0] = Domain::Raster { ranges_hz: vec![[0, 100]], step_hz: 10, origin_hz: 5 };
        p.links[1].locked_hz = Some(25);
    });
    assert!(report(&problem, &[15, 25]).is_clean());
    let found = report(&problem, &[16, 35]);
    assert_eq!(
        kinds(&found),
        [
            Kind::OffDomain { link: 0, frequency_hz: 16 },
            Kind::LockMoved { link: 1, frequency_hz: 35, locked_hz: 25 },
        ]
    );
    // Off its domain and off its lock are two rules.
    assert_eq!(report(&problem, &[15, 26]).hard, 2);
}

#[test]
fn separations_take_the_larger_profile_unless_listed() {
    let two = |extra: Vec<ProfileSeparation>| {
        changed(problem(2, 30, &[]), |p| {
            p.profiles.push(profile("P1", 50, &[]));
            p.links[1].profile = 1;
            p.separations = extra;
        })
    };
    assert!(report(&two(vec![]), &[100, 150]).is_clean());
    let found = report(&two(vec![]), &[149, 100]);
    let expected = Kind::Separation { a: 0, b: 1, distance_hz: 49, separation_hz: 50 };
    assert_eq!(kinds(&found), [expected]);
    let narrow = two(vec![ProfileSeparation { a: 1, b: 0, separation_hz: 20 }]);
    assert!(report(&narrow, &[149, 129]).is_clean());
    assert_eq!(report(&narrow, &[149, 130]).hard, 1);
    let wide = two(vec![ProfileSeparation { a: 0, b: 1, separation_hz: 90 }]);
    assert_eq!(report(&wide, &[100, 189]).hard, 1);
    // A rule between the two profiles says nothing of two links of one.
    let alike = changed(wide, |p| p.links[1].profile = 0);
    assert!(report(&alike, &[100, 130]).is_clean());
}

#[test]
fn products_hit_within_the_victims_guard() {
    let found = report(&comb(), &COMB);
    assert_eq!(kinds(&found), [hit([1, 0], 2, 30), hit([1, 2], 0, 10)]);
    // Strictly nearer than the guard, above or below; a guard of 0 waives the form.
    let guarded = |guard| problem(3, 0, &[("2A-B", guard)]);
    assert_eq!(report(&guarded(3), &[10, 20, 33]).hard, 0);
    assert_eq!(report(&guarded(4), &[10, 20, 33]).hard, 2);
    assert_eq!(report(&guarded(0), &COMB).hard, 0);
    let offsets = |report: &Report| -> Vec<i64> {
        let of = |violation: &Violation| match violation.kind {
            Kind::Hit { offset_hz, .. } => offset_hz,
            _ => 0,
        };
        report.violations.iter().map(of).collect()
    };
    assert_eq!(offsets(&report(&guarded(4), &[10, 20, 33])), [-3, -3]);
    assert_eq!(offsets(&report(&guarded(4), &[10, 20, 27])), [3, 3]);
}

#[test]
fn guards_belong_to_the_victim() {
    let problem = changed(comb(), |p| {
        p.profiles.push(profile("tolerant", 0, &[("2A-B", 0)]));
        p.links[0].profile = 1;
    });
    assert_eq!(kinds(&report(&problem, &COMB)), [hit([1, 0], 2, 30)]);
}

#[test]
fn links_that_do_not_mix_are_victims_only() {
    let problem = changed(comb(), |p| {
        p.profiles.push(profile("quiet", 0, &[("2A-B", 1)]));
        p.profiles[1].mixes = false;
        p.links[2].profile = 1;
    });
    assert_eq!(kinds(&report(&problem, &COMB)), [hit([1, 0], 2, 30)]);
}

#[test]
fn exchangeable_letters_make_one_product() {
    let three_tone = |carriers: &[i64]| {
        let (problem, _) = on_carriers(carriers, 0, &[("A+B-C", 1)]);
        report(&problem, carriers)
    };
    // 10 + 40 = 20 + 30: each of the four is hit once.
    let found = three_tone(&[10, 40, 30, 20]);
    assert_eq!(found.hard, 4);
    let sources = [vec![0, 1, 2], vec![0, 1, 3], vec![2, 3, 0], vec![2, 3, 1]];
    for listed in sources {
        let is = |kind: &Kind| matches!(kind, Kind::Hit { sources, .. } if *sources == listed);
        assert_eq!(kinds(&found).iter().filter(|kind| is(kind)).count(), 1, "{listed:?}");
    }
    // 10 + 30 - 20 = 20 lands on a letter of its own: that relation is 2A-B.
    assert_eq!(three_tone(&COMB).hard, 0);
}

#[test]
fn carriers_on_one_frequency_are_distinct_letters_and_victims() {
    // 2 * 7 - 7 = 7 for each choice of three of four links in order.
    let found = report(&problem(4, 0, &[("2A-B", 1)]), &[7, 7, 7, 7]);
    assert_eq!(found.hard, 24);
}

#[test]
fn zones_and_degrees() {
    use Degree::{Full, None, Separation};
    let in_zones = |zones: [usize; 3], couplings: &[(usize, usize, Degree)]| {
        changed(problem(3, 100, &[("2A-B", 1)]), |p| {
            p.zones = (0..3).map(|i| format!("Z{i}")).collect();
            for (link, zone) in p.links.iter_mut().zip(zones) {
                link.zone = zone;
            }
            p.couplings =
                couplings.iter().map(|&(a, b, degree)| Coupling { a, b, degree }).collect();
        })
    };
    let count = |zones, couplings: &[(usize, usize, Degree)]| {
        let found = report(&in_zones(zones, couplings), &COMB);
        let near = kinds(&found).iter().filter(|k| matches!(k, Kind::Separation { .. })).count();
        (near, found.hard as usize - near)
    };
    assert_eq!(count([0, 0, 0], &[]), (3, 2));
    assert_eq!(count([0, 1, 2], &[]), (0, 0));
    assert_eq!(count([0, 0, 1], &[]), (1, 0));
    assert_eq!(count([0, 0, 1], &[(0, 1, None)]), (1, 0));
    assert_eq!(count([0, 0, 1], &[(1, 0, Separation)]), (3, 0));
    assert_eq!(count([0, 0, 1], &[(1, 0, Full)]), (3, 2));
    // All participants must reach each other: a chain of zones is not enough.
    assert_eq!(count([0, 1, 2], &[(0, 1, Full), (1, 2, Full)]), (2, 0));
    assert_eq!(count([0, 1, 2], &[(0, 1, Full), (1, 2, Full), (0, 2, Separation)]), (3, 0));
    assert_eq!(count([0, 1, 2], &[(0, 1, Full), (1, 2, Full), (0, 2, Full)]), (3, 2));
}

#[test]
fn windows_must_meet_in_one_instant() {
    let with = |windows: [&[(i64, i64)]; 3]| {
        let problem = changed(problem(3, 11, &[("2A-B", 1)]), |p| {
            for (link, windows) in p.links.iter_mut().zip(windows) {
                link.windows = windows.iter().map(|&(start, end)| Window { start, end }).collect();
            }
        });
        let found = report(&problem, &COMB);
        let near = kinds(&found).iter().filter(|k| matches!(k, Kind::Separation { .. })).count();
        (near, found.hard as usize - near)
    };
    assert_eq!(with([&[], &[], &[]]), (2, 2));
    assert_eq!(with([&[(0, 9)], &[], &[(8, 20)]]), (2, 2));
    // Half open: what ends at 8 does not meet what starts at 8.
    assert_eq!(with([&[(0, 8)], &[], &[(8, 20)]]), (2, 0));
    assert_eq!(with([&[(0, 8)], &[(8, 9)], &[]]), (1, 0));
    // Every two meet, but never all three at once.
    assert_eq!(with([&[(10, 20), (0, 5)], &[(15, 25)], &[(20, 30), (0, 5)]]), (2, 0));
    assert_eq!(with([&[(10, 21), (0, 5)], &[(15, 25)], &[(20, 30), (0, 5)]]), (2, 2));
}

#[test]
fn pair_rules_hold_whatever_zones_and_windows() {
    let with = |relation, weight| {
        changed(problem(2, 50, &[]), |p| {
            p.zones.push("far".into());
            p.links[1].zone = 1;
            p.links[0].windows = vec![Window { start: 0, end: 1 }];
            p.links[1].windows = vec![Window { start: 5, end: 6 }];
            p.pairs = vec![PairRule { a: 1, b: 0, relation, weight }];
        })
    };
    let apart = with(Relation::AtLeast(40), Weight::Hard);
    assert!(report(&apart, &[100, 140]).is_clean());
    assert_eq!(kinds(&report(&apart, &[100, 139])), [Kind::Pair { rule: 0, distance_hz: 39 }]);
    assert!(check(&apart, &[Some(100), None]).expect("valid").is_clean());
    let duplex = with(Relation::Exactly(40), Weight::Soft(3));
    assert_eq!(report(&duplex, &[140, 100]).soft, 0);
    assert_eq!(report(&duplex, &[139, 100]).soft, 3);
    assert_eq!(report(&duplex, &[141, 100]).soft, 3);
}

#[test]
fn soft_rules_and_dear_frequencies_add_up() {
    let problem = changed(comb(), |p| {
        p.profiles[0].guards[0].weight = Weight::Soft(10);
        p.domains[0] = Domain::Frequencies(vec![30, 20, 10]);
        p.costs = vec![vec![1, 200, 4000]];
        p.links[0].costs = Some(0);
        p.links[2].costs = Some(0);
    });
    let found = report(&problem, &COMB);
    // Two hits at 10; 10 Hz costs 1 and 30 Hz costs 4000, the entries being in ascending order.
    assert_eq!((found.hard, found.soft, found.violations.len()), (0, 4021, 2));
    assert!(found.violations.iter().all(|violation| violation.weight == Weight::Soft(10)));
    // Off its domain a carrier has no price.
    assert_eq!(report(&problem, &[11, 20, 31]).soft, 0);
}

#[test]
fn several_forms_are_counted_each_with_its_own_guard() {
    let problem = changed(problem(4, 0, &[("2A-B", 2), ("3A-2B", 6)]), |p| {
        p.profiles[0].guards[1].weight = Weight::Soft(1);
    });
    // 2A-B: 40 from (20, 0); 3A-2B: 60 from (20, 0) misses 65 by 5.
    let found = report(&problem, &[0, 20, 41, 65]);
    let of = |name: &str| {
        let is = |kind: &&Kind| matches!(kind, Kind::Hit { form: f, .. } if *f == form(name));
        kinds(&found).iter().filter(is).count()
    };
    assert_eq!(of("2A-B"), 2);
    assert_eq!(of("3A-2B") as u64, found.soft);
    let five = Kind::Hit {
        form: form("3A-2B"),
        sources: vec![1, 0],
        victim: 3,
        product_hz: 60,
        offset_hz: -5,
        guard_hz: 6,
    };
    assert!(kinds(&found).contains(&five));
}

#[test]
fn counts_stay_exact_beyond_the_list() {
    let carriers: Vec<i64> = (0..60).collect();
    let (problem, _) = on_carriers(&carriers, 0, &[("A+B-C", 1)]);
    let found = report(&problem, &carriers);
    // Enumerated: additive quadruples of 0..59 with four distinct members, four hits each.
    let mut quadruples = 0;
    for a in 0..60 {
        for b in a + 1..60 {
            for c in a + 1..b {
                let d = a + b - c;
                quadruples += u64::from(c < d);
            }
        }
    }
    assert_eq!(found.hard, 4 * quadruples);
    assert_eq!(found.violations.len(), MAX_LISTED);
    assert!(found.truncated);
    assert_eq!(found, report(&problem, &carriers), "the list is the same each time");
}

#[test]
fn extreme_carriers_are_compared_exactly() {
    let problem = problem(3, 5, &[("2A-B", 10)]);
    let found = report(&problem, &[i64::MAX, 0, i64::MIN]);
    assert_eq!(found.hard, 4, "two off the domain, two hits: {:?}", kinds(&found));
    // 2 * 0 - MIN = MAX + 1 and 2 * 0 - MAX = MIN + 1, each one beside its victim.
    assert!(
        kinds(&found).iter().any(|kind| matches!(kind, Kind::Hit { offset_hz: 1, victim: 0, .. }))
    );
}

#[test]
fn bad_calls_are_refused() {
    assert!(matches!(check(&comb(), &[Some(10)]), Err(Error::Invalid(faults))
        if faults[0].place == "assignment" && faults[0].what.contains("1 entries for 3 links")));
    let broken = changed(comb(), |p| p.links[0].zone = 4);
    assert!(matches!(check(&broken, &[None, None, None]), Err(Error::Invalid(_))));
    let everyone = changed(problem(1_000, 0, &[("A+B+C-D-E", 1)]), |p| {
        p.domains[0] = Domain::Frequencies((0..1_000).collect());
    });
    let carriers: Vec<_> = (0..1_000).map(Some).collect();
    assert!(matches!(check(&everyone, &carriers), Err(Error::TooLarge { .. })));
}

#[test]
fn violations_read_with_ids_and_exact_megahertz() {
    let problem = changed(problem(3, 350_000, &[("2A-B", 50_000)]), |p| {
        p.domains[0] = Domain::Raster {
            ranges_hz: vec![[470_000_000, 608_000_000]],
            step_hz: 25_000,
            origin_hz: 0,
        };
        p.links[0].id = "Vox 1".into();
        p.links[2].locked_hz = Some(519_500_000);
        let relation = Relation::Exactly(1_000_000);
        p.pairs = vec![PairRule { a: 0, b: 1, relation, weight: Weight::Soft(1) }];
    });
    let found = report(&problem, &[518_525_000, 518_825_000, 519_150_001]);
    let texts: Vec<_> = found.violations.iter().map(|v| v.describe(&problem)).collect();
    assert_eq!(
        texts,
        [
            "\"L2\" stands on 519.150001 MHz, not one of its candidates",
            "\"L2\" stands on 519.150001 MHz, locked to 519.5 MHz",
            "\"Vox 1\" and \"L1\" stand 0.3 MHz apart; exactly 1 MHz asked",
            "\"Vox 1\" and \"L1\" stand 0.3 MHz apart; separation 0.35 MHz",
            "\"L1\" and \"L2\" stand 0.325001 MHz apart; separation 0.35 MHz",
            "2A-B product of \"L1\" and \"Vox 1\" on 519.125 MHz falls 0.025001 MHz below \"L2\"; \
             guard 0.05 MHz",
            "2A-B product of \"L1\" and \"L2\" on 518.499999 MHz falls 0.025001 MHz below \
             \"Vox 1\"; guard 0.05 MHz",
        ]
    );
    // A report read beside another problem still reads.
    let other = changed(comb(), |p| p.links.clear());
    assert!(found.violations[2].describe(&other).contains("pair rule 0"));
    assert!(found.violations[5].describe(&other).contains("link 2"));
}

#[test]
fn reports_survive_json() {
    let problem = changed(comb(), |p| p.profiles[0].guards = guards(&[("A+B-C", 2), ("2A-B", 9)]));
    let found = report(&problem, &[10, 21, 3000]);
    assert!(found.hard > 0);
    let text = serde_json::to_string(&found).expect("writable");
    assert_eq!(serde_json::from_str::<Report>(&text).expect("readable"), found);
}
