//! Sequencing for min-span: carriers placed in ascending order of frequency, by beam search.
//!
//! Every plan of classes with least distances on one raster can be built by placing one carrier after
//! another, each at the lowest frequency not below the last one: only the sequence of classes is open. A
//! beam of partial sequences is kept. What is left is judged by many difference-counting bounds at once
//! (see [`crate::bound`]): a sum of exponentials in the manner of multiplicative weights, so that every
//! clique is served in proportion to its need, and a penalty where the target is out of reach.

use std::collections::BTreeSet;

use super::stream::Stream;
use super::watch::Watch;
use crate::bound::{Bounding, Potentials};

/// The most bounds that judge a sequence.
const JUDGES: usize = 120;
/// Bounds derived from one clique.
const VARIANTS: usize = 40;
/// Cubes of clique sizes spent on deriving bounds.
const EFFORT: usize = 2_000_000;
/// The most classes times carriers for which a beam is affordable.
const MAX_WORK: i64 = 300_000;
/// Beyond the target, each half step costs so much against a sum whose terms are at most 1 below it.
const PENALTY: f64 = 100.0;
/// Smoothing of the exponentials, as parts of the span still open; restarts take turns.
const SMOOTHING: [f64; 5] = [0.02, 0.04, 0.005, 0.04, 0.01];

/// Where a wider beam sets out again, in parts of all carriers, when the target was missed by little.
const AGAIN: [i64; 4] = [12, 13, 14, 15];
const PARTS: i64 = 16;
/// How much wider.
const WIDER: usize = 4;
/// Missed by so many steps at most.
const CLOSE: i64 = 3;

/// Classes with least distances in raster steps, and the bounds that judge what is left.
#[derive(Debug, Clone)]
pub(super) struct Frame {
    pub(super) sizes: Vec<i64>,
    /// Least distances, row-major.
    pub(super) gaps: Vec<i64>,
    pub(super) step_hz: i64,
    /// Twice the potential of every class, per bound.
    judges: Vec<Vec<i64>>,
    /// Best bound on the span.
    pub(super) target: i64,
}

/// One bound's view of the classes in the order of the beam.
struct Judge {
    members: Vec<(usize, i64)>,
    most: i64,
}

/// A partial sequence.
#[derive(Debug, Clone)]
struct State {
    left: Vec<i64>,
    last: Vec<i64>,
    /// Per bound, doubled: the latest start of what is left, and its length.
    head: Vec<i64>,
    rest: Vec<i64>,
    now: i64,
    class: usize,
    node: usize,
}

impl Frame {
    /// The frame of a problem that is nothing but least distances on one raster, if it is small enough.
    pub(super) fn of(bounding: &Bounding, stream: &mut Stream) -> Option<Self> {
        let gaps = bounding.gaps();
        let grid = gaps.grid?;
        let n = gaps.len();
        let carriers: i64 = gaps.sizes.iter().sum();
        if n < 2 || carriers.saturating_mul(n as i64) > MAX_WORK {
            return None;
        }
        let steps = |hz: i64| (hz + grid.step_hz - 1) / grid.step_hz;
        // Bounds are counted in steps: distances round up to them.
        let in_steps = gaps.map(steps);
        if gaps.sizes.iter().all(|&size| size == 1) && in_steps.all_at_most(1) {
            // Plain colouring: a sequence says nothing about it.
            return None;
        }
        let mut found: BTreeSet<(i64, Vec<i64>)> = BTreeSet::new();
        let mut add = |potentials: Potentials| {
            let mut row = vec![0; n];
            potentials.doubled.iter().for_each(|&(k, u)| row[k] = u);
            found.insert((-potentials.bound_hz, row));
        };
        let mut effort = EFFORT;
        // Single carriers are not placed in part: their bounds have no variants.
        let most = if gaps.sizes.iter().all(|&size| size == 1) { 1 } else { VARIANTS };
        for clique in bounding.cliques() {
            let one = clique.len().pow(3);
            let variants = (effort / one).clamp(1, most);
            effort = effort.saturating_sub(variants * one);
            if effort == 0 {
                break;
            }
            add(Potentials::of(&in_steps, clique));
            // Bounds that would matter after some progress: sizes as they may then be.
            for variant in 1..variants {
                let (least, spread) = if variant % 2 == 0 { (850, 300) } else { (300, 1400) };
                let sizes: Vec<i64> = clique
                    .iter()
                    .map(|&k| 1 + in_steps.sizes[k] * (least + stream.below(spread) as i64) / 1000)
                    .collect();
                add(Potentials::with_sizes(&in_steps, clique, &sizes));
            }
        }
        for k in 0..n {
            add(Potentials::of(&in_steps, &[k]));
        }
        let target = found.first().map_or(0, |&(bound, _)| -bound);
        Some(Self {
            sizes: in_steps.sizes.clone(),
            gaps: (0..n * n).map(|at| in_steps.between(at / n, at % n)).collect(),
            step_hz: grid.step_hz,
            judges: found.into_iter().take(JUDGES).map(|(_, row)| row).collect(),
            target,
        })
    }

