//! One error type for the whole engine: what is wrong, where, and the remedy.

use std::fmt;

/// One fault found in the input, with its place and what to do about it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Fault {
    /// Where: a path such as `links[3].domain`.
    pub place: String,
    /// What is wrong, with the offending value.
    pub what: String,
    /// What the user can do about it.
    pub remedy: String,
}

impl Fault {
    /// A fault at `place`.
    pub fn new(
        place: impl Into<String>,
        what: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self { place: place.into(), what: what.into(), remedy: remedy.into() }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}; {}", self.place, self.what, self.remedy)
    }
}

/// Everything the engine can refuse.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// The input breaks its own rules; every fault found is listed.
    #[error("{} fault(s) in the input:{}", .0.len(), list(.0))]
    Invalid(Vec<Fault>),
    /// A text could not be read as what it should be.
    #[error("cannot read {what}: {why}; {remedy}")]
    Unreadable {
        /// What was being read, with the offending text.
        what: String,
        /// Why it failed.
        why: String,
        /// What to write instead.
        remedy: String,
    },
    /// The input is sound but beyond what the engine can hold.
    #[error("{what} is too large: {why}; {remedy}")]
    TooLarge {
        /// What is too large.
        what: String,
        /// The limit it breaks.
        why: String,
        /// What to reduce.
        remedy: String,
    },
}

fn list(faults: &[Fault]) -> String {
    faults.iter().fold(String::new(), |text, fault| text + "\n  " + &fault.to_string())
}

/// The engine's result type.
pub type Result<T> = std::result::Result<T, Error>;
