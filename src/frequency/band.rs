//! Bands of spectrum, and the arithmetic of lists of bands.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Fault, Result};

/// A closed range of spectrum, both edges included.
///
/// A list of bands may be given to the functions beside this type in any order and overlapping; a
/// band whose edges are the wrong way round is empty. The lists they return are ascending, disjoint
/// and do not touch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Band {
    /// Lower edge.
    pub low_hz: i64,
    /// Upper edge.
    pub high_hz: i64,
}

impl Band {
    /// The band from `low_hz` to `high_hz`; equal edges make a band of a single frequency.
    ///
    /// # Errors
    /// [`Error::Invalid`] when the lower edge is above the upper one.
    pub fn new(low_hz: i64, high_hz: i64) -> Result<Self> {
        if low_hz > high_hz {
            return Err(Error::Invalid(vec![Fault::new(
                "band",
                format!("its lower edge {low_hz} Hz is above its upper edge {high_hz} Hz"),
                "exchange the edges",
            )]));
        }
        Ok(Self { low_hz, high_hz })
    }

    /// Whether `frequency_hz` lies in the band or on one of its edges.
    pub fn contains(&self, frequency_hz: i64) -> bool {
        (self.low_hz..=self.high_hz).contains(&frequency_hz)
    }

    fn is_empty(self) -> bool {
        self.low_hz > self.high_hz
    }
}

/// The same spectrum as ascending, disjoint bands: what overlaps or shares an edge is joined.
/// O(n log n).
///
/// ```
/// use sidon::frequency::{Band, merge};
/// let channels = [Band::new(476, 482)?, Band::new(470, 476)?, Band::new(488, 494)?];
/// assert_eq!(merge(&channels), [Band::new(470, 482)?, Band::new(488, 494)?]);
/// # Ok::<(), sidon::Error>(())
/// ```
pub fn merge(bands: &[Band]) -> Vec<Band> {
    let mut sorted: Vec<Band> = bands.iter().copied().filter(|b| !b.is_empty()).collect();
    sorted.sort_unstable();
    let mut merged: Vec<Band> = Vec::with_capacity(sorted.len());
    for band in sorted {
        match merged.last_mut() {
            Some(last) if band.low_hz <= last.high_hz => {
                last.high_hz = last.high_hz.max(band.high_hz);
            }
            _ => merged.push(band),
        }
    }
    merged
}

/// The spectrum in either list. O(n log n).
pub fn union(a: &[Band], b: &[Band]) -> Vec<Band> {
    merge(&[a, b].concat())
}

/// The spectrum in both lists; two bands that share only an edge have that single frequency in
/// common. O(n log n).
pub fn intersect(a: &[Band], b: &[Band]) -> Vec<Band> {
    let (a, b) = (merge(a), merge(b));
    let (mut i, mut j) = (0, 0);
    let mut common = Vec::new();
    while i < a.len() && j < b.len() {
        let band =
            Band { low_hz: a[i].low_hz.max(b[j].low_hz), high_hz: a[i].high_hz.min(b[j].high_hz) };
        if !band.is_empty() {
            common.push(band);
        }
        if a[i].high_hz < b[j].high_hz {
            i += 1;
        } else {
            j += 1;
        }
    }
    merge(&common)
}

/// The spectrum of `from` outside `taken`. O(n log n).
///
/// An edge has no width and so belongs to both neighbours: where 476-482 MHz is taken out of
/// 470-608 MHz, 470-476 and 482-608 MHz remain, edges included. [`shrink`] the result by half the
/// occupied bandwidth, or by the guard a channel's edge asks for, before carriers are placed in it.
/// For the same reason a taken band of a single frequency takes nothing out of a wider one, and a
/// remainder of a single frequency is dropped; a band of `from` that is a single frequency stays
/// only when no taken band contains it.
///
/// ```
/// use sidon::frequency::{Band, subtract};
/// let free = subtract(&[Band::new(470, 608)?], &[Band::new(476, 482)?]);
/// assert_eq!(free, [Band::new(470, 476)?, Band::new(482, 608)?]);
/// # Ok::<(), sidon::Error>(())
/// ```
pub fn subtract(from: &[Band], taken: &[Band]) -> Vec<Band> {
    let taken = merge(taken);
    let mut left = Vec::new();
    for band in merge(from) {
        let first = taken.partition_point(|t| t.high_hz < band.low_hz);
        let overlapping = taken[first..].iter().take_while(|t| t.low_hz <= band.high_hz);
        if band.low_hz == band.high_hz {
            if overlapping.count() == 0 {
                left.push(band);
            }
            continue;
        }
        let mut low_hz = band.low_hz;
        for cut in overlapping.filter(|t| t.low_hz < t.high_hz) {
            if low_hz < cut.low_hz {
                left.push(Band { low_hz, high_hz: cut.low_hz });
            }
            low_hz = low_hz.max(cut.high_hz);
        }
        if low_hz < band.high_hz {
            left.push(Band { low_hz, high_hz: band.high_hz });
        }
    }
    left
}

/// Every band with `margin_hz` taken off both edges, where anything is left; a negative margin
/// widens. Bands that touch are one band and lose nothing at the shared edge. O(n log n).
///
/// ```
/// use sidon::frequency::{Band, shrink};
/// assert_eq!(shrink(&[Band::new(470, 476)?], 1), [Band::new(471, 475)?]);
/// # Ok::<(), sidon::Error>(())
/// ```
pub fn shrink(bands: &[Band], margin_hz: i64) -> Vec<Band> {
    let moved: Vec<Band> = merge(bands)
        .into_iter()
        .map(|band| Band {
            low_hz: band.low_hz.saturating_add(margin_hz),
            high_hz: band.high_hz.saturating_sub(margin_hz),
        })
        .collect();
    merge(&moved)
}
