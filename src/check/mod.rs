//! The independent check: every rule of a problem recounted from its definition.
//!
//! It reads the problem and the assignment and nothing else, so that a fault in a search cannot
//! hide behind the same fault here.

mod air;
mod hits;
mod report;

use std::collections::HashMap;

use crate::error::{Error, Fault, Result};
use crate::problem::{Degree, Problem, Relation, Weight};
use air::Air;

pub use report::{Kind, MAX_LISTED, Report, Violation};

/// The most comparisons a check may need, as estimated beforehand.
const MAX_WORK: f64 = 2e10;

/// A link on its frequency. The order of carriers is by frequency, then link.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Carrier {
    hz: i64,
    link: usize,
}

/// Counts everything an assignment breaks.
///
/// The rules are those of [`Problem`]; links without a carrier break none. A product is counted
/// once per victim; letters with equal coefficients may be exchanged and make one product.
/// The answer is the same on any number of threads.
///
/// Time: the number of products of mixing links that share air and time, one sweep over their
/// victims per product prefix (all letters but the last). Third-order products of a thousand
/// links in one zone take a few seconds; sharing less is faster.
///
/// # Errors
/// [`Error::Invalid`] when the problem is invalid ([`Problem::validate`]) or the assignment is not
/// as long as the list of links. [`Error::TooLarge`] when more than about 2 * 10^10 comparisons
/// would be needed.
///
/// ```
/// use sidon::check::{Kind, check};
/// use sidon::problem::{Domain, Guard, Link, Problem, Profile, Weight};
///
/// let profile = Profile {
///     name: "handheld".into(),
///     separation_hz: 350_000,
///     guards: vec![Guard { form: "2A-B".parse()?, guard_hz: 50_000, weight: Weight::Hard }],
///     mixes: true,
/// };
/// let link = |id: &str| Link {
///     id: id.into(),
///     profile: 0,
///     zone: 0,
///     windows: vec![],
///     domain: 0,
///     costs: None,
///     priority: 1,
///     locked_hz: None,
/// };
/// let problem = Problem {
///     profiles: vec![profile],
///     separations: vec![],
///     zones: vec!["stage".into()],
///     couplings: vec![],
///     domains: vec![Domain::Raster {
///         ranges_hz: vec![[518_000_000, 526_000_000]],
///         step_hz: 25_000,
///         origin_hz: 0,
///     }],
///     costs: vec![],
///     links: vec![link("A1"), link("A2"), link("A3")],
///     pairs: vec![],
/// };
/// let report = check(&problem, &[Some(518_500_000), Some(519_000_000), Some(519_500_000)])?;
/// assert_eq!(report.hard, 2);
/// assert_eq!(
///     report.violations[0].describe(&problem),
///     "2A-B product of \"A2\" and \"A1\" on 519.5 MHz falls on \"A3\"; guard 0.05 MHz"
/// );
/// # Ok::<(), sidon::Error>(())
/// ```
pub fn check(problem: &Problem, assignment: &[Option<i64>]) -> Result<Report> {
    problem.validate()?;
    if assignment.len() != problem.links.len() {
        return Err(Error::Invalid(vec![Fault::new(
            "assignment",
            format!("it has {} entries for {} links", assignment.len(), problem.links.len()),
            "give one frequency, or none, per link in the order of the links",
        )]));
    }
    let mut report = Report::default();
    let unserved = problem.links.iter().zip(assignment).filter(|(_, hz)| hz.is_none());
    for (link, _) in unserved {
        report.refused += 1;
        report.unserved += u64::from(link.priority);
    }
    check_links(problem, assignment, &mut report);
    check_pairs(problem, assignment, &mut report);

    let mut carriers: Vec<Carrier> = assignment
        .iter()
        .enumerate()
        .filter_map(|(link, hz)| hz.map(|hz| Carrier { hz, link }))
        .collect();
    carriers.sort_unstable();
    let air = Air::new(problem);
    check_separations(problem, &air, &carriers, &mut report)?;
    hits::check(problem, &air, &carriers, Some(&mut report))?;
    Ok(report)
}

/// Whether a check of this problem, with every link on the air, is within reason.
///
/// Asked before a search begins, so that no plan is lost for want of a check.
pub(crate) fn within_reach(problem: &Problem, candidates_hz: &[Vec<i64>]) -> Result<()> {
    let carriers: Vec<Carrier> = problem
        .links
        .iter()
        .enumerate()
        .filter_map(|(link, of)| {
            let candidates = &candidates_hz[of.domain];
            // Spread over the domain, as the carriers of a plan would be.
            let at = candidates.len() * link / problem.links.len();
            candidates.get(at).map(|&hz| Carrier { hz, link })
        })
        .collect();
    hits::check(problem, &Air::new(problem), &carriers, None)
}

