//! What every value of every variable costs beside the others' present values, kept up under moves.
//!
//! This is the table of TabuCol (Hertz and de Werra 1987) over a [`Network`]: a move adds two rows to each
//! neighbour's, and the variables in conflict are kept as a list.

use crate::problem::compile::HARD;
use crate::problem::network::{Arc, Network};
use crate::table::Table;

/// An integer in which costs are kept: rules broken in 32 bits, or costs of the table in 64.
pub(super) trait Cost:
    Copy + Ord + Default + std::ops::AddAssign + std::ops::SubAssign + Send + Sync + std::fmt::Debug
{
    /// The cost of a barred value: above all rules together.
    const BAR: Self;
    /// Whether every rule counts the same.
    const UNIT: bool;
    /// The weight that all rules begin with.
    const SCALE: i32;
    fn of(cost: i64) -> Self;
    fn times(self, weight: i32) -> Self;
    fn wide(self) -> i64;
}

impl Cost for i32 {
    const BAR: Self = 1 << 29;
    const UNIT: bool = true;
    const SCALE: i32 = 1;

    fn of(cost: i64) -> Self {
        (cost / HARD) as Self
    }

    #[inline]
    fn times(self, weight: i32) -> Self {
        self * weight
    }

    #[inline]
    fn wide(self) -> i64 {
        i64::from(self)
    }
}

impl Cost for i64 {
    const BAR: Self = 1 << 56;
    const UNIT: bool = false;
    const SCALE: i32 = 4;

    fn of(cost: i64) -> Self {
        cost
    }

    #[inline]
    fn times(self, weight: i32) -> Self {
        self * i64::from(weight)
    }

    #[inline]
    fn wide(self) -> i64 {
        self
    }
}

/// A network with its costs in one kind of integer.
#[derive(Debug)]
pub(super) struct Costs<W> {
    pub(super) network: Network,
    /// Where the values of each variable begin; one more at the end.
    pub(super) start: Vec<usize>,
    own: Vec<W>,
    runs: Vec<(u32, u32, W)>,
    /// Number of values where all that counts is that neighbours have different ones, each pair alike.
    pub(super) plain: Option<usize>,
    /// Where the arcs of each variable begin in one list of all; one more at the end.
    arc_start: Vec<usize>,
}

impl<W: Cost> Costs<W> {
    pub(super) fn new(network: Network) -> Self {
        let mut start = vec![0];
        for own in &network.own {
            start.push(start[start.len() - 1] + own.len());
        }
        let own: Vec<W> = network.own.iter().flatten().map(|&cost| W::of(cost)).collect();
        let runs: Vec<_> =
            network.runs.iter().map(|run| (run.low, run.high, W::of(run.cost))).collect();
        let identity = network.first.windows(2).enumerate().all(|(row, at)| {
            let values = network.own[0].len();
            at[1] == at[0] + 1
                && runs[at[0] as usize]
                    == ((row % values) as u32, (row % values) as u32 + 1, W::of(HARD))
        });
        let plain = network.alike() && identity && own.iter().all(|&cost| cost == W::default());
        let plain = plain.then(|| network.own.first().map_or(0, Vec::len));
        let mut arc_start = vec![0];
        for arcs in &network.arcs {
            arc_start.push(arc_start[arc_start.len() - 1] + arcs.len());
        }
        Self { network, start, own, runs, plain, arc_start }
    }

    /// Number of values of all variables.
    pub(super) fn values(&self) -> usize {
        self.own.len()
    }

    /// The dearest soft cost of two values beside each other, or of one by itself.
    pub(super) fn dearest(&self) -> i64 {
        let runs = self.runs.iter().map(|&(.., cost)| cost.wide() % HARD);
        runs.chain(self.own.iter().map(|cost| cost.wide() % HARD)).max().unwrap_or(0)
    }

    fn row(&self, arc: Arc, value: u32) -> &[(u32, u32, W)] {
        let at = (arc.rows + value) as usize;
        &self.runs[self.network.first[at] as usize..self.network.first[at + 1] as usize]
    }
}

