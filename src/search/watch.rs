//! One restart under watch: its budget, its best plan so far, and the events it reports.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use super::colouring::Plain;
use super::control::{Control, Event, EventKind, Objective};
use super::pairwise::Pairwise;
use super::sequence::Frame;
use crate::problem::Assignment;
use crate::table::{HARD, Table};

/// How often a quiet search gives a sign of life.
const PULSE: Duration = Duration::from_millis(100);

/// Sequences end when the best of them is behind by this part of its span.
const BEHIND: u64 = 32;

/// A plan's worth; less is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Score {
    first: i64,
    second: i64,
    third: i64,
}

impl Score {
    /// Hard violations never pay, whatever they serve; but for min-interference, which must serve all.
    pub(super) fn of(objective: Objective, unserved: u64, cost: i64, value: u64) -> Self {
        let unserved = unserved as i64;
        let broken = (cost / HARD).saturating_mul(1 << 32).saturating_add(unserved);
        match objective {
            Objective::MaxService => Self { first: broken, second: cost % HARD, third: 0 },
            Objective::MinInterference => Self { first: unserved, second: cost, third: 0 },
            Objective::MinSpan | Objective::MinOrder => {
                Self { first: broken, second: value as i64, third: cost % HARD }
            }
        }
    }
}

/// The span or the order of a plan, where that is the objective.
pub(super) fn value(objective: Objective, plan: &[Option<i64>]) -> u64 {
    let placed = plan.iter().flatten();
    match objective {
        Objective::MinSpan => {
            let low = placed.clone().min().copied().unwrap_or(0);
            placed.max().map_or(0, |high| (high - low) as u64)
        }
        Objective::MinOrder => placed.collect::<std::collections::BTreeSet<_>>().len() as u64,
        Objective::MaxService | Objective::MinInterference => 0,
    }
}

/// The value of a plan under any objective; `None` where a clean and full plan is asked for and missing.
pub(super) fn objective_value(
    objective: Objective,
    unserved: u64,
    cost: i64,
    plan: &[Option<i64>],
) -> Option<u64> {
    match objective {
        Objective::MaxService => Some(unserved),
        Objective::MinInterference => (unserved == 0).then_some(cost as u64),
        Objective::MinSpan | Objective::MinOrder => {
            (unserved == 0 && cost < HARD).then(|| value(objective, plan))
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
    /// Proved least soft cost of a clean plan that serves every link.
    pub(super) least_soft: u64,
    /// Proved least value of the objective.
    pub(super) floor: u64,
    /// Classes on one raster, where min-span can be had by sequencing.
    pub(super) frame: Option<Frame>,
    /// The problem as a network, where it is nothing but rules between two links.
    pub(super) pairwise: Option<Pairwise>,
    /// The problem as a graph to be coloured, where it is nothing else.
    pub(super) plain: Option<Plain>,
    /// Best span or order of any restart; under a time budget only, for it depends on the threads' timing.
    pub(super) shared: Option<AtomicU64>,
    /// Best span of a sequence, under a time budget only.
    pub(super) sequenced: AtomicU64,
    /// The first restart that met the bound; later ones are idle work.
    pub(super) solved: AtomicU64,
}

impl Run<'_> {
    /// Whether sequences are left far behind by what else was found; never under an iteration budget.
    pub(super) fn outdoes_sequences(&self) -> bool {
        let sequenced = self.sequenced.load(Ordering::Relaxed);
        let found = self.shared.as_ref().map(|best| best.load(Ordering::Relaxed));
        // None has ended yet where it is at its greatest.
        sequenced < u64::MAX && found.is_some_and(|found| found < sequenced - sequenced / BEHIND)
    }

    /// Whether no clean plan that serves as much has less soft cost.
    pub(super) fn cheap(&self, unserved: u64, soft: u64) -> bool {
        soft == 0 || unserved == 0 && soft <= self.least_soft
    }
}

/// What a search inside a restart is after.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Goal {
    /// The best plan for the objective.
    Best,
    /// Any plan that serves every link and breaks no hard rule.
    Clean,
}

