//! Frequencies in whole hertz: reading and printing them exactly, bands of spectrum, rasters.

mod band;
mod raster;
mod text;

pub use band::{Band, intersect, merge, shrink, subtract, union};
pub use raster::Raster;
pub use text::{Unit, format_mhz, parse_hz, parse_with_unit};

/// The greatest common step of two distances.
pub(crate) fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a.abs() } else { gcd(b, a % b) }
}
