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
        /// Closed ranges `[low_hz, high_hz]`.
        ranges_hz: Vec<[i64; 2]>,
        /// Raster step.
        step_hz: i64,
        /// A frequency on the raster.
        origin_hz: i64,
    },
}

impl Domain {
    /// All candidates, ascending and distinct. O(k log k).
    ///
    /// ```
    /// use sidon::problem::Domain;
    /// let domain = Domain::Raster { ranges_hz: vec![[10, 35]], step_hz: 10, origin_hz: 0 };
    /// assert_eq!(domain.candidates_hz(), [10, 20, 30]);
    /// ```
    pub fn candidates_hz(&self) -> Vec<i64> {
        let mut all = match self {
            Self::Frequencies(list) => list.clone(),
            Self::Raster { ranges_hz, step_hz, origin_hz } => ranges_hz
                .iter()
                .flat_map(|&[low, high]| {
                    let first = low + (origin_hz - low).rem_euclid(*step_hz);
                    (0..).map(move |k| first + k * step_hz).take_while(move |&f| f <= high)
                })
                .collect(),
        };
        all.sort_unstable();
        all.dedup();
        all
    }

    /// Whether `frequency_hz` is a candidate. O(k).
    pub fn contains(&self, frequency_hz: i64) -> bool {
        match self {
            Self::Frequencies(list) => list.contains(&frequency_hz),
            Self::Raster { ranges_hz, step_hz, origin_hz } => {
                (frequency_hz - origin_hz).rem_euclid(*step_hz) == 0
                    && ranges_hz.iter().any(|&[low, high]| (low..=high).contains(&frequency_hz))
            }
        }
    }
}
