//! Who a placed link is in conflict with: the hard rules it takes part in breaking.

use super::raster::GroupRaster;
use super::recurrence::Chain;
use super::{HARD, Mixing, Table};
use crate::problem::Relation;

/// The most broken rules listed for one link; more would not change what a search does.
const MAX_CONFLICTS: usize = 4096;

/// A carrier on the air in a mixing group.
#[derive(Debug, Clone, Copy)]
struct Carrier {
    /// Frequency above the raster's first position.
    offset_hz: i64,
    link: usize,
    class: usize,
}

/// One open place of a relation `sum(coefficient * offset) = 0`, to be filled by a carrier.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Seat {
    coefficient: i64,
    victim: bool,
}

impl Table {
    /// The hard rules that placed `link` takes part in breaking, each as the other links it needs.
    ///
    /// O(n^(k-1) log n) for forms of k letters among the n carriers of a group, with a bitmap in front
    /// of the logarithm; at most [`MAX_CONFLICTS`] rules.
    pub(crate) fn conflicts(&self, link: usize) -> Vec<Vec<usize>> {
        let mut found = Vec::new();
        let Some(hz) = self.frequency_hz(link) else { return found };
        let class = self.problem.class_of[link];
        for &(other_class, separation_hz) in &self.problem.classes[class].neighbours {
            for &other in &self.problem.classes[other_class].members {
                let near = self.frequency_hz(other).is_some_and(|f| (f - hz).abs() < separation_hz);
                if near && other != link {
                    found.push(vec![other]);
                }
            }
        }
        for pair in self.problem.pairs[link].iter().filter(|pair| pair.cost == HARD) {
            let Some(f) = self.frequency_hz(pair.other) else { continue };
            let broken = match pair.relation {
                Relation::AtLeast(distance_hz) => (f - hz).abs() < distance_hz,
                Relation::Exactly(distance_hz) => (f - hz).abs() != distance_hz,
            };
            if broken {
                found.push(vec![pair.other]);
            }
        }
        for &i in &self.cells_of[class] {
            if self.cells[i].maximal {
                self.hits_with(&self.cells[i], link, hz, &mut found);
            }
        }
        found
    }

    /// The hits in one group that `link` takes part in, as source or victim.
    fn hits_with(&self, mixing: &Mixing, link: usize, hz: i64, found: &mut Vec<Vec<usize>>) {
        let own = mixing.local(self.problem.class_of[link]);
        // The counts hold more than the hits with this link (it meets its own double in them), never
        // less: where they are 0 there is nothing to walk over.
        let mut parts = mixing.counts.parts(own, mixing.raster.seat(hz));
        parts.retain(|part| mixing.chains[part.chain].unit == HARD);
        if parts.is_empty() {
            return;
        }
        let mut others: Vec<Carrier> = Vec::new();
        for (class, &global) in mixing.classes.iter().enumerate() {
            for &other in &self.problem.classes[global].members {
                if let Some(f) = self.frequency_hz(other).filter(|_| other != link) {
                    others.push(Carrier {
                        offset_hz: mixing.raster.offset_hz(f),
                        link: other,
                        class,
                    });
                }
            }
        }
        others.sort_unstable_by_key(|carrier| (carrier.offset_hz, carrier.link));
        let lookup = Lookup::new(&others, mixing.raster);
        let own_hz = mixing.raster.offset_hz(hz);
        for part in parts {
            let chain = &mixing.chains[part.chain];
            let mut walk =
                Walk { mixing, chain, others: &others, lookup: &lookup, seated: Vec::new(), found };
            let letters = chain.form.iter().map(|&coefficient| Seat { coefficient, victim: false });
            let mut open: Vec<Seat> = letters.collect();
            let Some(letter) = part.letter else {
                let reach = chain.spreads[own].map(|s| mixing.raster.reach_hz(s.half_width));
                walk.fill(&open, -own_hz, reach);
                continue;
            };
            if let Some(at) = chain.form.iter().position(|&m| m == letter) {
                open.remove(at);
            }
            open.insert(0, Seat { coefficient: -1, victim: true });
            walk.fill(&open, letter * own_hz, None);
        }
    }
}

/// A walk over the ways to fill the open seats of one relation.
struct Walk<'w> {
    mixing: &'w Mixing,
    chain: &'w Chain,
    others: &'w [Carrier],
    lookup: &'w Lookup,
    seated: Vec<usize>,
    found: &'w mut Vec<Vec<usize>>,
}

impl Walk<'_> {
    /// Fill `open` seats so that the sum, `partial` so far, comes nearer to 0 than the victim's reach.
    fn fill(&mut self, open: &[Seat], partial: i64, reach_hz: Option<i64>) {
        if self.found.len() >= MAX_CONFLICTS {
            return;
        }
        let Some((&seat, rest)) = open.split_first() else {
            self.found.push(self.seated.iter().map(|&i| self.others[i].link).collect());
            return;
        };
        if rest.is_empty()
            && let Some(reach_hz) = reach_hz
        {
            // The last seat is determined up to the guard: look it up.
            let (m, width) = (seat.coefficient, reach_hz - 1);
            let (a, b) = ((-partial - width) * m.signum(), (-partial + width) * m.signum());
            let low = -(-a.min(b)).div_euclid(m.abs());
            let high = a.max(b).div_euclid(m.abs());
            if self.lookup.any(low, high) {
                let first = self.others.partition_point(|c| c.offset_hz < low);
                for i in first..self.others.len() {
                    if self.others[i].offset_hz > high {
                        break;
                    }
                    self.sit(i, seat, rest, partial, Some(reach_hz));
                }
            }
            return;
        }
        for i in 0..self.others.len() {
            self.sit(i, seat, rest, partial, reach_hz);
        }
    }

    fn sit(&mut self, i: usize, seat: Seat, rest: &[Seat], partial: i64, reach_hz: Option<i64>) {
        if self.seated.contains(&i) {
            return;
        }
        let carrier = self.others[i];
        let reach_hz = if seat.victim {
            let Some(spread) = self.chain.spreads[carrier.class] else { return };
            Some(self.mixing.raster.reach_hz(spread.half_width))
        } else {
            if !self.mixing.roles[carrier.class].source {
                return;
            }
            reach_hz
        };
        self.seated.push(i);
        self.fill(rest, partial + seat.coefficient * carrier.offset_hz, reach_hz);
        self.seated.pop();
    }
}

/// Which raster positions hold a carrier, or have one up to a step above, as bits.
#[derive(Debug)]
struct Lookup {
    words: Vec<u64>,
    raster: GroupRaster,
}

impl Lookup {
    fn new(carriers: &[Carrier], raster: GroupRaster) -> Self {
        let mut words = vec![0_u64; raster.length as usize / 64 + 1];
        for carrier in carriers {
            let position = raster.below(carrier.offset_hz);
            words[position as usize / 64] |= 1 << (position % 64);
        }
        Self { words, raster }
    }

    /// Whether any carrier may lie in `low_hz..=high_hz`.
    fn any(&self, low_hz: i64, high_hz: i64) -> bool {
        let low = self.raster.below(low_hz).max(0);
        let high = self.raster.below(high_hz).min(self.raster.length - 1);
        if low > high {
            return false;
        }
        let (first, last) = (low as usize / 64, high as usize / 64);
        let from = u64::MAX << (low % 64);
        let to = u64::MAX >> (63 - high % 64);
        if first == last {
            return self.words[first] & from & to != 0;
        }
        self.words[first] & from != 0
            || self.words[first + 1..last].iter().any(|&word| word != 0)
            || self.words[last] & to != 0
    }
}
