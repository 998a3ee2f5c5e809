//! Where a link may tune: explicit frequencies, or ranges on a raster.

use serde::{Deserialize, Serialize};

/// The candidate frequencies of a link.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Domain {
    /// These frequencies, in hertz, in any order.
    Frequencies(Vec<i64>),
    /// Every `origin_hz + k * step_hz` within one of the closed ranges.
    #[serde(rename_all = "snake_case")]
    Raster {
        /// Closed ranges `[low_hz, high_hz]`; they may overlap.
        ranges_hz: Vec<[i64; 2]>,
        /// Raster step; nothing is on a raster whose step is below 1.
        step_hz: i64,
        /// A frequency on the raster.
        origin_hz: i64,
    },
}

impl Domain {
    /// All candidates, ascending and distinct. O(k log k) in the number of candidates.
    ///
    /// A raster is written out in full: check [`Domain::count`] first where the input is not
    /// trusted. [`Problem::validate`](super::Problem::validate) refuses domains above ten million.
    ///
    /// ```
    /// use sidon::problem::Domain;
    /// let domain = Domain::Raster { ranges_hz: vec![[10, 35]], step_hz: 10, origin_hz: 0 };
    /// assert_eq!(domain.candidates_hz(), [10, 20, 30]);
    /// ```
    pub fn candidates_hz(&self) -> Vec<i64> {
        match self.sorted() {
            Sorted::Listed(list) => list,
            Sorted::Raster { spans, step, origin } => spans
                .iter()
                .flat_map(|&span| {
                    let (first, count) = on_raster(span, step, origin);
                    // Every point lies within its span, whose ends are i64.
                    (0..count).map(move |k| (first + k * step) as i64)
                })
                .collect(),
        }
    }

    /// How many distinct candidates there are, without writing a raster out. O(k log k) in the
    /// number of listed frequencies or ranges.
    ///
    /// ```
    /// use sidon::problem::Domain;
    /// let domain = Domain::Raster { ranges_hz: vec![[0, 99], [50, 109]], step_hz: 10, origin_hz: 0 };
    /// assert_eq!(domain.count(), 11);
    /// ```
    pub fn count(&self) -> u128 {
        self.sorted().count()
    }

    /// Whether `frequency_hz` is a candidate. O(k) in the number of listed frequencies or ranges.
    pub fn contains(&self, frequency_hz: i64) -> bool {
        match self {
            Self::Frequencies(list) => list.contains(&frequency_hz),
            Self::Raster { ranges_hz, step_hz, origin_hz } => {
                let distance = i128::from(frequency_hz) - i128::from(*origin_hz);
                *step_hz > 0
                    && distance.rem_euclid(i128::from(*step_hz)) == 0
                    && ranges_hz.iter().any(|&[low, high]| (low..=high).contains(&frequency_hz))
            }
        }
    }

    /// The domain sorted once, for many questions.
    pub(super) fn sorted(&self) -> Sorted {
        match self {
            Self::Frequencies(list) => {
                let mut list = list.clone();
                list.sort_unstable();
                list.dedup();
                Sorted::Listed(list)
            }
            Self::Raster { ranges_hz, step_hz, origin_hz } => Sorted::Raster {
                spans: if *step_hz > 0 { merged(ranges_hz) } else { Vec::new() },
                step: i128::from(*step_hz),
                origin: i128::from(*origin_hz),
            },
        }
    }
}

/// A domain in ascending order; a raster is kept as its rule.
#[derive(Debug)]
pub(super) enum Sorted {
    /// Distinct frequencies.
    Listed(Vec<i64>),
    /// Disjoint spans on a raster of positive step (or no span at all).
    Raster { spans: Vec<[i64; 2]>, step: i128, origin: i128 },
}

impl Sorted {
    /// The number of candidates. O(1) or O(spans).
    pub(super) fn count(&self) -> u128 {
        match self {
            Self::Listed(list) => list.len() as u128,
            Self::Raster { spans, step, origin } => {
                spans.iter().map(|&span| on_raster(span, *step, *origin).1 as u128).sum()
            }
        }
    }

    /// Whether `frequency_hz` is a candidate. O(log k).
    pub(super) fn contains(&self, frequency_hz: i64) -> bool {
        match self {
            Self::Listed(list) => list.binary_search(&frequency_hz).is_ok(),
            Self::Raster { spans, step, origin } => {
                let next = spans.partition_point(|&[_, high]| high < frequency_hz);
                spans.get(next).is_some_and(|&[low, _]| low <= frequency_hz)
                    && (i128::from(frequency_hz) - origin).rem_euclid(*step) == 0
            }
        }
    }
}

/// The ranges that are not reversed, ascending, overlaps joined.
fn merged(ranges: &[[i64; 2]]) -> Vec<[i64; 2]> {
    let mut sorted: Vec<_> = ranges.iter().copied().filter(|[low, high]| low <= high).collect();
    sorted.sort_unstable();
    let mut spans: Vec<[i64; 2]> = Vec::with_capacity(sorted.len());
    for [low, high] in sorted {
        match spans.last_mut() {
            Some(last) if low <= last[1] => last[1] = last[1].max(high),
            _ => spans.push([low, high]),
        }
    }
    spans
}

/// The first raster point within a span, and how many there are.
fn on_raster([low, high]: [i64; 2], step: i128, origin: i128) -> (i128, i128) {
    let (low, high) = (i128::from(low), i128::from(high));
    let first = low + (origin - low).rem_euclid(step);
    let count = if first > high { 0 } else { (high - first) / step + 1 };
    (first, count)
}