    /// Classes and distances alone.
    #[cfg(test)]
    pub(super) fn with(sizes: Vec<i64>, gaps: Vec<i64>) -> Self {
        Self { sizes, gaps, step_hz: 1, judges: vec![], target: 0 }
    }

    fn len(&self) -> usize {
        self.sizes.len()
    }

    /// The bound in hertz: on a raster distances round up to whole steps.
    pub(super) fn bound_hz(&self) -> u64 {
        (self.target * self.step_hz) as u64
    }

    /// Search with a beam that grows from restart to restart; (class, raster position) of every carrier.
    ///
    /// O(carriers * width * classes * bounds).
    pub(super) fn search(
        &self,
        stream: &mut Stream,
        watch: &mut Watch,
    ) -> Option<Vec<(usize, i64)>> {
        let width = match watch.restart {
            0..2 => 20,
            2..12 => 40,
            12..24 => 80,
            24..36 => 160,
            _ => 320,
        };
        let smoothing = SMOOTHING[(watch.restart % 5) as usize];
        // The order of classes breaks ties at one frequency: the tightest first, or any.
        let mut order: Vec<usize> = (0..self.len()).collect();
        if watch.restart.is_multiple_of(4) {
            let first = |&k: &usize| self.judges.iter().position(|row| row[k] > 0);
            order.sort_by_key(|k| (first(k).unwrap_or(usize::MAX), *k));
        } else {
            stream.shuffle(&mut order);
        }
        Beam::new(self, &order, smoothing).run(width, watch)
    }
}

/// The beam at work; classes are numbered in its own order.
struct Beam<'f> {
    frame: &'f Frame,
    order: &'f [usize],
    sizes: Vec<i64>,
    /// Classes with a least distance, and that distance.
    near: Vec<Vec<(usize, i64)>>,
    judges: Vec<Judge>,
    /// Bounds a class counts in, and twice its potential there.
    of: Vec<Vec<(usize, i64)>>,
    /// Bounds a class does not count in.
    outside: Vec<Vec<usize>>,
    /// Whether a class counts in a bound, row-major by class.
    counts: Vec<bool>,
    smoothing: f64,
    /// Marks for hashing states.
    marks: Vec<u64>,
}

/// A step that may be taken: judgement, state, class, position.
type Step = (f64, usize, usize, i64);

