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

    /// Every form of this order, two letters or more, in a fixed order: 2, 6, 15 and 35 forms for
    /// the orders 3, 5, 7 and 9; none for any other order, since coefficients that sum to 1 have an
    /// odd sum of magnitudes.
    ///
    /// ```
    /// use sidon::product::Form;
    /// let third: Vec<String> = Form::all(3).iter().map(Form::to_string).collect();
    /// assert_eq!(third, ["2A-B", "A+B-C"]);
    /// ```
    pub fn all(order: u32) -> Vec<Self> {
        if order.is_multiple_of(2) || !(3..=MAX_ORDER).contains(&order) {
            return Vec::new();
        }
        let negative = partitions(order / 2);
        partitions(order.div_ceil(2))
            .iter()
            .flat_map(|plus| negative.iter().map(move |minus| (plus, minus)))
            .map(|(plus, minus)| Self {
                coefficients: plus.iter().copied().chain(minus.iter().map(|m| -m)).collect(),
            })
            .collect()
    }

    /// The letters with equal coefficients: each coefficient and how many letters have it.
    pub(super) fn classes(&self) -> Vec<(i32, usize)> {
        self.coefficients.chunk_by(|a, b| a == b).map(|c| (c[0], c.len())).collect()
    }

    /// How many products of this form `carriers` distinct carriers make, whatever their
    /// frequencies; `u128::MAX` where that is too small to hold the number.
    ///
    /// n! / (n - k)! ways to put n carriers on k letters, over m! for every m letters with equal
    /// coefficients, which may be exchanged. Source: elementary combinatorics.
    ///
    /// ```
    /// use sidon::product::Form;
    /// let form: Form = "A+B-C".parse()?;
    /// assert_eq!(form.products(10), 360);
    /// # Ok::<(), sidon::Error>(())
    /// ```
    pub fn products(&self, carriers: usize) -> u128 {
        arrangements(self.classes().into_iter().map(|(_, letters)| letters), carriers)
    }

    /// The level of a product of this form over the two-tone form of the same order, in dB.
    ///
    /// The amplitude of a product in the term x^n of a power series is proportional to the
    /// multinomial coefficient n! / (|m1|! |m2|! ...), so this holds for equal carriers and a
    /// memoryless non-linearity in which no higher term contributes; a real receiver or
    /// transmitter departs from it. Source: multinomial theorem.
    ///
    /// ```
    /// use sidon::product::Form;
    /// let form: Form = "A+B-C".parse()?;
    /// assert_eq!(format!("{:.2}", form.level_db()), "6.02");
    /// # Ok::<(), sidon::Error>(())
    /// ```
    pub fn level_db(&self) -> f64 {
        let plus = self.order().div_ceil(2);
        let two_tone = factorial(plus) * factorial(plus - 1);
        let own: f64 = self.coefficients.iter().map(|m| factorial(m.unsigned_abs())).product();
        20.0 * (two_tone / own).log10()
    }
}

/// The ways to choose disjoint groups of these sizes from `carriers`; saturates.
pub(super) fn arrangements(groups: impl Iterator<Item = usize>, carriers: usize) -> u128 {
    let mut left = carriers as u128;
    let mut total = 1_u128;
    for group in groups {
        let ways = binomial(left, group as u128).unwrap_or(u128::MAX);
        total = total.saturating_mul(ways);
        left = left.saturating_sub(group as u128);
    }
    total
}

/// The partitions of `sum` into positive parts, each descending, in descending order.
fn partitions(sum: u32) -> Vec<Vec<i32>> {
    fn extend(left: i32, largest: i32, parts: &mut Vec<i32>, all: &mut Vec<Vec<i32>>) {
        if left == 0 {
            all.push(parts.clone());
        }
        for part in (1..=largest.min(left)).rev() {
            parts.push(part);
            extend(left - part, part, parts, all);
            parts.pop();
        }
    }
    let mut all = Vec::new();
    extend(sum as i32, sum as i32, &mut Vec::new(), &mut all);
    all
}

/// n over k; `None` on overflow.
fn binomial(n: u128, k: u128) -> Option<u128> {
    // Each intermediate value is itself a binomial coefficient, so the division is exact.
    (0..k).try_fold(1_u128, |ways, i| Some(ways.checked_mul(n.saturating_sub(i))? / (i + 1)))
}

fn factorial(n: u32) -> f64 {
    (1..=n).map(f64::from).product()
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
