//! Every fault of a problem in one report, before anything is searched or checked.

mod faults;
mod links;
mod locks;

use std::collections::{HashMap, HashSet};

use super::domain::Sorted;
use super::{Domain, Problem, Profile, Weight};
use crate::error::Result;
use faults::Faults;

/// No frequency, distance or step of audio links is above this.
const MAX_HZ: i64 = 1_000_000_000_000;
/// The most candidates one domain may have.
const MAX_CANDIDATES: u128 = 10_000_000;
/// The dearest soft rule.
const MAX_SOFT: u32 = 1_000_000;

impl Problem {
    /// Whether the problem obeys its own rules. An empty problem does: there is nothing to do.
    ///
    /// Checked are indices, names, domains, distances, guards, weights, cost tables, priorities,
    /// windows, couplings, pair rules, and locks against their domains and each other. Whether a
    /// plan exists is not: that is for a search to find out. Any unit is consistent, so small
    /// numbers pass; above 10^12 nothing does.
    ///
    /// O(k log k) in the size of the problem; a raster is not written out.
    ///
    /// # Errors
    /// [`Error::Invalid`](crate::Error::Invalid) with every fault found, its place (such as
    /// `links[3].domain`) and its remedy. Beyond a thousand faults the rest is only counted.
    ///
    /// ```
    /// use sidon::problem::{Domain, Problem};
    /// let problem = Problem {
    ///     profiles: vec![],
    ///     separations: vec![],
    ///     zones: vec!["main stage".into(), "main stage".into()],
    ///     couplings: vec![],
    ///     domains: vec![Domain::Frequencies(vec![])],
    ///     costs: vec![],
    ///     links: vec![],
    ///     pairs: vec![],
    /// };
    /// let Err(sidon::Error::Invalid(faults)) = problem.validate() else { panic!() };
    /// assert_eq!(faults[0].place, "zones[1]");
    /// assert_eq!(faults[1].place, "domains[0]");
    /// ```
    pub fn validate(&self) -> Result<()> {
        let mut faults = Faults::default();
        self.check_profiles(&mut faults);
        self.check_separations(&mut faults);
        faults.names("zones", "", "zone", self.zones.iter().map(String::as_str));
        self.check_couplings(&mut faults);
        let domains = self.check_domains(&mut faults);
        links::check(self, &domains, &mut faults);
        self.check_pairs(&mut faults);
        locks::check(self, &mut faults);
        for (i, &cost) in
            self.costs.iter().enumerate().filter_map(|(i, t)| Some((i, t.iter().max()?)))
        {
            check_weight(format!("costs[{i}]"), Weight::Soft(cost), &mut faults);
        }
        faults.into_result()
    }

    fn check_profiles(&self, faults: &mut Faults) {
        let names = self.profiles.iter().map(|profile| profile.name.as_str());
        faults.names("profiles", ".name", "profile", names);
        for (i, profile) in self.profiles.iter().enumerate() {
            faults.distance(format!("profiles[{i}].separation_hz"), profile.separation_hz);
            check_guards(i, profile, faults);
        }
    }

    fn check_separations(&self, faults: &mut Faults) {
        let mut seen = HashMap::new();
        for (i, rule) in self.separations.iter().enumerate() {
            let place = format!("separations[{i}]");
            let count = self.profiles.len();
            faults.index(format!("{place}.a"), rule.a, count, "profiles");
            faults.index(format!("{place}.b"), rule.b, count, "profiles");
            faults.distance(format!("{place}.separation_hz"), rule.separation_hz);
            let first = *seen.entry(ordered(rule.a, rule.b)).or_insert(i);
            if first != i {
                faults.push(
                    place,
                    format!(
                        "profiles {} and {} already stand in separations[{first}]",
                        rule.a, rule.b
                    ),
                    "list each pair of profiles once, in either order",
                );
            }
        }
    }

    fn check_couplings(&self, faults: &mut Faults) {
        let mut seen = HashMap::new();
        for (i, coupling) in self.couplings.iter().enumerate() {
            let place = format!("couplings[{i}]");
            faults.index(format!("{place}.a"), coupling.a, self.zones.len(), "zones");
            faults.index(format!("{place}.b"), coupling.b, self.zones.len(), "zones");
            if coupling.a == coupling.b {
                faults.push(
                    place,
                    format!("zone {} is coupled to itself", coupling.a),
                    "remove it; a zone is always fully coupled to itself",
                );
                continue;
            }
            let first = *seen.entry(ordered(coupling.a, coupling.b)).or_insert(i);
            if first != i {
                faults.push(
                    place,
                    format!(
                        "zones {} and {} already stand in couplings[{first}]",
                        coupling.a, coupling.b
                    ),
                    "list each pair of zones once, in either order",
                );
            }
        }
    }

