//! Difference counting: the shortest Hamiltonian path through a clique's transmitters, bounded by its dual.
//!
//! In ascending order of frequency the carriers of a clique form a path whose steps are at least the
//! least distances of its ends. Give every class a potential with `u_i + u_j <= gap_ij` for all pairs,
//! itself included: then the path, which enters and leaves each carrier but the ends, is at least
//! `sum(2 u_i size_i) - 2 max(u)` long. The best potentials come from a transport problem (each carrier
//! sends and receives one step); classes with a negative potential are left out.

use super::gaps::Gaps;

/// The most single carriers whose shortest path is found exactly.
const EXACT: usize = 11;

/// The shortest Hamiltonian path through a clique of few single carriers; 0 for other cliques.
///
/// Dynamic programming over subsets (Held and Karp 1962), O(2^k k^2).
pub(super) fn shortest_path(gaps: &Gaps, clique: &[usize]) -> i64 {
    let k = clique.len();
    if !(2..=EXACT).contains(&k) || clique.iter().any(|&class| gaps.sizes[class] > 1) {
        return 0;
    }
    // By subset of carriers passed and last carrier.
    let mut least = vec![i64::MAX; k << k];
    for first in 0..k {
        least[(1 << first) * k + first] = 0;
    }
    for set in 1_usize..1 << k {
        for last in 0..k {
            let so_far = least[set * k + last];
            if so_far == i64::MAX {
                continue;
            }
            for next in (0..k).filter(|&next| set >> next & 1 == 0) {
                let entry = &mut least[(set | 1 << next) * k + next];
                *entry = (*entry).min(so_far + gaps.between(clique[last], clique[next]));
            }
        }
    }
    least[((1 << k) - 1) * k..].iter().copied().min().unwrap_or(0)
}

/// Potentials of a clique and the bound they prove.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Potentials {
    /// Classes with a positive potential and twice that potential, in hertz.
    pub(crate) doubled: Vec<(usize, i64)>,
    /// Least distance from the lowest to the highest carrier.
    pub(crate) bound_hz: i64,
}

impl Potentials {
    /// The best potentials for the sizes as they are. O(k^4) for k classes in the worst case.
    pub(crate) fn of(gaps: &Gaps, clique: &[usize]) -> Self {
        let sizes: Vec<i64> = clique.iter().map(|&k| gaps.sizes[k]).collect();
        Self::with_sizes(gaps, clique, &sizes)
    }

    /// Potentials that would be best for other sizes; the bound is for the real ones.
    pub(crate) fn with_sizes(gaps: &Gaps, clique: &[usize], sizes: &[i64]) -> Self {
        if let Some(gap_hz) = uniform(gaps, clique) {
            let doubled: Vec<_> = clique.iter().map(|&k| (k, gap_hz)).collect();
            return Self { bound_hz: bound(gaps, &doubled), doubled };
        }
        let mut kept: Vec<usize> = (0..clique.len()).collect();
        loop {
            let doubled = dual(gaps, clique, sizes, &kept);
            if let Some(worst) =
                (0..kept.len()).filter(|&i| doubled[i] <= 0).min_by_key(|&i| doubled[i])
                && kept.len() > 1
            {
                kept.remove(worst);
                continue;
            }
            let doubled: Vec<(usize, i64)> = kept
                .iter()
                .zip(doubled)
                .map(|(&i, u)| (clique[i], u))
                .filter(|&(_, u)| u > 0)
                .collect();
            let bound_hz = bound(gaps, &doubled);
            return Self { doubled, bound_hz };
        }
    }
}

/// The one least distance between all carriers of a clique, if they have one: half of it is everyone's potential.
fn uniform(gaps: &Gaps, clique: &[usize]) -> Option<i64> {
    let &first = clique.first()?;
    let gap_hz = match clique.get(1) {
        Some(&second) => gaps.between(first, second),
        None => gaps.between(first, first),
    };
    let same = |a: usize, b: usize| (a == b && gaps.sizes[a] < 2) || gaps.between(a, b) == gap_hz;
    clique.iter().all(|&a| clique.iter().all(|&b| same(a, b))).then_some(gap_hz)
}

