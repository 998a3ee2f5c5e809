//! Which links share the air and the time, read straight from the problem.

use crate::problem::{Degree, Problem, Window};

/// Zones and windows of a problem, ready to be asked about links.
#[derive(Debug)]
pub(super) struct Air<'p> {
    problem: &'p Problem,
    /// Coupled zones of each zone, ascending.
    coupled: Vec<Vec<(usize, Degree)>>,
    /// Windows of each link, ascending; a link without windows has one that never ends.
    when: Vec<Vec<Window>>,
}

impl<'p> Air<'p> {
    pub(super) fn new(problem: &'p Problem) -> Self {
        let mut coupled = vec![Vec::new(); problem.zones.len()];
        for coupling in &problem.couplings {
            coupled[coupling.a].push((coupling.b, coupling.degree));
            coupled[coupling.b].push((coupling.a, coupling.degree));
        }
        for zones in &mut coupled {
            zones.sort_unstable();
        }
        let when = |windows: &[Window]| {
            let mut windows = windows.to_vec();
            if windows.is_empty() {
                windows.push(Window { start: i64::MIN, end: i64::MAX });
            }
            windows.sort_unstable();
            windows
        };
        let when = problem.links.iter().map(|link| when(&link.windows)).collect();
        Self { problem, coupled, when }
    }

    /// Whether the zones of two links are equal or coupled to at least this degree.
    pub(super) fn shared(&self, a: usize, b: usize, least: Degree) -> bool {
        let (a, b) = (self.problem.links[a].zone, self.problem.links[b].zone);
        a == b
            || self.coupled[a]
                .binary_search_by_key(&b, |&(zone, _)| zone)
                .is_ok_and(|i| self.coupled[a][i].1 >= least)
    }

    /// How many windows it takes on average to compare the time of one link; at least 1.
    pub(super) fn windows_per_link(&self) -> f64 {
        let windows: usize = self.when.iter().map(Vec::len).sum();
        windows as f64 / self.when.len().max(1) as f64
    }

    /// When a link is on the air.
    pub(super) fn when(&self, link: usize) -> &[Window] {
        &self.when[link]
    }

    /// Whether some instant lies in a window of each.
    pub(super) fn share_time(&self, a: usize, b: usize) -> bool {
        meet(&self.when[a], &self.when[b])
    }
}

/// The time common to two ascending lists of windows.
pub(super) fn common<'w>(a: &'w [Window], b: &'w [Window]) -> impl Iterator<Item = Window> + 'w {
    let (mut i, mut j) = (0, 0);
    std::iter::from_fn(move || {
        while let (Some(x), Some(y)) = (a.get(i), b.get(j)) {
            let both = Window { start: x.start.max(y.start), end: x.end.min(y.end) };
            if x.end <= y.end {
                i += 1;
            } else {
                j += 1;
            }
            if both.start < both.end {
                return Some(both);
            }
        }
        None
    })
}

/// Whether two ascending lists of windows have an instant in common.
pub(super) fn meet(a: &[Window], b: &[Window]) -> bool {
    common(a, b).next().is_some()
}
