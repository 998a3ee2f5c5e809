//! The recurrence behind the table: which histograms a mixing group keeps, and how one carrier moves them.
//!
//! Write every carrier at raster position `c` as the factor `1 + sum_m z_m x^(m c)`, one marker `z_m` for
//! each coefficient `m` a form uses. The product over the carriers holds, under each monomial in the
//! markers, the histogram of the sums of all tuples of *distinct* carriers with these coefficients. One
//! more factor is one shifted add per coefficient, `H_S += shift(H_(S-m), m c)`, and is undone exactly by
//! subtracting in the reverse order. The victim is one more marker with coefficient -1, carried by the
//! carriers that have the guard, weighted, and spread over the guard's width. No loop runs over carriers.

use std::collections::BTreeMap;

/// The monomial of a histogram: coefficients (sorted), the victim's sign and chain if it is among them,
/// the half-width over which it is spread when it is not, and the stride of its layout.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Key {
    pub(super) coefficients: Vec<i64>,
    pub(super) victim: Option<(usize, i64)>,
    pub(super) half_width: i64,
    pub(super) stride: i64,
}

impl Key {
    /// Number of carriers in the tuple.
    pub(super) fn size(&self) -> usize {
        self.coefficients.len() + usize::from(self.victim.is_some())
    }

    fn without(&self, coefficient: i64) -> Self {
        let mut smaller = self.clone();
        if let Some(at) = smaller.coefficients.iter().position(|&m| m == coefficient) {
            smaller.coefficients.remove(at);
        }
        smaller
    }
}

/// What a guard asks of one form: half-width in raster steps, weight, and whether hard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Spread {
    pub(super) half_width: i64,
    pub(super) weight: i64,
}

/// A victim marker: one form, hard or soft.
#[derive(Debug, Clone)]
pub(super) struct Chain {
    /// Coefficients of the form, sorted.
    pub(super) form: Vec<i64>,
    /// Unit cost a count of one stands for.
    pub(super) unit: i64,
    /// The spread of each class of the group, if it is a victim of this chain.
    pub(super) spreads: Vec<Option<Spread>>,
    /// Set when every class is a source and a victim of one spread: the victim is then one more source.
    pub(super) uniform: Option<Spread>,
}

/// `histogram[dst] += factor * shift(histogram[src], offset * c)`; `src` of `None` is the unit spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Op {
    pub(super) dst: usize,
    pub(super) src: Option<usize>,
    /// Half-width of the unit spread, when `src` is `None`.
    pub(super) half_width: i64,
    pub(super) offset: i64,
    pub(super) factor: i64,
}

/// One read of a histogram into a class's row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Use {
    pub(super) histogram: usize,
    /// How many times the carrier's position, in strides of the histogram.
    pub(super) multiple: i64,
    pub(super) weight: i64,
}

/// One way for a carrier to take part in hits: as victim, or as one letter of a form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Part {
    pub(super) chain: usize,
    /// The coefficient of its letter; `None` as victim.
    pub(super) letter: Option<i64>,
    /// The read that counts the hits.
    pub(super) read: Use,
}

/// A part before its histogram has a number: chain, letter, histogram, multiple.
type Counted = (usize, Option<i64>, Key, i64);

/// What a class is to its group.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Role {
    /// Its transmitters mix.
    pub(super) source: bool,
    /// It stands still between two raster positions, and reads histograms that have all sums.
    pub(super) between: bool,
}

/// The plan of a group: histograms, moves per class, reads per class.
#[derive(Debug, Clone)]
pub(super) struct Recurrence {
    /// Histograms, larger tuples first.
    pub(super) keys: Vec<Key>,
    /// Support or needed range of sums of each histogram, in raster steps, closed.
    pub(super) ranges: Vec<(i64, i64)>,
    /// Moves of one carrier of each class, larger tuples first.
    pub(super) ops: Vec<Vec<Op>>,
    /// Reads of each class.
    pub(super) uses: Vec<Vec<Use>>,
    /// The part of the reads that concerns the class as a victim.
    pub(super) as_victim: Vec<Vec<Use>>,
    /// The reads of each class one by one: those of several chains may be one in `uses`.
    pub(super) parts: Vec<Vec<Part>>,
}