/// A full assignment of values, and what every other value would cost.
#[derive(Debug, Clone)]
pub(super) struct State<'n, W> {
    pub(super) costs: &'n Costs<W>,
    pub(super) value: Vec<u32>,
    /// Cost of every value of every variable beside the others as they stand.
    pub(super) gamma: Vec<W>,
    /// The values each variable may take begin and end here; some in between may be barred.
    pub(super) open: Vec<(u32, u32)>,
    barred: Vec<bool>,
    /// Variables whose present value costs something, and where each stands in that list.
    pub(super) active: Vec<u32>,
    place: Vec<u32>,
    /// Everything that is broken, once, whatever the weights.
    pub(super) total: i64,
    /// Weights of all arcs, where there are any.
    weight: Vec<i32>,
    broken: Vec<(u32, u32, i64)>,
}

/// No weight rises above this.
const HEAVIEST: i32 = 1 << 16;

/// A variable without a value.
pub(super) const NOWHERE: u32 = u32::MAX;

impl<'n, W: Cost> State<'n, W> {
    /// The plan on the table, its open links on their cheapest values; `None` where a variable has no
    /// value that is not barred.
    pub(super) fn of(costs: &'n Costs<W>, table: &Table) -> Option<Self> {
        let network = &costs.network;
        let mut barred = vec![false; costs.own.len()];
        let mut open = Vec::with_capacity(network.len());
        for variable in 0..network.len() {
            let values = network.values(variable);
            let (mut low, mut high) = (u32::MAX, 0);
            for at in 0..values.len() {
                let links = network.links[variable].iter().zip(values.value(at));
                let bar = links.into_iter().any(|(&link, &at)| table.barred(link, at));
                barred[costs.start[variable] + at] = bar;
                if !bar {
                    low = low.min(at as u32);
                    high = at as u32 + 1;
                }
            }
            if low >= high {
                return None;
            }
            open.push((low, high));
        }
        let mut state = Self {
            costs,
            value: vec![NOWHERE; network.len()],
            gamma: Vec::new(),
            open,
            barred,
            active: Vec::new(),
            place: Vec::new(),
            total: 0,
            weight: Vec::new(),
            broken: Vec::new(),
        };
        let placed: Vec<u32> = (0..network.len()).map(|v| state.placed(table, v)).collect();
        state.load(&placed);
        Some(state)
    }

    /// The value that the table's plan gives a variable, if it gives all its links one.
    fn placed(&self, table: &Table, variable: usize) -> u32 {
        let network = &self.costs.network;
        let links = &network.links[variable];
        let Some(chosen) =
            links.iter().map(|&link| table.choice(link)).collect::<Option<Vec<usize>>>()
        else {
            return NOWHERE;
        };
        let values = network.values(variable);
        let found = if links.len() == 1 && values.len() > 1 {
            Some(chosen[0])
        } else {
            (0..values.len()).find(|&at| values.value(at) == chosen)
        };
        found
            .filter(|at| !self.barred[self.costs.start[variable] + at])
            .map_or(NOWHERE, |at| at as u32)
    }

    /// Take over an assignment; variables without a value take their cheapest, one after the other.
    pub(super) fn load(&mut self, plan: &[u32]) {
        let n = plan.len();
        self.gamma.clone_from(&self.costs.own);
        for (entry, _) in self.gamma.iter_mut().zip(&self.barred).filter(|(_, barred)| **barred) {
            *entry += W::BAR;
        }
        self.weight.clear();
        self.value.copy_from_slice(plan);
        self.active.clear();
        self.place.clear();
        self.place.resize(n, NOWHERE);
        for (variable, &value) in plan.iter().enumerate() {
            if value != NOWHERE {
                self.spread(variable, value);
            }
        }
        for variable in 0..n {
            if self.value[variable] == NOWHERE {
                let (low, high) = self.open[variable];
                let start = self.costs.start[variable];
                let least = (low..high).min_by_key(|&at| self.gamma[start + at as usize]);
                let value = least.unwrap_or(low);
                self.value[variable] = value;
                self.spread(variable, value);
            }
        }
        let mut twice = 0;
        for variable in 0..n {
            let start = self.costs.start[variable];
            let at = start + self.value[variable] as usize;
            twice += self.gamma[at].wide() + self.costs.own[at].wide();
            self.mark(variable, self.gamma[at] > W::default());
        }
        self.total = twice / 2;
    }

