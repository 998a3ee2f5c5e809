//! Product forms: what the trade writes as `2A-B`, `A+B-C`, `3A-2B`.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};

/// The highest order a form may have.
pub(super) const MAX_ORDER: u32 = 9;

/// An intermodulation product form: integer coefficients that sum to 1.
///
/// The coefficients are kept in canonical order, positive ones first and larger magnitudes before
/// smaller, so that `B+A-C` and `A+B-C` are the same form. All letters stand for distinct links;
/// letters with equal coefficients may be exchanged and count once.
///
/// ```
/// use sidon::product::Form;
/// let form: Form = "A+B-C".parse()?;
/// assert_eq!(form.coefficients(), [1, 1, -1]);
/// assert_eq!(form.order(), 3);
/// assert_eq!("2A - B".parse::<Form>()?.to_string(), "2A-B");
/// # Ok::<(), sidon::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Form {
    coefficients: Vec<i32>,
}

impl Form {
    /// The form with these coefficients, in any order.
    ///
    /// # Errors
    /// [`Error::Unreadable`] when a coefficient is zero, they do not sum to 1, there are fewer than
    /// two, or the order exceeds nine.
    pub fn new(coefficients: &[i32]) -> Result<Self> {
        let fail = |why: &str| {
            Err(Error::Unreadable {
                what: format!("product form {coefficients:?}"),
                why: why.into(),
                remedy: format!(
                    "use non-zero whole coefficients that sum to 1, order 3 to {MAX_ORDER}, such as 2A-B"
                ),
            })
        };
        if coefficients.contains(&0) {
            return fail("a coefficient is zero");
        }
        let order: i64 = coefficients.iter().map(|&m| i64::from(m).abs()).sum();
        if order > i64::from(MAX_ORDER) {
            return fail(&format!("its order {order} is above {MAX_ORDER}"));
        }
        if coefficients.iter().sum::<i32>() != 1 {
            return fail("its coefficients do not sum to 1");
        }
        if coefficients.len() < 2 {
            return fail("it has a single letter");
        }
        let mut sorted = coefficients.to_vec();
        sorted.sort_by_key(|&m| (m < 0, -m.abs()));
        Ok(Self { coefficients: sorted })
    }

    /// The coefficients: positive before negative, larger magnitude first.
    pub fn coefficients(&self) -> &[i32] {
        &self.coefficients
    }

    /// The order: the sum of the coefficients' magnitudes.
    pub fn order(&self) -> u32 {
        self.coefficients.iter().map(|m| m.unsigned_abs()).sum()
    }

    /// The number of distinct carriers that take part.
    pub fn letters(&self) -> usize {
        self.coefficients.len()
    }
}

impl fmt::Display for Form {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, &m) in self.coefficients.iter().enumerate() {
            let sign = if m < 0 {
                "-"
            } else if i > 0 {
                "+"
            } else {
                ""
            };
            let letter = (b'A' + i as u8) as char;
            match m.abs() {
                1 => write!(f, "{sign}{letter}")?,
                n => write!(f, "{sign}{n}{letter}")?,
            }
        }
        Ok(())
    }
}

impl FromStr for Form {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let fail = |why: &str| Error::Unreadable {
            what: format!("product form {text:?}"),
            why: why.into(),
            remedy: "write it as 2A-B, A+B-C or 3A-2B, each letter once".into(),
        };
        let mut coefficients = Vec::new();
        let mut seen = Vec::new();
        let mut chars = text.chars().filter(|c| !c.is_whitespace()).peekable();
        while chars.peek().is_some() {
            let sign = match chars.next_if(|&c| c == '+' || c == '-') {
                Some('-') => -1,
                Some(_) => 1,
                None if coefficients.is_empty() => 1,
                None => return Err(fail("two letters stand without a sign between them")),
            };
            let mut digits = String::new();
            while let Some(c) = chars.next_if(char::is_ascii_digit) {
                digits.push(c);
            }
            let magnitude: i32 = match digits.as_str() {
                "" => 1,
                d => d.parse().map_err(|_| fail("a coefficient is out of range"))?,
            };
            let letter = chars
                .next()
                .filter(char::is_ascii_alphabetic)
                .ok_or_else(|| fail("a letter is missing"))?
                .to_ascii_uppercase();
            if seen.contains(&letter) {
                return Err(fail("a letter stands twice"));
            }
            seen.push(letter);
            coefficients.push(sign * magnitude);
        }
        Self::new(&coefficients)
    }
}

impl TryFrom<String> for Form {
    type Error = Error;

    fn try_from(text: String) -> Result<Self> {
        text.parse()
    }
}

impl From<Form> for String {
    fn from(form: Form) -> Self {
        form.to_string()
    }
}
