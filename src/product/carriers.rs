//! The carriers and guards of one question, checked and reduced to whole steps of the carriers'
//! common raster.

use crate::error::{Error, Fault, Result};
use crate::frequency::gcd;

use super::Form;

/// The largest frequency, either sign; sums of up to ten of them stay far inside 64 bits.
const MAX_FREQUENCY_HZ: i64 = 1_000_000_000_000;

/// The carriers' distances above the lowest one, in steps of their greatest common divisor.
///
/// Coefficients sum to 1, so a product moves with its carriers and its distance from a victim is a
/// whole number of steps.
#[derive(Debug)]
pub(super) struct Carriers {
    /// One entry per carrier, in the order given.
    pub(super) units: Vec<i64>,
    /// Hertz in a step.
    pub(super) step_hz: i64,
    /// The largest entry.
    pub(super) span: i64,
}

/// One form and, for every victim, the largest distance in steps that is a hit; `None` waives.
#[derive(Debug)]
pub(super) struct Guarded<'a> {
    pub(super) form: &'a Form,
    pub(super) radii: Vec<Option<i64>>,
}

impl Carriers {
    fn new(frequencies_hz: &[i64]) -> Self {
        let lowest = frequencies_hz.iter().copied().min().unwrap_or(0);
        let step_hz = frequencies_hz.iter().fold(0, |step, f| gcd(f - lowest, step)).max(1);
        let units: Vec<i64> = frequencies_hz.iter().map(|f| (f - lowest) / step_hz).collect();
        let span = units.iter().copied().max().unwrap_or(0);
        Self { units, step_hz, span }
    }

    /// The largest distance in steps that is nearer than the guard.
    fn radius(&self, guard_hz: i64) -> Option<i64> {
        // No product lies further from a victim; a wider guard would only overflow.
        let everything = 2 * i64::from(super::form::MAX_ORDER) * self.span;
        (guard_hz > 0).then(|| ((guard_hz - 1) / self.step_hz).min(everything))
    }
}

/// Guard widths in hertz around the victims.
#[derive(Debug, Clone, Copy)]
pub(super) enum Widths<'a> {
    /// The same around every victim.
    Same(i64),
    /// One per carrier as a victim.
    Each(&'a [i64]),
}

/// Checks everything and reduces it to steps. O(carriers x guards).
pub(super) fn reduce<'a>(
    frequencies_hz: &[i64],
    guards: impl Iterator<Item = (&'a Form, Widths<'a>)>,
) -> Result<(Carriers, Vec<Guarded<'a>>)> {
    let count = frequencies_hz.len();
    let mut faults: Vec<Fault> = frequencies_hz
        .iter()
        .enumerate()
        .filter(|(_, f)| f.unsigned_abs() > MAX_FREQUENCY_HZ.unsigned_abs())
        .map(|(i, f)| {
            Fault::new(
                format!("frequencies_hz[{i}]"),
                format!("{f} Hz is beyond {MAX_FREQUENCY_HZ} Hz"),
                "check the unit: frequencies are in hertz",
            )
        })
        .collect();
    let guards: Vec<(&Form, Widths)> = guards.collect();
    for (g, &(form, widths)) in guards.iter().enumerate() {
        let (shortest, length) = match widths {
            Widths::Same(width) => (Some(width), count),
            Widths::Each(list) => (list.iter().copied().min(), list.len()),
        };
        if length != count {
            faults.push(Fault::new(
                format!("guards[{g}]"),
                format!("{length} widths of {form} for {count} carriers"),
                "give one width per carrier",
            ));
        }
        if let Some(width) = shortest.filter(|&w| w < 0) {
            faults.push(Fault::new(
                format!("guards[{g}]"),
                format!("the guard of {form} is {width} Hz"),
                "use 0 to waive the form, or a positive guard",
            ));
        }
    }
    if !faults.is_empty() {
        return Err(Error::Invalid(faults));
    }
    let carriers = Carriers::new(frequencies_hz);
    let guarded = guards
        .into_iter()
        .map(|(form, widths)| Guarded {
            form,
            radii: match widths {
                Widths::Same(width) => vec![carriers.radius(width); count],
                Widths::Each(list) => list.iter().map(|&w| carriers.radius(w)).collect(),
            },
        })
        .collect();
    Ok((carriers, guarded))
}
