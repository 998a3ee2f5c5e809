//! What every position of every class costs beside the carriers as they stand, kept up under moves.

use std::ops::Range;

use crate::search::sequence::Frame;

/// A missed distance costs this and one more for every step it is missed by. The amount alone (Lai and Hao
/// 2013) leaves many small violations that are hard to be rid of, the number alone shows no way.
const BASE: i32 = 3;
/// The most entries of a table of costs.
const MAX_ENTRIES: usize = 1 << 23;
/// The highest sum of costs.
const MAX_COST: i64 = 1 << 28;

/// Classes, their carriers, and the least distances between them in raster steps.
#[derive(Debug)]
pub(super) struct Shape {
    /// Where the carriers of every class begin; one more at the end.
    first: Vec<usize>,
    /// The class of every carrier.
    pub(super) class: Vec<u32>,
    /// Classes at a least distance, and that distance; a class of one carrier is none of its own.
    pub(super) near: Vec<Vec<(u32, i32)>>,
    /// Least distance within every class, 0 for a single carrier.
    pub(super) own: Vec<i32>,
    /// By least distance: the cost of every position around one carrier.
    hills: Vec<Vec<i32>>,
    /// Entries before and after a row, for what reaches beyond the window.
    pad: usize,
    stride: usize,
}

impl Shape {
    /// The classes of a frame in at most `reach` positions; `None` where the table would be too large.
    pub(super) fn of(frame: &Frame, reach: usize) -> Option<Self> {
        let n = frame.sizes.len();
        let widest = *frame.gaps.iter().max()?;
        let carriers: i64 = frame.sizes.iter().sum();
        let pad = usize::try_from(widest).ok()?;
        let stride = pad.checked_mul(2)?.checked_add(reach)?;
        let dearest = carriers.checked_mul(widest.checked_add(i64::from(BASE))?)?;
        if dearest > MAX_COST || stride.checked_mul(n)? > MAX_ENTRIES {
            return None;
        }
        let gap = |a: usize, b: usize| {
            if a == b && frame.sizes[a] < 2 { 0 } else { frame.gaps[a * n + b] as i32 }
        };
        let mut first = vec![0];
        for &size in &frame.sizes {
            first.push(first[first.len() - 1] + size as usize);
        }
        let near =
            |a: usize| (0..n).map(|b| (b as u32, gap(a, b))).filter(|&(_, gap)| gap > 0).collect();
        let mut hills = vec![Vec::new(); pad + 1];
        for &gap in &frame.gaps {
            let hill: &mut Vec<i32> = &mut hills[gap as usize];
            if hill.is_empty() {
                *hill = (1 - gap as i32..gap as i32).map(|off| missed(gap as i32, off)).collect();
            }
        }
        Some(Self {
            class: (0..n)
                .flat_map(|k| std::iter::repeat_n(k as u32, frame.sizes[k] as usize))
                .collect(),
            near: (0..n).map(near).collect(),
            own: (0..n).map(|k| gap(k, k)).collect(),
            first,
            hills,
            pad,
            stride,
        })
    }

    /// The carriers of a class.
    pub(super) fn members(&self, class: usize) -> Range<usize> {
        self.first[class]..self.first[class + 1]
    }
}

/// The cost of two carriers `off` steps apart that must be `gap` apart.
#[inline]
pub(super) fn missed(gap: i32, off: i32) -> i32 {
    let by = gap - off.abs();
    if by > 0 { BASE + by } else { 0 }
}

/// Positions of all carriers, and what every position would cost.
#[derive(Debug)]
pub(super) struct State<'s> {
    pub(super) shape: &'s Shape,
    /// Positions `0..window` are open.
    pub(super) window: i32,
    pub(super) plan: Vec<i32>,
    /// Cost of every position of every class beside all carriers, those of the class among them.
    gamma: Vec<i32>,
    /// The cost of all that is missed, once.
    pub(super) total: i64,
}

impl<'s> State<'s> {
    pub(super) fn new(shape: &'s Shape) -> Self {
        Self {
            shape,
            window: 0,
            plan: vec![0; shape.class.len()],
            gamma: vec![0; shape.stride * shape.own.len()],
            total: 0,
        }
    }

    /// Begin from a plan within the window. O(carriers * neighbours * distances).
    pub(super) fn load(&mut self, plan: &[i32], window: i32) {
        self.window = window;
        self.plan.copy_from_slice(plan);
        self.gamma.fill(0);
        for (carrier, &at) in plan.iter().enumerate() {
            self.add::<1>(self.shape.class[carrier] as usize, at);
        }
        let all = (0..plan.len()).map(|carrier| i64::from(self.here(carrier)));
        self.total = all.sum::<i64>() / 2;
    }

    #[inline]
    fn add<const SIGN: i32>(&mut self, class: usize, at: i32) {
        let shape = self.shape;
        for &(other, gap) in &shape.near[class] {
            let hill = &shape.hills[gap as usize];
            let start = other as usize * shape.stride + shape.pad + at as usize + 1 - gap as usize;
            for (entry, cost) in self.gamma[start..start + hill.len()].iter_mut().zip(hill) {
                *entry += SIGN * cost;
            }
        }
    }

    /// The costs of all open positions of a class.
    #[inline]
    pub(super) fn row(&self, class: usize) -> &[i32] {
        let start = class * self.shape.stride + self.shape.pad;
        &self.gamma[start..start + self.window as usize]
    }

    /// What a carrier costs where it stands.
    #[inline]
    pub(super) fn here(&self, carrier: usize) -> i32 {
        self.cost(carrier, self.plan[carrier])
    }

    /// What a carrier would cost at a position.
    #[inline]
    pub(super) fn cost(&self, carrier: usize, at: i32) -> i32 {
        let class = self.shape.class[carrier] as usize;
        // The class's row counts the carrier itself.
        let itself = missed(self.shape.own[class], at - self.plan[carrier]);
        self.gamma[class * self.shape.stride + self.shape.pad + at as usize] - itself
    }

    /// Move a carrier. O(neighbours * distances).
    #[inline]
    pub(super) fn assign(&mut self, carrier: usize, at: i32) {
        self.total += i64::from(self.cost(carrier, at)) - i64::from(self.here(carrier));
        let class = self.shape.class[carrier] as usize;
        let former = std::mem::replace(&mut self.plan[carrier], at);
        self.add::<-1>(class, former);
        self.add::<1>(class, at);
    }
}