/// Domains, locks and costs of frequencies.
fn check_links(problem: &Problem, assignment: &[Option<i64>], report: &mut Report) {
    let mut by_domain = vec![Vec::new(); problem.domains.len()];
    for (i, link) in problem.links.iter().enumerate() {
        by_domain[link.domain].push(i);
    }
    let mut position = vec![None; problem.links.len()];
    for (domain, links) in problem.domains.iter().zip(by_domain) {
        if links.iter().all(|&i| assignment[i].is_none()) {
            continue;
        }
        let candidates = domain.candidates_hz();
        for i in links {
            position[i] = assignment[i].and_then(|hz| candidates.binary_search(&hz).ok());
        }
    }
    for (i, link) in problem.links.iter().enumerate() {
        let Some(frequency_hz) = assignment[i] else { continue };
        if position[i].is_none() {
            report.add(Weight::Hard, || Kind::OffDomain { link: i, frequency_hz });
        }
        if let Some(locked_hz) = link.locked_hz.filter(|&locked_hz| locked_hz != frequency_hz) {
            report.add(Weight::Hard, || Kind::LockMoved { link: i, frequency_hz, locked_hz });
        }
        if let (Some(table), Some(position)) = (link.costs, position[i]) {
            report.soft += u64::from(problem.costs[table][position]);
        }
    }
}

fn check_pairs(problem: &Problem, assignment: &[Option<i64>], report: &mut Report) {
    for (rule, pair) in problem.pairs.iter().enumerate() {
        let (Some(a), Some(b)) = (assignment[pair.a], assignment[pair.b]) else { continue };
        let distance = (i128::from(a) - i128::from(b)).abs();
        let holds = match pair.relation {
            Relation::AtLeast(hz) => distance >= i128::from(hz),
            Relation::Exactly(hz) => distance == i128::from(hz),
        };
        if !holds {
            report.add(pair.weight, || Kind::Pair { rule, distance_hz: clamped(distance) });
        }
    }
}

fn check_separations(
    problem: &Problem,
    air: &Air,
    carriers: &[Carrier],
    report: &mut Report,
) -> Result<()> {
    let special: HashMap<(usize, usize), i64> = problem
        .separations
        .iter()
        .flat_map(|rule| {
            [((rule.a, rule.b), rule.separation_hz), ((rule.b, rule.a), rule.separation_hz)]
        })
        .collect();
    let own = |link: usize| problem.profiles[problem.links[link].profile].separation_hz;
    let asked = |a: usize, b: usize| {
        let profiles = (problem.links[a].profile, problem.links[b].profile);
        special.get(&profiles).copied().unwrap_or(own(a).max(own(b)))
    };
    let widest = carriers.iter().map(|carrier| own(carrier.link)).chain(special.values().copied());
    let widest = i128::from(widest.max().unwrap_or(0));
    let near = |low: &Carrier, high: &Carrier| {
        let distance = i128::from(high.hz) - i128::from(low.hz);
        (distance < widest).then_some(distance)
    };

    let mut last = 0;
    let mut work = 0.0;
    for (i, low) in carriers.iter().enumerate() {
        last = last.max(i);
        while carriers.get(last + 1).is_some_and(|high| near(low, high).is_some()) {
            last += 1;
        }
        work += (last - i) as f64;
    }
    work *= air.windows_per_link();
    within_reason("the check of separations", work, "lower the separations or serve fewer links")?;

    for (i, low) in carriers.iter().enumerate() {
        for high in &carriers[i + 1..] {
            let Some(distance) = near(low, high) else { break };
            let (a, b) = (low.link.min(high.link), low.link.max(high.link));
            let separation_hz = asked(a, b);
            if distance < i128::from(separation_hz)
                && air.shared(a, b, Degree::Separation)
                && air.share_time(a, b)
            {
                let distance_hz = clamped(distance);
                report.add(Weight::Hard, || Kind::Separation { a, b, distance_hz, separation_hz });
            }
        }
    }
    Ok(())
}

/// Refuses work that would look like a hang.
fn within_reason(what: &str, work: f64, remedy: &str) -> Result<()> {
    if work <= MAX_WORK {
        return Ok(());
    }
    Err(Error::TooLarge {
        what: what.into(),
        why: format!("it needs about {work:.1e} comparisons, above {MAX_WORK:.0e}"),
        remedy: remedy.into(),
    })
}

/// The nearest `i64`: only carriers far outside any domain are further apart.
fn clamped(hz: i128) -> i64 {
    hz.clamp(i128::from(i64::MIN), i128::from(i64::MAX)) as i64
}