    /// Checks every domain; those sound enough to be asked come back sorted.
    fn check_domains(&self, faults: &mut Faults) -> Vec<Option<Sorted>> {
        self.domains
            .iter()
            .enumerate()
            .map(|(i, domain)| {
                let place = format!("domains[{i}]");
                check_bounds(&place, domain, faults).then(|| domain.sorted()).filter(|sorted| {
                    let count = sorted.count();
                    if count == 0 {
                        faults.push(
                            place.clone(),
                            "it has no candidate frequency".into(),
                            "widen its ranges, refine its step, or list at least one frequency",
                        );
                    }
                    if count > MAX_CANDIDATES {
                        faults.push(
                            place,
                            format!("it has {count} candidates, above {MAX_CANDIDATES}"),
                            "use a coarser step or narrower ranges, and give them in hertz",
                        );
                    }
                    (1..=MAX_CANDIDATES).contains(&count)
                })
            })
            .collect()
    }

    fn check_pairs(&self, faults: &mut Faults) {
        for (i, pair) in self.pairs.iter().enumerate() {
            let place = format!("pairs[{i}]");
            faults.index(format!("{place}.a"), pair.a, self.links.len(), "links");
            faults.index(format!("{place}.b"), pair.b, self.links.len(), "links");
            if pair.a == pair.b {
                faults.push(
                    place.clone(),
                    format!("it ties link {} to itself", pair.a),
                    "name two different links",
                );
            }
            let (super::Relation::AtLeast(hz) | super::Relation::Exactly(hz)) = pair.relation;
            faults.distance(format!("{place}.relation"), hz);
            check_weight(format!("{place}.weight"), pair.weight, faults);
        }
    }
}

fn check_guards(i: usize, profile: &Profile, faults: &mut Faults) {
    let mut forms = HashSet::new();
    for (j, guard) in profile.guards.iter().enumerate() {
        let place = format!("profiles[{i}].guards[{j}]");
        faults.distance(format!("{place}.guard_hz"), guard.guard_hz);
        check_weight(format!("{place}.weight"), guard.weight, faults);
        if !forms.insert(&guard.form) {
            faults.push(
                format!("{place}.form"),
                format!("{} has a guard already", guard.form),
                "give each form one guard; the order of letters does not matter",
            );
        }
    }
}

/// Reports what keeps a domain from being asked; true when nothing does.
fn check_bounds(place: &str, domain: &Domain, faults: &mut Faults) -> bool {
    let before = faults.count();
    match domain {
        Domain::Frequencies(list) => {
            for (j, &hz) in list.iter().enumerate() {
                if !(0..=MAX_HZ).contains(&hz) {
                    faults.frequency(format!("{place}.frequencies[{j}]"), hz);
                }
            }
        }
        Domain::Raster { ranges_hz, step_hz, origin_hz } => {
            if !(1..=MAX_HZ).contains(step_hz) {
                faults.push(
                    format!("{place}.raster.step_hz"),
                    format!("{step_hz} Hz is no raster step"),
                    "give a positive step in hertz, such as 25000",
                );
            }
            if !(-MAX_HZ..=MAX_HZ).contains(origin_hz) {
                faults.frequency(format!("{place}.raster.origin_hz"), *origin_hz);
            }
            for (j, &[low, high]) in ranges_hz.iter().enumerate() {
                let place = format!("{place}.raster.ranges_hz[{j}]");
                if low > high {
                    faults.push(
                        place.clone(),
                        format!("{low} Hz to {high} Hz runs backwards"),
                        "give the lower end first",
                    );
                }
                for hz in [low, high] {
                    if !(0..=MAX_HZ).contains(&hz) {
                        faults.frequency(place.clone(), hz);
                    }
                }
            }
        }
    }
    faults.count() == before
}

fn check_weight(place: String, weight: Weight, faults: &mut Faults) {
    if let Weight::Soft(cost) = weight
        && cost > MAX_SOFT
    {
        faults.push(
            place,
            format!("a soft cost of {cost} is above {MAX_SOFT}"),
            "scale the soft costs down, or make the rule hard",
        );
    }
}

fn ordered(a: usize, b: usize) -> (usize, usize) {
    (a.min(b), a.max(b))
}
