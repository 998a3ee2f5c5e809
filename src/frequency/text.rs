//! Exact reading and printing of a frequency: integer arithmetic from the text to hertz and back.

use crate::error::{Error, Result};

/// The digits a megahertz value always shows after the point.
const SHOWN_DECIMALS: usize = 3;

/// How much of an unreadable text an error repeats.
const QUOTED_CHARACTERS: usize = 40;

/// A unit of frequency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// Hz.
    Hertz,
    /// kHz, 1,000 Hz.
    Kilohertz,
    /// MHz, 1,000,000 Hz.
    Megahertz,
    /// GHz, 1,000,000,000 Hz.
    Gigahertz,
}

impl Unit {
    /// The decimal places of the unit that a whole hertz can fill.
    fn places(self) -> usize {
        match self {
            Self::Hertz => 0,
            Self::Kilohertz => 3,
            Self::Megahertz => 6,
            Self::Gigahertz => 9,
        }
    }

    /// The number of hertz in the unit.
    pub fn hertz(self) -> i64 {
        10_i64.pow(self.places() as u32)
    }

    fn from_suffix(suffix: &str) -> Option<Self> {
        match suffix.to_ascii_lowercase().as_str() {
            "hz" => Some(Self::Hertz),
            "khz" => Some(Self::Kilohertz),
            "mhz" => Some(Self::Megahertz),
            "ghz" => Some(Self::Gigahertz),
            _ => None,
        }
    }
}

/// Reads a frequency as whole hertz; a number without a unit is in MHz.
///
/// See [`parse_with_unit`] for what may be written.
///
/// ```
/// use sidon::frequency::parse_hz;
/// assert_eq!(parse_hz("518.125 MHz")?, 518_125_000);
/// assert_eq!(parse_hz("518.125")?, 518_125_000);
/// assert_eq!(parse_hz("518_125_000 Hz")?, 518_125_000);
/// assert_eq!(parse_hz("25kHz")?, 25_000);
/// assert!(parse_hz("518.1250001 MHz").is_err()); // finer than 1 Hz
/// # Ok::<(), sidon::Error>(())
/// ```
///
/// # Errors
/// [`Error::Unreadable`] as for [`parse_with_unit`].
pub fn parse_hz(text: &str) -> Result<i64> {
    parse_with_unit(text, Unit::Megahertz)
}

/// Reads a frequency as whole hertz; a number without a unit is in `default_unit`.
///
/// A sign, digits with `_` between them, a decimal point, and Hz, kHz, MHz or GHz in any case,
/// with or without a space before it. No floating-point number takes part, so every text that is
/// read is read exactly. O(length of the text).
///
/// # Errors
/// [`Error::Unreadable`] when the text is not such a number, has digits finer than 1 Hz, or does
/// not fit 64 bits.
pub fn parse_with_unit(text: &str, default_unit: Unit) -> Result<i64> {
    let fail = |why: &str, remedy: &str| Error::Unreadable {
        what: format!("frequency {:?}", quoted(text)),
        why: why.into(),
        remedy: remedy.into(),
    };
    let form = "write it as 518.125 MHz, 25 kHz or 518_125_000 Hz";

    let body = text.trim();
    if body.is_empty() {
        return Err(fail("it is empty", form));
    }
    let (negative, body) = match body.strip_prefix(['+', '-']) {
        Some(rest) => (body.starts_with('-'), rest),
        None => (false, body),
    };
    let end =
        body.find(|c: char| !(c.is_ascii_digit() || c == '_' || c == '.')).unwrap_or(body.len());
    let (number, suffix) = (&body[..end], body[end..].trim_start());
    if number.is_empty() {
        return Err(fail("it does not begin with a number", form));
    }
    let unit = if suffix.is_empty() {
        default_unit
    } else {
        Unit::from_suffix(suffix).ok_or_else(|| reject_suffix(suffix, &fail))?
    };

    let (whole, fraction) = number.split_once('.').unwrap_or((number, "0"));
    let whole = digits(whole)
        .ok_or_else(|| fail("a digit is missing beside its point or underscore", form))?;
    let fraction = digits(fraction)
        .ok_or_else(|| fail("a digit is missing beside its point or underscore", form))?;
    let significant = fraction.trim_end_matches('0');
    if significant.len() > unit.places() {
        return Err(fail("it is finer than 1 Hz", "round it to whole hertz"));
    }
    let hertz = whole
        .bytes()
        .chain(significant.bytes())
        .chain(std::iter::repeat_n(b'0', unit.places() - significant.len()))
        .try_fold(0_i64, |value, digit| {
            // Counting downwards reaches i64::MIN, which has no positive counterpart.
            value.checked_mul(10)?.checked_sub(i64::from(digit - b'0'))
        });
    hertz
        .and_then(|value| if negative { Some(value) } else { value.checked_neg() })
        .ok_or_else(|| fail("it does not fit 64 bits of hertz", "check the unit"))
}

/// Why what follows the number is no unit.
fn reject_suffix(suffix: &str, fail: &dyn Fn(&str, &str) -> Error) -> Error {
    let exponent = suffix.strip_prefix(['e', 'E']).is_some_and(|rest| {
        rest.trim_start_matches(['+', '-']).starts_with(|c: char| c.is_ascii_digit())
    });
    if exponent {
        fail("it has an exponent", "write all digits, or use kHz, MHz or GHz")
    } else if suffix.starts_with(',') {
        fail("it has a comma", "use a point for decimals and _ between groups of digits")
    } else {
        fail(&format!("{:?} is not a unit of frequency", quoted(suffix)), "use Hz, kHz, MHz or GHz")
    }
}

/// The digits without their separators; `None` unless every `_` stands between two digits.
fn digits(text: &str) -> Option<String> {
    let groups: Vec<&str> = text.split('_').collect();
    let sound = groups.iter().all(|g| !g.is_empty() && g.bytes().all(|b| b.is_ascii_digit()));
    sound.then(|| groups.concat())
}

/// At most [`QUOTED_CHARACTERS`] of a text.
fn quoted(text: &str) -> String {
    let mut short: String = text.chars().take(QUOTED_CHARACTERS).collect();
    if short.len() < text.len() {
        short.push_str("...");
    }
    short
}

/// Prints hertz in megahertz: at least three decimals, more only where they are needed.
///
/// [`parse_hz`] reads the result back to the same number.
///
/// ```
/// use sidon::frequency::format_mhz;
/// assert_eq!(format_mhz(518_125_000), "518.125 MHz");
/// assert_eq!(format_mhz(518_125_600), "518.1256 MHz");
/// assert_eq!(format_mhz(470_000_000), "470.000 MHz");
/// ```
pub fn format_mhz(hz: i64) -> String {
    let magnitude = hz.unsigned_abs();
    let megahertz = Unit::Megahertz.hertz().unsigned_abs();
    let fraction = format!("{:06}", magnitude % megahertz);
    let kept = fraction.trim_end_matches('0').len().max(SHOWN_DECIMALS);
    let sign = if hz < 0 { "-" } else { "" };
    format!("{sign}{}.{} MHz", magnitude / megahertz, &fraction[..kept])
}
