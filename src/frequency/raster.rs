//! Rasters: the equidistant frequencies a synthesiser can be set to.

use crate::error::{Error, Fault, Result};

use super::Band;

/// The most candidates a raster lists at once.
const MAX_CANDIDATES: i128 = 10_000_000;

/// Every `origin + k * step`, `k` any whole number.
///
/// ```
/// use sidon::frequency::{Band, Raster};
/// let raster = Raster::new(25_000, 470_000_000)?;
/// assert!(raster.contains(518_125_000));
/// assert_eq!(raster.nearest(518_130_000), Some(518_125_000));
/// let channel = Band::new(470_000_000, 476_000_000)?;
/// assert_eq!(raster.candidates(&channel)?.len(), 241);
/// # Ok::<(), sidon::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Raster {
    step_hz: i64,
    origin_hz: i64,
}

impl Raster {
    /// The raster of this step through `origin_hz`.
    ///
    /// # Errors
    /// [`Error::Invalid`] when the step is not positive.
    pub fn new(step_hz: i64, origin_hz: i64) -> Result<Self> {
        if step_hz <= 0 {
            return Err(Error::Invalid(vec![Fault::new(
                "raster",
                format!("its step is {step_hz} Hz"),
                "use a positive step, such as 25 kHz",
            )]));
        }
        Ok(Self { step_hz, origin_hz })
    }

    /// The distance between neighbours.
    pub fn step_hz(&self) -> i64 {
        self.step_hz
    }

    /// A frequency on the raster.
    pub fn origin_hz(&self) -> i64 {
        self.origin_hz
    }

    /// Whether `frequency_hz` is on the raster.
    pub fn contains(&self, frequency_hz: i64) -> bool {
        self.above(frequency_hz) == 0
    }

    /// The highest frequency on the raster that is not above `frequency_hz`; `None` when 64 bits
    /// cannot hold it.
    pub fn at_or_below(&self, frequency_hz: i64) -> Option<i64> {
        frequency_hz.checked_sub(self.above(frequency_hz))
    }

    /// The lowest frequency on the raster that is not below `frequency_hz`; `None` when 64 bits
    /// cannot hold it.
    pub fn at_or_above(&self, frequency_hz: i64) -> Option<i64> {
        match self.above(frequency_hz) {
            0 => Some(frequency_hz),
            above => frequency_hz.checked_add(self.step_hz - above),
        }
    }

    /// The frequency on the raster nearest to `frequency_hz`, the lower one of two at the same
    /// distance; `None` when 64 bits cannot hold it.
    pub fn nearest(&self, frequency_hz: i64) -> Option<i64> {
        let above = self.above(frequency_hz);
        if above <= self.step_hz - above {
            self.at_or_below(frequency_hz)
        } else {
            self.at_or_above(frequency_hz)
        }
    }

    /// The frequencies on the raster within the band, edges included, ascending. O(candidates).
    ///
    /// # Errors
    /// [`Error::TooLarge`] above ten million candidates.
    pub fn candidates(&self, band: &Band) -> Result<Vec<i64>> {
        let Some(first) = self.at_or_above(band.low_hz).filter(|&f| f <= band.high_hz) else {
            return Ok(Vec::new());
        };
        let steps = (i128::from(band.high_hz) - i128::from(first)) / i128::from(self.step_hz);
        if steps >= MAX_CANDIDATES {
            return Err(Error::TooLarge {
                what: format!("the list of candidates on a raster of {} Hz", self.step_hz),
                why: format!("{} frequencies, above {MAX_CANDIDATES}", steps + 1),
                remedy: "check the units of band and step, or widen the step".into(),
            });
        }
        let next = |&f: &i64| f.checked_add(self.step_hz).filter(|&f| f <= band.high_hz);
        Ok(std::iter::successors(Some(first), next).collect())
    }

    /// How far `frequency_hz` lies above the raster's next lower frequency: 0 to step - 1.
    fn above(&self, frequency_hz: i64) -> i64 {
        let distance = i128::from(frequency_hz) - i128::from(self.origin_hz);
        distance.rem_euclid(i128::from(self.step_hz)) as i64
    }
}