    /// Add what a value costs the neighbours.
    fn spread(&mut self, variable: usize, value: u32) {
        for &arc in &self.costs.network.arcs[variable] {
            let start = self.costs.start[arc.other as usize];
            for &(low, high, cost) in self.costs.row(arc, value) {
                for entry in &mut self.gamma[start + low as usize..start + high as usize] {
                    *entry += cost;
                }
            }
        }
    }

    fn mark(&mut self, variable: usize, active: bool) {
        let place = self.place[variable];
        if active && place == NOWHERE {
            self.place[variable] = self.active.len() as u32;
            self.active.push(variable as u32);
        } else if !active && place != NOWHERE {
            self.active.swap_remove(place as usize);
            if let Some(&moved) = self.active.get(place as usize) {
                self.place[moved as usize] = place;
            }
            self.place[variable] = NOWHERE;
        }
    }

    /// What a value of a variable costs.
    pub(super) fn cost(&self, variable: usize, value: u32) -> W {
        self.gamma[self.costs.start[variable] + value as usize]
    }

    /// Give a variable another value. O(runs of two rows of each neighbour).
    pub(super) fn assign(&mut self, variable: usize, value: u32) {
        if !self.weight.is_empty() {
            return self.assign_weighted(variable, value);
        }
        let former = std::mem::replace(&mut self.value[variable], value);
        self.total += self.cost(variable, value).wide() - self.cost(variable, former).wide();
        let costs = self.costs;
        if costs.plain.is_some() {
            for arc in &costs.network.arcs[variable] {
                let other = arc.other as usize;
                let start = costs.start[other];
                let own = self.value[other];
                let lower = &mut self.gamma[start + former as usize];
                *lower -= W::of(HARD);
                let lower = *lower;
                let higher = &mut self.gamma[start + value as usize];
                *higher += W::of(HARD);
                if own == former {
                    if lower == W::default() {
                        self.mark(other, false);
                    }
                } else if own == value {
                    self.mark(other, true);
                }
            }
        } else {
            for &arc in &costs.network.arcs[variable] {
                let other = arc.other as usize;
                let start = costs.start[other];
                for &(low, high, cost) in costs.row(arc, former) {
                    for entry in &mut self.gamma[start + low as usize..start + high as usize] {
                        *entry -= cost;
                    }
                }
                for &(low, high, cost) in costs.row(arc, value) {
                    for entry in &mut self.gamma[start + low as usize..start + high as usize] {
                        *entry += cost;
                    }
                }
                self.mark(other, self.gamma[start + self.value[other] as usize] > W::default());
            }
        }
        self.mark(variable, self.cost(variable, value) > W::default());
    }

    /// As [`State::assign`] without weights, but the variables in conflict are listed no longer: to be
    /// followed by [`State::load`] where they are asked for again.
    pub(super) fn assign_unlisted(&mut self, variable: usize, value: u32) {
        let former = std::mem::replace(&mut self.value[variable], value);
        self.total += self.cost(variable, value).wide() - self.cost(variable, former).wide();
        let costs = self.costs;
        if costs.plain.is_some() {
            for arc in &costs.network.arcs[variable] {
                let start = costs.start[arc.other as usize];
                self.gamma[start + former as usize] -= W::of(HARD);
                self.gamma[start + value as usize] += W::of(HARD);
            }
            return;
        }
        for &arc in &costs.network.arcs[variable] {
            let start = costs.start[arc.other as usize];
            for &(low, high, cost) in costs.row(arc, former) {
                for entry in &mut self.gamma[start + low as usize..start + high as usize] {
                    *entry -= cost;
                }
            }
            for &(low, high, cost) in costs.row(arc, value) {
                for entry in &mut self.gamma[start + low as usize..start + high as usize] {
                    *entry += cost;
                }
            }
        }
    }