impl Recurrence {
    /// Plan a group of classes over raster positions `0..length`.
    pub(super) fn new(chains: &[Chain], roles: &[Role], length: i64) -> Self {
        // What each class reads: (key at f, weight).
        let mut reads: Vec<BTreeMap<(Key, i64), i64>> = vec![BTreeMap::new(); roles.len()];
        let mut victims = reads.clone();
        let mut parts: Vec<Vec<Counted>> = vec![Vec::new(); roles.len()];
        for (index, chain) in chains.iter().enumerate() {
            for (class, role) in roles.iter().enumerate() {
                if let Some(spread) = chain.spreads[class] {
                    let key = Key {
                        coefficients: chain.form.clone(),
                        victim: None,
                        half_width: spread.half_width,
                        stride: 1,
                    };
                    parts[class].push((index, None, key.clone(), 1));
                    *victims[class].entry((key.clone(), 1)).or_default() +=
                        chain.unit * spread.weight;
                    *reads[class].entry((key, 1)).or_default() += chain.unit * spread.weight;
                }
                if role.source {
                    let mut letters = chain.form.clone();
                    letters.dedup();
                    for letter in letters {
                        let (mut key, factor) = as_source(chain, index, letter);
                        let multiple =
                            if role.between { std::mem::replace(&mut key.stride, 1) } else { 1 };
                        parts[class].push((index, Some(letter), key.clone(), multiple));
                        *reads[class].entry((key, multiple)).or_default() += chain.unit * factor;
                    }
                }
            }
        }
        let mut keys: Vec<Key> =
            reads.iter().flat_map(|r| r.keys().map(|(key, _)| key.clone())).collect();
        keys.sort_unstable();
        keys.dedup();
        close(&mut keys, chains);
        let index: BTreeMap<Key, usize> =
            keys.iter().enumerate().map(|(i, key)| (key.clone(), i)).collect();
        let listed = |all: Vec<BTreeMap<(Key, i64), i64>>| -> Vec<Vec<Use>> {
            let read = |((key, multiple), weight)| Use { histogram: index[&key], multiple, weight };
            all.into_iter().map(|reads| reads.into_iter().map(read).collect()).collect()
        };
        let (uses, as_victim) = (listed(reads), listed(victims));
        let part = |(chain, letter, key, multiple): Counted| {
            let read = Use { histogram: index[&key], multiple, weight: 1 };
            Part { chain, letter, read }
        };
        let parts = parts.into_iter().map(|all| all.into_iter().map(part).collect()).collect();
        let ops: Vec<Vec<Op>> = roles
            .iter()
            .enumerate()
            .map(|(class, role)| moves(&keys, &index, chains, class, role.source))
            .collect();
        let ranges = needed(&keys, &ops, &uses, chains, length);
        Self { keys, ranges, ops, uses, as_victim, parts }
    }
}

/// The histogram that tells how many hits a new source in `role` makes, read at its own position.
fn as_source(chain: &Chain, index: usize, role: i64) -> (Key, i64) {
    let mut rest = chain.form.clone();
    if let Some(at) = rest.iter().position(|&m| m == role) {
        rest.remove(at);
    }
    // role * f + rest - victim = 0: read at -role * f, mirrored so that the stride is positive.
    let mirror = if role < 0 { 1 } else { -1 };
    let flip = |mut list: Vec<i64>| {
        for m in &mut list {
            *m *= mirror;
        }
        list.sort_unstable();
        list
    };
    if let Some(spread) = chain.uniform {
        rest.push(-1);
        let choices = rest.iter().filter(|&&m| m == -1).count() as i64;
        let key = Key {
            coefficients: flip(rest),
            victim: None,
            half_width: spread.half_width,
            stride: role.abs(),
        };
        (key, choices * spread.weight)
    } else {
        let key = Key {
            coefficients: flip(rest),
            victim: Some((index, -mirror)),
            half_width: 0,
            stride: role.abs(),
        };
        (key, 1)
    }
}