/// One restart's budget, best plan and events.
#[derive(Debug)]
pub(super) struct Watch<'r> {
    pub(super) run: &'r Run<'r>,
    pub(super) restart: u64,
    quota: u64,
    /// A limit below the quota, for one of several searches of a restart.
    pub(super) limit: u64,
    pub(super) goal: Goal,
    /// The restart proved that nothing is better than its best plan.
    pub(super) proved: bool,
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
            limit: u64::MAX,
            goal: Goal::Best,
            proved: false,
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

    /// Begin one more iteration, if the restart may go on.
    pub(super) fn tick(&mut self) -> bool {
        let on = self.may_search();
        self.iterations += u64::from(on);
        on
    }

    /// Whether the present search has iterations and time left.
    pub(super) fn may_search(&mut self) -> bool {
        self.iterations < self.quota.min(self.limit) && self.may_go_on()
    }

    /// Begin up to `most` more iterations at once; how many, 0 when the search must end.
    pub(super) fn ticks(&mut self, most: u64) -> u64 {
        let granted = if self.may_search() { self.left().min(most) } else { 0 };
        self.iterations += granted;
        granted
    }

    /// Whether the restart has iterations and time left, its present search aside.
    pub(super) fn has_budget(&mut self) -> bool {
        self.iterations < self.quota && self.may_go_on()
    }

    /// Iterations left to the present search.
    pub(super) fn left(&self) -> u64 {
        self.quota.min(self.limit).saturating_sub(self.iterations)
    }

    /// The least span or order known: of this restart, or under a time budget of any.
    pub(super) fn known(&self) -> Option<u64> {
        let own = self
            .best
            .as_ref()
            .and_then(|(score, plan)| (score.first == 0).then(|| value(self.run.objective, plan)));
        let shared = self.run.shared.as_ref().map(|best| best.load(Ordering::Relaxed));
        own.into_iter().chain(shared.filter(|&best| best < u64::MAX)).min()
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
        self.offer_plan(
            (0..links).map(|link| table.frequency_hz(link)).collect(),
            (count, unserved),
            table.total(),
            table.evaluations(),
        )
    }

    /// Offer a full plan that breaks nothing and costs nothing, after so many moves; whether it is better.
    pub(super) fn offer_clean(&mut self, plan: Assignment, evaluations: u64) -> bool {
        self.offer_plan(plan, (0, 0), 0, evaluations)
    }

    /// Offer a plan with its refused links (count and priority), its cost, and the moves made so far.
    fn offer_plan(
        &mut self,
        plan: Assignment,
        (refused, unserved): (u64, u64),
        cost: i64,
        evaluations: u64,
    ) -> bool {
        let objective = self.run.objective;
        let value = value(objective, &plan);
        let score = Score::of(objective, unserved, cost, value);
        if self.best.as_ref().is_some_and(|(best, _)| *best <= score) {
            return false;
        }
        let event = Event {
            time_s: self.elapsed_s(),
            iteration: self.iterations,
            restart: self.restart,
            kind: EventKind::Improvement,
            refused,
            unserved,
            hard: (cost / HARD) as u64,
            soft: (cost % HARD) as u64,
            bound: self.run.bound,
            objective: objective_value(objective, unserved, cost, &plan),
            evaluations,
        };
        self.best = Some((score, plan));
        self.report(event);
        if let (Some(shared), Some(value)) = (&self.run.shared, event.objective) {
            shared.fetch_min(value, Ordering::Relaxed);
        }
        if self.done(unserved, cost, value) {
            self.run.solved.fetch_min(self.restart, Ordering::Relaxed);
        }
        true
    }

    /// Whether nothing better can exist.
    pub(super) fn done(&self, unserved: u64, cost: i64, value: u64) -> bool {
        match self.run.objective {
            Objective::MaxService => {
                unserved <= self.run.bound && self.run.cheap(unserved, cost as u64)
            }
            Objective::MinInterference => unserved == 0 && cost as u64 <= self.run.floor,
            Objective::MinSpan | Objective::MinOrder => {
                unserved == 0 && cost < HARD && value <= self.run.floor
            }
        }
    }

    /// The restart proved its best plan optimal: later restarts are idle work.
    pub(super) fn prove(&mut self) {
        self.proved = true;
        self.run.solved.fetch_min(self.restart, Ordering::Relaxed);
    }

    /// Whether the present search has what it is after.
    pub(super) fn met(&self, unserved: u64, cost: i64) -> bool {
        match (self.goal, self.run.objective) {
            (Goal::Clean, _) => unserved == 0 && cost < HARD,
            (Goal::Best, Objective::MaxService) => {
                unserved <= self.run.bound && self.run.cheap(unserved, cost as u64)
            }
            (Goal::Best, _) => unserved == 0 && cost as u64 <= self.run.floor,
        }
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