    fn assign_weighted(&mut self, variable: usize, value: u32) {
        let former = std::mem::replace(&mut self.value[variable], value);
        let costs = self.costs;
        let begin = costs.start[variable];
        self.total += costs.own[begin + value as usize].wide();
        self.total -= costs.own[begin + former as usize].wide();
        for (i, &arc) in costs.network.arcs[variable].iter().enumerate() {
            let other = arc.other as usize;
            let start = costs.start[other];
            let own = self.value[other];
            let weight = self.weight[costs.arc_start[variable] + i];
            for (row, sign) in [(former, -1), (value, 1)] {
                for &(low, high, cost) in costs.row(arc, row) {
                    for entry in &mut self.gamma[start + low as usize..start + high as usize] {
                        *entry += cost.times(sign * weight);
                    }
                    if (low..high).contains(&own) {
                        self.total += i64::from(sign) * cost.wide();
                    }
                }
            }
            self.mark(other, self.gamma[start + own as usize] > W::default());
        }
        self.mark(variable, self.cost(variable, value) > W::default());
    }

    /// Whether weights have been raised.
    pub(super) fn is_weighted(&self) -> bool {
        !self.weight.is_empty()
    }

    /// Raise the weights of what is broken now: of every pair (breakout, Morris 1993), or where costs
    /// differ of those dearest for their weight (guided local search, Voudouris and Tsang 1999).
    pub(super) fn raise(&mut self) {
        let costs = self.costs;
        if costs.arc_start.last() == Some(&0) {
            // No pair to weigh.
            return;
        }
        if self.weight.is_empty() {
            self.weight.resize(costs.arc_start[costs.arc_start.len() - 1], W::SCALE);
            if W::SCALE > 1 {
                let entries = self.gamma.iter_mut().zip(&self.barred);
                entries.filter(|(_, barred)| !**barred).for_each(|(entry, _)| {
                    *entry = entry.times(W::SCALE);
                });
            }
        }
        // (variable, place of its arc, cost) of what is broken, from either side.
        let mut broken = std::mem::take(&mut self.broken);
        broken.clear();
        for &variable in &self.active {
            let value = self.value[variable as usize];
            for (i, &arc) in costs.network.arcs[variable as usize].iter().enumerate() {
                let own = self.value[arc.other as usize];
                let runs = costs.row(arc, value).iter();
                if let Some(&(.., cost)) =
                    runs.clone().find(|&&(low, high, _)| (low..high).contains(&own))
                {
                    broken.push((variable, i as u32, cost.wide()));
                }
            }
        }
        let worth = |&(variable, i, cost): &(u32, u32, i64)| {
            cost / i64::from(self.weight[costs.arc_start[variable as usize] + i as usize])
        };
        let most = if W::UNIT { 0 } else { broken.iter().map(worth).max().unwrap_or(0) };
        broken.retain(|one| worth(one) >= most);
        for &(variable, i, _) in &broken {
            let variable = variable as usize;
            let weight = &mut self.weight[costs.arc_start[variable] + i as usize];
            if *weight >= HEAVIEST {
                continue;
            }
            *weight += 1;
            // Each side adds to the other's row.
            let arc = costs.network.arcs[variable][i as usize];
            let start = costs.start[arc.other as usize];
            for &(low, high, cost) in costs.row(arc, self.value[variable]) {
                for entry in &mut self.gamma[start + low as usize..start + high as usize] {
                    *entry += cost;
                }
            }
        }
        self.broken = broken;
    }

    /// Whether a value may not be taken.
    pub(super) fn is_barred(&self, variable: usize, value: u32) -> bool {
        self.barred[self.costs.start[variable] + value as usize]
    }
}

/// Put an assignment on the table.
pub(super) fn write<W: Cost>(costs: &Costs<W>, plan: &[u32], table: &mut Table) {
    let network = &costs.network;
    for (variable, &value) in plan.iter().enumerate() {
        let chosen = network.values(variable).value(value as usize);
        for (&link, &at) in network.links[variable].iter().zip(chosen) {
            if table.choice(link) != Some(at) {
                table.lift(link);
                table.place(link, at);
            }
        }
    }
}