fn bound(gaps: &Gaps, doubled: &[(usize, i64)]) -> i64 {
    let sum: i64 = doubled.iter().map(|&(k, u)| u * gaps.sizes[k]).sum();
    (sum - doubled.iter().map(|&(_, u)| u).max().unwrap_or(0)).max(0)
}

/// Twice the optimal potentials of the kept classes: the dual of the transport problem in which each
/// carrier has one step out and one in, plus one free node that stands for the ends of the path.
fn dual(gaps: &Gaps, clique: &[usize], sizes: &[i64], kept: &[usize]) -> Vec<i64> {
    let k = kept.len();
    let longest = gaps_max(gaps, clique);
    // Dearer than any detour; a class of one carrier has no step to itself.
    let barred = (longest + 1) * 4 * (k as i64 + 1);
    let step = |i: usize, j: usize| match (i == k, j == k) {
        (true, true) => barred,
        (true, false) | (false, true) => 0,
        _ if i == j && gaps.sizes[clique[kept[i]]] < 2 => barred,
        _ => gaps.between(clique[kept[i]], clique[kept[j]]),
    };
    let mut supply: Vec<i64> = kept.iter().map(|&i| sizes[i].max(1)).chain([1]).collect();
    let mut demand = supply.clone();
    let n = k + 1;
    let mut flow = vec![0_i64; n * n];
    let (mut out, mut into) = (vec![0_i64; n], vec![0_i64; n]);
    // Successive shortest paths; nodes 0..n send, n..2n receive.
    while let Some((distance, before, end)) = shortest(&step, &supply, &demand, &flow, &out, &into)
    {
        let mut amount = demand[end];
        let mut node = n + end;
        while let Some(from) = before[node] {
            if node < n {
                amount = amount.min(flow[node * n + from - n]);
            }
            node = from;
        }
        amount = amount.min(supply[node]);
        supply[node] -= amount;
        demand[end] -= amount;
        node = n + end;
        while let Some(from) = before[node] {
            if node < n {
                flow[node * n + from - n] -= amount;
            } else {
                flow[from * n + node - n] += amount;
            }
            node = from;
        }
        let reach = distance[n + end];
        for i in 0..n {
            out[i] -= distance[i].min(reach);
            into[i] += distance[n + i].min(reach);
        }
    }
    (0..k).map(|i| out[i] + into[i]).collect()
}

fn gaps_max(gaps: &Gaps, clique: &[usize]) -> i64 {
    let all = clique.iter().flat_map(|&a| clique.iter().map(move |&b| gaps.between(a, b)));
    all.max().unwrap_or(0)
}

/// Distances from every sender with supply left, the way there, and the nearest open receiver.
type Reached = (Vec<i64>, Vec<Option<usize>>, usize);

fn shortest(
    step: &impl Fn(usize, usize) -> i64,
    supply: &[i64],
    demand: &[i64],
    flow: &[i64],
    out: &[i64],
    into: &[i64],
) -> Option<Reached> {
    let n = supply.len();
    let mut distance = vec![i64::MAX; 2 * n];
    let mut before = vec![None; 2 * n];
    let mut done = vec![false; 2 * n];
    (0..n).filter(|&i| supply[i] > 0).for_each(|i| distance[i] = 0);
    while let Some(node) =
        (0..2 * n).filter(|&v| !done[v] && distance[v] < i64::MAX).min_by_key(|&v| distance[v])
    {
        done[node] = true;
        for other in 0..n {
            let (i, j) = if node < n { (node, other) } else { (other, node - n) };
            let reduced = step(i, j) - out[i] - into[j];
            let (to, cost) = match node < n {
                true => (n + j, reduced),
                false if flow[i * n + j] > 0 => (i, -reduced),
                false => continue,
            };
            if distance[node] + cost < distance[to] {
                distance[to] = distance[node] + cost;
                before[to] = Some(node);
            }
        }
    }
    let end = (0..n)
        .filter(|&j| demand[j] > 0 && distance[n + j] < i64::MAX)
        .min_by_key(|&j| distance[n + j])?;
    Some((distance, before, end))
}
