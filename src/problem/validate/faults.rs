//! The list that faults are gathered in, and the checks that several fields share.

use std::collections::HashMap;

use super::MAX_HZ;
use crate::error::{Error, Fault, Result};

/// The most faults listed; the rest is counted.
const MAX_LISTED: usize = 1000;

/// Faults in the order they were found.
#[derive(Debug, Default)]
pub(super) struct Faults {
    listed: Vec<Fault>,
    count: usize,
}

impl Faults {
    pub(super) fn push(&mut self, place: String, what: String, remedy: &str) {
        self.count += 1;
        if self.listed.len() < MAX_LISTED {
            self.listed.push(Fault::new(place, what, remedy));
        }
    }

    /// How many were found so far.
    pub(super) fn count(&self) -> usize {
        self.count
    }

    /// Whether further ones would only be counted.
    pub(super) fn is_full(&self) -> bool {
        self.listed.len() >= MAX_LISTED
    }

    /// Reports an index that points nowhere; true when it points somewhere.
    pub(super) fn index(&mut self, place: String, index: usize, len: usize, of: &str) -> bool {
        if index >= len {
            self.push(
                place,
                format!("index {index} is outside the {len} {of}"),
                &format!("count {of} from 0, or add the missing entry"),
            );
        }
        index < len
    }

    /// Reports a distance that is negative or absurd.
    pub(super) fn distance(&mut self, place: String, hz: i64) {
        if hz < 0 {
            let remedy = "give a distance in hertz of 0 or more; 0 asks nothing";
            self.push(place, format!("{hz} Hz is negative"), remedy);
        } else if hz > MAX_HZ {
            let remedy = "give the distance in hertz: 350 kHz is 350000";
            self.push(place, format!("{hz} Hz is above {MAX_HZ} Hz"), remedy);
        }
    }

    /// Reports a frequency that the caller found out of bounds.
    pub(super) fn frequency(&mut self, place: String, hz: i64) {
        self.push(
            place,
            format!("{hz} Hz is outside 0 to {MAX_HZ} Hz"),
            "give the frequency in hertz: 518.125 MHz is 518125000",
        );
    }

    /// Reports names that are blank or stand twice.
    pub(super) fn names<'n>(
        &mut self,
        list: &str,
        field: &str,
        noun: &str,
        names: impl Iterator<Item = &'n str>,
    ) {
        let mut seen = HashMap::new();
        for (i, name) in names.enumerate() {
            if name.trim().is_empty() {
                self.push(
                    format!("{list}[{i}]{field}"),
                    format!("the {noun} has the blank name {name:?}"),
                    "give it a name",
                );
                continue;
            }
            let first = *seen.entry(name).or_insert(i);
            if first != i {
                self.push(
                    format!("{list}[{i}]{field}"),
                    format!("{name:?} already names {list}[{first}]"),
                    &format!("give each {noun} a name of its own"),
                );
            }
        }
    }

    pub(super) fn into_result(mut self) -> Result<()> {
        if self.listed.is_empty() {
            return Ok(());
        }
        let unlisted = self.count - self.listed.len();
        if unlisted > 0 {
            self.listed.push(Fault::new(
                "problem",
                format!("at least {unlisted} further faults are not listed"),
                "mend the listed ones first",
            ));
        }
        Err(Error::Invalid(self.listed))
    }
}
