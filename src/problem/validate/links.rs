//! Faults of single links: references, windows, costs, priority, lock against domain.

use super::faults::Faults;
use crate::problem::domain::Sorted;
use crate::problem::{Link, Problem};

/// Checks every link on its own. `domains` holds those that can be asked.
pub(super) fn check(problem: &Problem, domains: &[Option<Sorted>], faults: &mut Faults) {
    let ids = problem.links.iter().map(|link| link.id.as_str());
    faults.names("links", ".id", "link", ids);
    let counts: Vec<_> = domains.iter().map(|domain| domain.as_ref().map(Sorted::count)).collect();
    for (i, link) in problem.links.iter().enumerate() {
        let place = format!("links[{i}]");
        faults.index(format!("{place}.profile"), link.profile, problem.profiles.len(), "profiles");
        faults.index(format!("{place}.zone"), link.zone, problem.zones.len(), "zones");
        faults.index(format!("{place}.domain"), link.domain, domains.len(), "domains");
        check_windows(&place, link, faults);
        check_costs(&place, problem, link, counts.get(link.domain).copied().flatten(), faults);
        if link.priority == 0 {
            faults.push(
                format!("{place}.priority"),
                "priority 0 would make it worth nothing".into(),
                "give a priority of 1 or more, or drop the link",
            );
        }
        let domain = domains.get(link.domain).and_then(Option::as_ref);
        if let (Some(locked), Some(domain)) = (link.locked_hz, domain)
            && !domain.contains(locked)
        {
            faults.push(
                format!("{place}.locked_hz"),
                format!(
                    "contradictory lock: {locked} Hz is not among the candidates of domain {}",
                    link.domain
                ),
                "lock it to one of its candidates, or widen the domain",
            );
        }
    }
}

fn check_windows(place: &str, link: &Link, faults: &mut Faults) {
    let mut order: Vec<usize> = Vec::with_capacity(link.windows.len());
    for (j, window) in link.windows.iter().enumerate() {
        if window.end > window.start {
            order.push(j);
        } else {
            faults.push(
                format!("{place}.windows[{j}]"),
                format!("minute {} to {} has no length", window.start, window.end),
                "let it end after it starts; past midnight, go on counting minutes",
            );
        }
    }
    order.sort_by_key(|&j| link.windows[j]);
    // The window that reaches furthest so far, so that one long window is seen to cover many.
    let mut furthest: Option<usize> = None;
    for j in order {
        let window = link.windows[j];
        if let Some(k) = furthest
            && link.windows[k].end > window.start
        {
            faults.push(
                format!("{place}.windows[{j}]"),
                format!("minute {} to {} overlaps windows[{k}]", window.start, window.end),
                "join overlapping windows of a link into one",
            );
        }
        if furthest.is_none_or(|k| link.windows[k].end < window.end) {
            furthest = Some(j);
        }
    }
}

fn check_costs(
    place: &str,
    problem: &Problem,
    link: &Link,
    candidates: Option<u128>,
    faults: &mut Faults,
) {
    let Some(costs) = link.costs else { return };
    let place = format!("{place}.costs");
    if !faults.index(place.clone(), costs, problem.costs.len(), "cost tables") {
        return;
    }
    let entries = problem.costs[costs].len();
    if let Some(candidates) = candidates
        && candidates != entries as u128
    {
        faults.push(
            place,
            format!(
                "cost table {costs} has {entries} entries, but domain {} has {candidates} \
                 candidates",
                link.domain
            ),
            "give one cost per distinct candidate, in ascending order of frequency",
        );
    }
}
