//! Frequencies in whole hertz: reading and printing them exactly, bands of spectrum, rasters.

mod band;
mod raster;
mod text;

pub use band::{Band, intersect, merge, shrink, subtract, union};
pub use raster::Raster;
pub use text::{Unit, format_mhz, parse_hz, parse_with_unit};
