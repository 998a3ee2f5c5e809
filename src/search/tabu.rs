//! A tabu list of (link, candidate) pairs, kept per link.

use crate::table::Table;

/// Which candidates a link may not take, and until when.
#[derive(Debug)]
pub(super) struct Tabu {
    until: Vec<Vec<(usize, u64)>>,
    scratch: Vec<i64>,
}

impl Tabu {
    pub(super) fn new(links: usize) -> Self {
        Self { until: vec![Vec::new(); links], scratch: Vec::new() }
    }

    /// Forbid a candidate up to and including iteration `until`.
    pub(super) fn forbid(&mut self, link: usize, at: usize, until: u64) {
        self.until[link].retain(|&(other, _)| other != at);
        self.until[link].push((at, until));
    }

    /// A copy of the link's row in which forbidden candidates cost the most there is, unless they cost no
    /// more than `aspired`.
    pub(super) fn masked(
        &mut self,
        table: &mut Table,
        link: usize,
        now: u64,
        aspired: i64,
    ) -> &mut [i64] {
        self.scratch.clear();
        self.scratch.extend_from_slice(table.row(link));
        let scratch = &mut self.scratch;
        self.until[link].retain(|&(at, until)| {
            if until >= now && scratch[at] > aspired {
                scratch[at] = i64::MAX;
            }
            until >= now
        });
        scratch
    }
}