/// Add every smaller histogram the given ones are made from; larger tuples first.
fn close(keys: &mut Vec<Key>, chains: &[Chain]) {
    let mut known: std::collections::BTreeSet<Key> = keys.iter().cloned().collect();
    let mut fresh: Vec<Key> = known.iter().cloned().collect();
    while let Some(key) = fresh.pop() {
        for smaller in predecessors(&key, chains) {
            if known.insert(smaller.clone()) {
                fresh.push(smaller);
            }
        }
    }
    *keys = known.into_iter().collect();
    keys.sort_by_key(|key| std::cmp::Reverse(key.size()));
}

/// The non-trivial histograms one step below `key`.
fn predecessors(key: &Key, chains: &[Chain]) -> Vec<Key> {
    let mut below: Vec<Key> = key.coefficients.iter().map(|&m| key.without(m)).collect();
    if let Some((chain, _)) = key.victim {
        let widths: std::collections::BTreeSet<i64> =
            chains[chain].spreads.iter().flatten().map(|s| s.half_width).collect();
        below.extend(widths.into_iter().map(|half_width| Key {
            victim: None,
            half_width,
            ..key.clone()
        }));
    }
    below.retain(|k| k.size() > 0);
    below
}

/// The moves of one carrier of `class`.
fn moves(
    keys: &[Key],
    index: &BTreeMap<Key, usize>,
    chains: &[Chain],
    class: usize,
    source: bool,
) -> Vec<Op> {
    let mut ops = Vec::new();
    for (dst, key) in keys.iter().enumerate() {
        if source {
            let mut roles = key.coefficients.clone();
            roles.dedup();
            for role in roles {
                let below = key.without(role);
                ops.push(Op {
                    dst,
                    src: index.get(&below).copied(),
                    half_width: key.half_width,
                    offset: role,
                    factor: 1,
                });
            }
        }
        if let Some((chain, sign)) = key.victim
            && let Some(spread) = chains[chain].spreads[class]
        {
            let below = Key { victim: None, half_width: spread.half_width, ..key.clone() };
            ops.push(Op {
                dst,
                src: index.get(&below).copied(),
                half_width: spread.half_width,
                offset: sign,
                factor: spread.weight,
            });
        }
    }
    ops
}

/// The sums each histogram must hold: what is read, and what larger ones take, within its support.
fn needed(
    keys: &[Key],
    ops: &[Vec<Op>],
    uses: &[Vec<Use>],
    chains: &[Chain],
    length: i64,
) -> Vec<(i64, i64)> {
    let top = length - 1;
    let mut ranges: Vec<Option<(i64, i64)>> = vec![None; keys.len()];
    let widen = |range: &mut Option<(i64, i64)>, low: i64, high: i64| {
        *range = Some(range.map_or((low, high), |(l, h)| (l.min(low), h.max(high))));
    };
    for read in uses.iter().flatten() {
        widen(&mut ranges[read.histogram], 0, read.multiple * keys[read.histogram].stride * top);
    }
    for dst in 0..keys.len() {
        let Some((low, high)) = ranges[dst] else { continue };
        for op in ops.iter().flatten().filter(|op| op.dst == dst) {
            if let Some(src) = op.src {
                let (near, far) = (op.offset.min(0) * top, op.offset.max(0) * top);
                widen(&mut ranges[src], low - far, high - near);
            }
        }
    }
    keys.iter()
        .zip(ranges)
        .map(|(key, range)| {
            let (low, high) = range.unwrap_or((0, -1));
            let (least, most) = support(key, chains, top);
            (low.max(least), high.min(most))
        })
        .collect()
}

/// The least and greatest sum a tuple can have.
fn support(key: &Key, chains: &[Chain], top: i64) -> (i64, i64) {
    let mut spread = key.half_width;
    let mut all = key.coefficients.clone();
    if let Some((chain, sign)) = key.victim {
        all.push(sign);
        spread = chains[chain].spreads.iter().flatten().map(|s| s.half_width).max().unwrap_or(0);
    }
    let low: i64 = all.iter().map(|m| m.min(&0) * top).sum();
    let high: i64 = all.iter().map(|m| m.max(&0) * top).sum();
    (low - spread, high + spread)
}