impl<'f> Beam<'f> {
    fn new(frame: &'f Frame, order: &'f [usize], smoothing: f64) -> Self {
        let n = frame.len();
        let judges: Vec<Judge> = frame
            .judges
            .iter()
            .map(|row| Judge {
                members: (0..n).map(|i| (i, row[order[i]])).filter(|&(_, u)| u > 0).collect(),
                most: row.iter().copied().max().unwrap_or(0),
            })
            .collect();
        let counts = |i: usize, c: usize| frame.judges[c][order[i]];
        let mut mark = 0x9E37_79B9_7F4A_7C15_u64;
        Self {
            sizes: order.iter().map(|&k| frame.sizes[k]).collect(),
            near: (0..n)
                .map(|i| {
                    (0..n)
                        .map(|j| (j, frame.gaps[order[i] * n + order[j]]))
                        .filter(|&(_, gap)| gap > 0)
                        .collect()
                })
                .collect(),
            of: (0..n)
                .map(|i| {
                    (0..judges.len()).map(|c| (c, counts(i, c))).filter(|&(_, u)| u > 0).collect()
                })
                .collect(),
            outside: (0..n)
                .map(|i| (0..judges.len()).filter(|&c| counts(i, c) == 0).collect())
                .collect(),
            counts: (0..n * judges.len())
                .map(|at| counts(at / judges.len(), at % judges.len()) > 0)
                .collect(),
            judges,
            marks: (0..n)
                .map(|_| {
                    // SplitMix64 (Steele, Lea and Flood 2014).
                    mark = mark.wrapping_add(0x9E37_79B9_7F4A_7C15);
                    let z = (mark ^ (mark >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
                    (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB) | 1
                })
                .collect(),
            frame,
            order,
            smoothing,
        }
    }

    fn run(&self, width: usize, watch: &mut Watch) -> Option<Vec<(usize, i64)>> {
        let carriers: i64 = self.sizes.iter().sum();
        let mut nodes: Vec<(usize, usize, i64)> = vec![(0, 0, 0)];
        let mut states = vec![self.root()];
        // Beams near the end, from which a wider one may set out again.
        let mut kept: Vec<(i64, Vec<State>)> = Vec::new();
        for level in 0..carriers {
            if AGAIN.iter().any(|&part| level == part * carriers / PARTS) {
                kept.push((level, states.clone()));
            }
            states = self.advance(&states, width, &mut nodes, watch)?;
        }
        let best = |states: &[State]| {
            states.iter().map(|state| (state.now, state.node)).min().filter(|&(_, node)| node > 0)
        };
        let (mut least, mut node) = best(&states)?;
        while let Some((start, mut states)) = kept.pop() {
            let over = least - self.frame.target;
            if !(1..=CLOSE).contains(&over) {
                break;
            }
            for _ in start..carriers {
                match self.advance(&states, width * WIDER, &mut nodes, watch) {
                    Some(next) => states = next,
                    None => return Some(self.plan(&nodes, node)),
                }
            }
            if let Some(found) = best(&states).filter(|&(now, _)| now < least) {
                (least, node) = found;
            }
        }
        Some(self.plan(&nodes, node))
    }

    fn plan(&self, nodes: &[(usize, usize, i64)], mut node: usize) -> Vec<(usize, i64)> {
        let mut plan = Vec::new();
        while node != 0 {
            let (before, class, at) = nodes[node];
            plan.push((self.order[class], at));
            node = before;
        }
        plan.reverse();
        plan
    }

    fn root(&self) -> State {
        let whole = |judge: &Judge| {
            let members = judge.members.iter();
            members.map(|&(i, u)| 2 * u * self.sizes[i]).sum::<i64>() - judge.most
        };
        State {
            left: self.sizes.clone(),
            last: vec![-(1 << 40); self.sizes.len()],
            head: self.judges.iter().map(|judge| -judge.most).collect(),
            rest: self.judges.iter().map(whole).collect(),
            now: 0,
            class: 0,
            node: 0,
        }
    }

    /// One more carrier in every state; `None` when the budget is spent.
    fn advance(
        &self,
        states: &[State],
        width: usize,
        nodes: &mut Vec<(usize, usize, i64)>,
        watch: &mut Watch,
    ) -> Option<Vec<State>> {
        if !watch.tick() {
            return None;
        }
        let mut steps = self.steps(states);
        let order = |a: &Step, b: &Step| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2)));
        // Some steps lead to one state: keep a few more than the width before they are told apart.
        if steps.len() > 3 * width {
            steps.select_nth_unstable_by(3 * width, order);
            steps.truncate(3 * width);
        }
        steps.sort_unstable_by(order);
        let mut seen = BTreeSet::new();
        let mut next = Vec::with_capacity(width);
        for (_, from, class, at) in steps {
            if next.len() < width && seen.insert(self.mark(&states[from], class, at)) {
                nodes.push((states[from].node, class, at));
                next.push(self.child(&states[from], class, at, nodes.len() - 1));
            }
        }
        Some(next)
    }

    /// All next steps of all states, judged.
    fn steps(&self, states: &[State]) -> Vec<Step> {
        let target = 2 * self.frame.target;
        let now = states.iter().map(|state| state.now).min().unwrap_or(0);
        let smooth = 0.5 + self.smoothing * (self.frame.target - now).max(0) as f64;
        let curve: Vec<f64> = (-400..=400)
            .map(|over| {
                let over = f64::from(over);
                (over / 2.0 / smooth).exp() + if over > 0.0 { PENALTY * over } else { 0.0 }
            })
            .collect();
        let worth = |end: i64| curve[((end - target).clamp(-400, 400) + 400) as usize];
        let mut steps = Vec::new();
        for (from, state) in states.iter().enumerate() {
            let earliest = self.earliest(state);
            let mut head = state.head.clone();
            for (c, judge) in self.judges.iter().enumerate() {
                let open = judge.members.iter().filter(|&&(i, _)| state.left[i] > 0);
                if let Some(start) = open.map(|&(i, u)| 2 * earliest[i] - u).min() {
                    head[c] = head[c].max(start);
                }
            }
            // Bounds that a later start would move, by the position from which it does.
            let mut late: Vec<(i64, usize)> = (0..self.judges.len())
                .filter(|&c| state.rest[c] > -self.judges[c].most)
                .map(|c| (head[c] + self.judges[c].most, c))
                .collect();
            late.sort_unstable();
            let base: f64 =
                head.iter().zip(&state.rest).map(|(head, rest)| worth(head + rest)).sum();
            for i in (0..self.sizes.len()).filter(|&i| state.left[i] > 0) {
                let at = earliest[i];
                let mut score = base;
                for &(c, u) in &self.of[i] {
                    let before = head[c] + state.rest[c];
                    let after = head[c].max(2 * at + u) + state.rest[c] - 2 * u;
                    if after != before {
                        score += worth(after) - worth(before);
                    }
                }
                for &(_, c) in late.iter().take_while(|&&(end, _)| end < 2 * at) {
                    if !self.counts[i * self.judges.len() + c] {
                        let start = 2 * at - self.judges[c].most;
                        score += worth(start + state.rest[c]) - worth(head[c] + state.rest[c]);
                    }
                }
                steps.push((score, from, i, at));
            }
        }
        steps
    }

    /// The lowest position open to each class.
    fn earliest(&self, state: &State) -> Vec<i64> {
        (0..self.sizes.len())
            .map(|i| {
                // At one position classes come in ascending order: other orders are the same plan.
                let start = state.now + i64::from(i < state.class);
                self.near[i].iter().fold(start, |at, &(j, gap)| at.max(state.last[j] + gap))
            })
            .collect()
    }

    fn child(&self, state: &State, class: usize, at: i64, node: usize) -> State {
        let mut child = state.clone();
        child.left[class] -= 1;
        child.last[class] = at;
        child.now = at;
        child.class = class;
        child.node = node;
        for &(c, u) in &self.of[class] {
            child.head[c] = child.head[c].max(2 * at + u);
            child.rest[c] -= 2 * u;
        }
        for &c in &self.outside[class] {
            child.head[c] = child.head[c].max(2 * at - self.judges[c].most);
        }
        child
    }

    /// A mark of what the future depends on: what is left, how long ago each class was placed, and when.
    fn mark(&self, state: &State, class: usize, at: i64) -> u64 {
        let mut hash = at as u64;
        for (i, mark) in self.marks.iter().enumerate() {
            let (last, left) =
                if i == class { (at, state.left[i] - 1) } else { (state.last[i], state.left[i]) };
            let age = (at - last).min(63);
            hash ^=
                (left as u64 * 64 + age as u64 + 1).wrapping_mul(*mark).rotate_left(i as u32 % 63);
            hash = hash.wrapping_mul(0x2545_F491_4F6C_DD1D);
        }
        hash
    }
}
