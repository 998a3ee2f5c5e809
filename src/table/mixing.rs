//! The histograms of one mixing group, laid out from its classes and their guards.

use super::cell::Cell;
use super::raster::GroupRaster;
use super::recurrence::{Chain, Recurrence, Role, Spread};
use super::{Counts, HARD, Mixing};
use crate::error::{Error, Result};
use crate::problem::Weight;
use crate::problem::compile::Compiled;
use crate::problem::groups::Group;

/// The most histogram entries a table may hold: 1 GiB of 32-bit counts.
const MAX_ENTRIES: i64 = 1 << 28;

impl Mixing {
    pub(super) fn new(problem: &Compiled, group: &Group, raster: GroupRaster) -> Result<Self> {
        let candidates =
            |&class: &usize| problem.candidates_hz[problem.classes[class].domain].as_slice();
        let profiles: Vec<_> = group
            .classes
            .iter()
            .map(|&k| &problem.source.profiles[problem.classes[k].profile])
            .collect();
        let roles: Vec<Role> = profiles
            .iter()
            .zip(&group.classes)
            .map(|(profile, class)| Role {
                source: profile.mixes,
                between: candidates(class).iter().any(|&hz| !raster.holds(hz)),
            })
            .collect();
        let mut kinds: Vec<_> = profiles
            .iter()
            .flat_map(|profile| &profile.guards)
            .filter(|guard| guard.guard_hz > 0)
            .map(|guard| (&guard.form, guard.weight == Weight::Hard))
            .collect();
        kinds.sort_unstable();
        kinds.dedup();
        let chains: Vec<Chain> = kinds
            .into_iter()
            .map(|(form, hard)| {
                let spreads: Vec<_> = profiles
                    .iter()
                    .map(|profile| {
                        let guard = profile.guards.iter().find(|guard| {
                            guard.form == *form
                                && guard.guard_hz > 0
                                && (guard.weight == Weight::Hard) == hard
                        })?;
                        let weight = if hard { 1 } else { guard.weight.cost() };
                        Some(Spread { half_width: raster.half_width(guard.guard_hz), weight })
                    })
                    .collect();
                let same = spreads.windows(2).all(|pair| pair[0] == pair[1]);
                let uniform = spreads[0].filter(|_| same && roles.iter().all(|role| role.source));
                let mut form: Vec<i64> =
                    form.coefficients().iter().map(|&m| i64::from(m)).collect();
                form.sort_unstable();
                Chain { form, unit: if hard { HARD } else { 1 }, spreads, uniform }
            })
            .collect();
        let plan = Recurrence::new(&chains, &roles, raster.length);
        let entries: i64 =
            plan.ranges.iter().fold(0, |sum, (low, high)| sum.saturating_add(high - low + 1));
        if entries > MAX_ENTRIES {
            return Err(Error::TooLarge {
                what: "the raster of the cost table".into(),
                why: format!(
                    "{} steps of {} Hz hold all frequencies of one group of links",
                    raster.length, raster.step_hz
                ),
                remedy: "put all frequencies on one coarser raster, such as 5 kHz or 25 kHz, or split the bands".into(),
            });
        }
        // Five letters or heavy soft weights overrun 32 bits within a few dozen carriers.
        let wide = chains.iter().any(|chain| {
            chain.form.len() > 3 || chain.spreads.iter().flatten().any(|s| s.weight > 16)
        });
        Ok(Self {
            counts: if wide {
                Counts::Wide(Cell::new(plan))
            } else {
                Counts::Narrow(Cell::new(plan))
            },
            raster,
            sign: group.sign,
            maximal: group.maximal,
            runs: group.classes.iter().map(|class| raster.runs(candidates(class))).collect(),
            classes: group.classes.clone(),
            chains,
            roles,
        })
    }
}
