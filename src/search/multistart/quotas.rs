//! Hands out restarts with their shares of the budget, so that threads end at about the same time.

use std::collections::VecDeque;
use std::sync::atomic::Ordering;
use std::sync::{Mutex, PoisonError};
use std::time::Instant;

use crate::search::portfolio::{self, Kind};
use crate::search::watch::Run;
use crate::search::{Method, Options};

/// With more restarts than this the longest is a small part of the whole, and the order of no account.
const LISTED: u64 = 4_096;

/// A budget beyond this, weeks of work, is as good as none; its restarts are not counted beforehand.
const ENDLESS: u64 = 1 << 38;

/// The restarts of a run that are still to begin.
#[derive(Debug)]
pub(super) struct Quotas {
    method: Method,
    links: usize,
    kind: Kind,
    threads: u64,
    /// Restarts in all and iterations of the last, under an iteration budget.
    limit: Option<(u64, u64)>,
    waiting: Mutex<Waiting>,
}

/// Restarts and their iterations, by index; those from `next` on are not listed.
#[derive(Debug, Default)]
struct Waiting {
    listed: VecDeque<(u64, u64)>,
    next: u64,
}

impl Quotas {
    pub(super) fn new(options: &Options, links: usize, kind: Kind, threads: usize) -> Self {
        let length = |restart| portfolio::length(options.method, links, restart, kind);
        let limit = if portfolio::single(options.method) {
            Some((1, options.budget.iterations.unwrap_or(u64::MAX).min(length(0))))
        } else {
            options.budget.iterations.filter(|&all| all <= ENDLESS).map(|mut left| {
                let mut restart = 0;
                while left > length(restart) {
                    left -= length(restart);
                    restart += 1;
                }
                (restart + 1, left)
            })
        };
        let method = options.method;
        let threads = threads as u64;
        let quotas = Self { method, links, kind, threads, limit, waiting: Mutex::default() };
        let listed: VecDeque<(u64, u64)> = match limit {
            Some((restarts, _)) if restarts <= LISTED => (0..restarts)
                .filter_map(|restart| Some((restart, quotas.quota(restart)?)))
                .collect(),
            _ => VecDeque::new(),
        };
        let next = listed.len() as u64;
        Self { waiting: Mutex::new(Waiting { listed, next }), ..quotas }
    }

    fn quota(&self, restart: u64) -> Option<u64> {
        match self.limit {
            Some((restarts, last)) if restart + 1 == restarts => Some(last),
            Some((restarts, _)) if restart >= restarts => None,
            _ => Some(portfolio::length(self.method, self.links, restart, self.kind)),
        }
    }

    /// The next restart to begin, and its iterations.
    pub(super) fn next(&self, run: &Run) -> Option<(u64, u64)> {
        loop {
            let (restart, quota) = self.take()?;
            let on = !run.control.stopped()
                && run.deadline.is_none_or(|deadline| Instant::now() < deadline);
            // The first restart always runs: it yields some plan even when no time is left.
            if restart == 0 || on && run.solved.load(Ordering::Relaxed) >= restart {
                return Some((restart, quota));
            }
            // One that was begun early may have met the bound: those before it still run.
            if !on || !self.lists_more() {
                return None;
            }
        }
    }

    fn lists_more(&self) -> bool {
        !self.waiting.lock().unwrap_or_else(PoisonError::into_inner).listed.is_empty()
    }

    /// Restarts go by index, but for one so long that the other threads would wait for it at the end.
    fn take(&self) -> Option<(u64, u64)> {
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        let left = waiting.listed.iter().fold(0_u64, |sum, &(_, quota)| sum.saturating_add(quota));
        let longest = (0..waiting.listed.len()).max_by_key(|&i| waiting.listed[i].1);
        if let Some(longest) = longest {
            let whole = waiting.listed[longest].1.saturating_mul(self.threads);
            let at = if self.threads > 1 && whole >= left { longest } else { 0 };
            return waiting.listed.remove(at);
        }
        let restart = waiting.next;
        waiting.next += 1;
        self.quota(restart).map(|quota| (restart, quota))
    }
}

#[cfg(test)]
mod tests {
    use super::{Kind, Quotas};
    use crate::search::{Budget, Method, Options};

    /// Time until the last of some threads is through, if iterations take equal time.
    fn span(threads: usize, iterations: u64) -> u64 {
        let budget = Budget { iterations: Some(iterations), seconds: None };
        let options = Options { method: Method::LocalSearch, budget, ..Options::default() };
        let quotas = Quotas::new(&options, 10, Kind::Table, threads);
        let mut busy = vec![0; threads];
        let mut handed = Vec::new();
        while let Some((restart, quota)) = quotas.take() {
            *busy.iter_mut().min().expect("a thread") += quota;
            handed.push(restart);
        }
        if threads == 1 {
            assert!(handed.is_sorted());
        }
        handed.sort_unstable();
        assert!(handed.iter().copied().eq(0..handed.len() as u64), "each once");
        busy.into_iter().max().expect("a thread")
    }

    #[test]
    fn threads_end_at_about_the_same_time() {
        for iterations in [20_000, 40_000, 62_000, 160_000, 1_000_000] {
            assert_eq!(span(1, iterations), iterations);
            let speed_up = iterations as f64 / span(2, iterations) as f64;
            assert!(speed_up > 1.85, "{speed_up} at {iterations}");
        }
    }
}
