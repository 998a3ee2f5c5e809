//! One restart under watch: its budget, its best plan so far, and the events it reports.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use super::control::{Control, Event, EventKind, Objective};
use crate::problem::Assignment;
use crate::table::{HARD, Table};

/// How often a quiet search gives a sign of life.
const PULSE: Duration = Duration::from_millis(100);

/// A plan's worth; less is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Score {
    first: i64,
    second: i64,
}

impl Score {
    /// Hard violations never pay in max-service, whatever they serve.
    pub(super) fn of(objective: Objective, unserved: u64, cost: i64) -> Self {
        let unserved = unserved as i64;
        match objective {
            Objective::MaxService => Self {
                first: (cost / HARD).saturating_mul(1 << 32).saturating_add(unserved),
                second: cost % HARD,
            },
            Objective::MinInterference => Self { first: cost, second: unserved },
        }
    }
}

/// What all restarts of a run share.
#[derive(Debug)]
pub(super) struct Run<'r> {
    pub(super) control: &'r Control,
    pub(super) objective: Objective,
    pub(super) priorities: &'r [u32],
    pub(super) started: Instant,
    pub(super) deadline: Option<Instant>,
    /// Proved least unserved priority.
    pub(super) bound: u64,
    /// The first restart that met the bound; later ones are idle work.
    pub(super) solved: AtomicU64,
}

/// One restart's budget, best plan and events.
#[derive(Debug)]
pub(super) struct Watch<'r> {
    pub(super) run: &'r Run<'r>,
    pub(super) restart: u64,
    quota: u64,
    pub(super) iterations: u64,
    pulse: Instant,
    pub(super) best: Option<(Score, Assignment)>,
    pub(super) events: Vec<Event>,
    last: Option<Event>,
}

impl<'r> Watch<'r> {
    pub(super) fn new(run: &'r Run<'r>, restart: u64, quota: u64) -> Self {
        Self {
            run,
            restart,
            quota,
            iterations: 0,
            pulse: Instant::now(),
            best: None,
            events: Vec::new(),
            last: None,
        }
    }

    /// Whether the restart may go on without counting an iteration.
    pub(super) fn may_go_on(&mut self) -> bool {
        let now = Instant::now();
        if now.duration_since(self.pulse) > PULSE {
            self.pulse = now;
            if let Some(last) = self.last {
                let event = Event {
                    time_s: self.elapsed_s(),
                    iteration: self.iterations,
                    kind: EventKind::Progress,
                    ..last
                };
                self.run.control.send(event);
            }
        }
        !self.run.control.stopped()
            && self.run.deadline.is_none_or(|deadline| now < deadline)
            && self.run.solved.load(Ordering::Relaxed) >= self.restart
    }

    /// Count one iteration; whether the restart may go on.
    pub(super) fn tick(&mut self) -> bool {
        self.iterations += 1;
        self.iterations <= self.quota && self.may_go_on()
    }

    fn elapsed_s(&self) -> f64 {
        self.run.started.elapsed().as_secs_f64()
    }

    /// Offer the table's plan as the best so far; whether it is better.
    pub(super) fn offer(&mut self, table: &Table) -> bool {
        let links = self.run.priorities.len();
        let refused = (0..links).filter(|&link| table.choice(link).is_none());
        let (count, unserved) = refused
            .fold((0, 0), |(n, sum), link| (n + 1, sum + u64::from(self.run.priorities[link])));
        let score = Score::of(self.run.objective, unserved, table.total());
        if self.best.as_ref().is_some_and(|(best, _)| *best <= score) {
            return false;
        }
        self.best = Some((score, (0..links).map(|link| table.frequency_hz(link)).collect()));
        let event = Event {
            time_s: self.elapsed_s(),
            iteration: self.iterations,
            restart: self.restart,
            kind: EventKind::Improvement,
            refused: count,
            unserved,
            hard: (table.total() / HARD) as u64,
            soft: (table.total() % HARD) as u64,
            bound: self.run.bound,
            evaluations: table.evaluations(),
        };
        self.report(event);
        if self.done(unserved, table.total()) {
            self.run.solved.fetch_min(self.restart, Ordering::Relaxed);
        }
        true
    }

    /// Whether nothing better can exist.
    pub(super) fn done(&self, unserved: u64, cost: i64) -> bool {
        cost == 0 && unserved <= self.run.bound
    }

    /// Report the end of the restart.
    pub(super) fn close(&mut self, table: &Table) {
        if let Some(last) = self.last {
            self.report(Event {
                time_s: self.elapsed_s(),
                iteration: self.iterations,
                kind: EventKind::Stop,
                evaluations: table.evaluations(),
                ..last
            });
        }
    }

    fn report(&mut self, event: Event) {
        self.last = Some(event);
        self.events.push(event);
        self.run.control.send(event);
    }
}
