//! What the listener of a run hears while a largest set is sought for it.

use std::sync::atomic::{AtomicU64, Ordering};

use crate::search::{Event, EventKind};

/// How often a quiet run gives a sign of life.
const PULSE_MS: u64 = 100;

/// The best plan of a run, and what it would be with a set.
#[derive(Debug)]
pub(in crate::search) struct Sign {
    event: Event,
    /// Refused links and their priority with a set of 0, 1, 2, ... carriers; empty where a set does not tell.
    told: Vec<(u64, u64)>,
}

/// When a listener last heard anything.
#[derive(Debug, Default)]
pub(super) struct Pulse {
    last_ms: AtomicU64,
}

impl Pulse {
    /// Whether nothing was said for a while; then it is taken as said now.
    pub(super) fn is_due(&self, now_ms: u64) -> bool {
        let last = self.last_ms.load(Ordering::Relaxed);
        let (success, failure) = (Ordering::Relaxed, Ordering::Relaxed);
        now_ms >= last + PULSE_MS
            && self.last_ms.compare_exchange(last, now_ms, success, failure).is_ok()
    }
}

impl Sign {
    pub(in crate::search) fn new(event: Event, told: Vec<(u64, u64)>) -> Self {
        Self { event, told }
    }

    /// The event with a set of so many carriers, so long after the search for it began.
    pub(in crate::search) fn with(&self, size: usize, seconds: f64) -> Event {
        let event = Event { time_s: self.event.time_s + seconds, ..self.event };
        match self.told.get(size).or(self.told.last()) {
            Some(&(refused, unserved)) if unserved < event.unserved => Event {
                kind: EventKind::Improvement,
                objective: Some(unserved),
                refused,
                unserved,
                hard: 0,
                soft: 0,
                ..event
            },
            _ => event,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_set_is_told_of_only_where_it_serves_more() {
        let plan = Event {
            time_s: 2.0,
            iteration: 0,
            restart: 0,
            kind: EventKind::Progress,
            refused: 2,
            unserved: 3,
            hard: 0,
            soft: 7,
            bound: 0,
            objective: Some(3),
            evaluations: 0,
        };
        let sign = Sign::new(plan, vec![(3, 6), (2, 3), (1, 1), (0, 0)]);
        assert_eq!(sign.with(1, 0.5), Event { time_s: 2.5, ..plan });
        let better = sign.with(2, 0.5);
        assert_eq!((better.kind, better.refused, better.unserved), (EventKind::Improvement, 1, 1));
        assert_eq!(sign.with(9, 0.5).unserved, 0);
        assert_eq!(Sign::new(plan, vec![]).with(3, 0.0), plan);
    }

    #[test]
    fn a_pulse_is_due_now_and_then() {
        let pulse = Pulse::default();
        assert!(pulse.is_due(150) && !pulse.is_due(200) && pulse.is_due(250));
    }
}
