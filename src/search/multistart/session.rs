//! A run whose moves the caller makes: budget, best plan, trace and check are those of the built-in methods.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use super::{Finished, construct, floor, least_soft, least_unserved, outcome, validate};
use crate::bound::Bounding;
use crate::check::within_reach;
use crate::error::{Error, Fault, Result};
use crate::problem::compile::Compiled;
use crate::problem::{Assignment, Problem};
use crate::search::start;
use crate::search::watch::{Run, Score, Watch};
use crate::search::{Control, Event, EventKind, Objective, Options, Outcome, StopReason};
use crate::table::Table;

/// How often a quiet run gives a sign of life.
const PULSE: Duration = Duration::from_millis(100);

/// A run that is driven from outside, one restart long, in the thread of its caller.
///
/// ```
/// use sidon::problem::Problem;
/// use sidon::search::{Budget, Control, Options, Session, Status};
/// use sidon::table::HARD;
/// let problem: Problem = serde_json::from_str(r#"{
///     "profiles": [{"name": "hand-held", "separation_hz": 2}],
///     "zones": ["stage"],
///     "domains": [{"frequencies": [0, 1, 2, 3]}],
///     "links": [{"id": "a", "profile": 0, "zone": 0, "domain": 0},
///               {"id": "b", "profile": 0, "zone": 0, "domain": 0}]}"#)?;
/// let budget = Budget { iterations: Some(100), seconds: None };
/// let options = Options { budget, ..Options::default() };
/// let (mut session, mut table) = Session::open(&problem, &options, Control::default())?;
/// for link in 0..2 {
///     if !session.tick() {
///         break;
///     }
///     if let Some(at) = table.row(link).iter().position(|&cost| cost < HARD) {
///         table.place(link, at);
///     }
/// }
/// session.offer(&table)?;
/// assert_eq!(session.finish(&table)?.status, Status::Optimal);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Session {
    compiled: Arc<Compiled>,
    options: Options,
    setting: Setting,
    best: Option<(Score, Assignment)>,
    events: Vec<Event>,
    iterations: u64,
    pulse: Instant,
    /// The best plan meets the bound.
    solved: bool,
    /// A tick was refused for want of iterations.
    spent: bool,
}

/// What holds for the whole run.
#[derive(Debug)]
struct Setting {
    control: Control,
    objective: Objective,
    priorities: Vec<u32>,
    started: Instant,
    deadline: Option<Instant>,
    bound: u64,
    least_soft: u64,
    floor: u64,
}

impl Setting {
    fn run(&self) -> Run<'_> {
        Run {
            control: &self.control,
            objective: self.objective,
            priorities: &self.priorities,
            started: self.started,
            deadline: self.deadline,
            bound: self.bound,
            least_soft: self.least_soft,
            floor: self.floor,
            frame: None,
            pairwise: None,
            plain: None,
            shared: None,
            sequenced: AtomicU64::new(u64::MAX),
            solved: AtomicU64::new(u64::MAX),
        }
    }

    fn out_of_time(&self) -> bool {
        self.deadline.is_some_and(|deadline| Instant::now() >= deadline)
    }
}

impl Session {
    /// Begin a run: the session, and a table on which the locked links stand as every built-in method
    /// has them. The clock starts here. `options.method` and `options.threads` are not read.
    ///
    /// # Errors
    /// As for [`solve`](crate::search::solve).
    pub fn open(problem: &Problem, options: &Options, control: Control) -> Result<(Self, Table)> {
        Self::open_from(problem, options, None, control)
    }

    /// The same, with a plan to begin with on the table, as [`solve_from`](crate::search::solve_from)
    /// has it.
    ///
    /// # Errors
    /// As for [`solve_from`](crate::search::solve_from).
    pub fn open_from(
        problem: &Problem,
        options: &Options,
        start: Option<&[Option<i64>]>,
        control: Control,
    ) -> Result<(Self, Table)> {
        let started = Instant::now();
        validate(options)?;
        let compiled = Arc::new(Compiled::new(problem)?);
        let start = start.map(|start| start::candidates(&compiled, start)).transpose()?;
        within_reach(problem, &compiled.candidates_hz)?;
        let mut table = Table::over(Arc::clone(&compiled))?;
        let priorities: Vec<u32> = problem.links.iter().map(|link| link.priority).collect();
        let bounding = Bounding::new(&compiled);
        let bound = least_unserved(&mut table, &priorities).max(bounding.unserved());
        // A fresh one: the moves that found the bound are no moves of the run.
        let mut table = Table::over(Arc::clone(&compiled))?;
        match start {
            Some(start) => start::place(&mut table, &start, options.objective, &priorities),
            None => construct::place_locked(&mut table, options.objective),
        }
        let setting = Setting {
            control,
            objective: options.objective,
            priorities,
            started,
            deadline: options.budget.seconds.map(|s| started + Duration::from_secs_f64(s)),
            bound,
            least_soft: least_soft(&compiled),
            floor: floor(options.objective, bound, &bounding),
        };
        let mut session = Self {
            compiled,
            options: *options,
            setting,
            best: None,
            events: Vec::new(),
            iterations: 0,
            pulse: started,
            solved: false,
            spent: false,
        };
        // From the first moment on there is a plan to return and to report.
        session.offer(&table)?;
        Ok((session, table))
    }

    /// Count one iteration; whether the run may go on. Once it may not, it never may again.
    pub fn tick(&mut self) -> bool {
        let limit = self.options.budget.iterations.unwrap_or(u64::MAX);
        self.spent |= self.iterations >= limit;
        if self.spent || self.solved || self.setting.control.stopped() {
            return false;
        }
        let now = Instant::now();
        if self.setting.deadline.is_some_and(|deadline| now >= deadline) {
            return false;
        }
        self.iterations += 1;
        if now.duration_since(self.pulse) > PULSE {
            self.pulse = now;
            if let Some(&last) = self.events.last() {
                self.setting.control.send(Event {
                    time_s: self.elapsed_s(),
                    iteration: self.iterations,
                    kind: EventKind::Progress,
                    ..last
                });
            }
        }
        true
    }

    /// Offer the table's plan as the best so far; whether it is better. O(links).
    ///
    /// # Errors
    /// The table is not of this problem.
    pub fn offer(&mut self, table: &Table) -> Result<bool> {
        let other = table.problem();
        if !Arc::ptr_eq(other, &self.compiled) && other.source != self.compiled.source {
            return Err(Error::Invalid(vec![Fault::new(
                "state",
                "it is of another problem",
                "offer a state of the problem that is being solved",
            )]));
        }
        let run = self.setting.run();
        let mut watch = Watch::new(&run, 0, u64::MAX);
        watch.iterations = self.iterations;
        watch.best = self.best.take();
        watch.events = std::mem::take(&mut self.events);
        let better = watch.offer(table);
        self.best = watch.best;
        self.events = watch.events;
        self.solved |= run.solved.load(Ordering::Relaxed) == 0;
        Ok(better)
    }

    /// Ask for the best so far: every further tick says no. Safe to repeat.
    pub fn stop(&self) {
        self.setting.control.stop();
    }

    /// Iterations counted so far.
    pub fn iterations(&self) -> u64 {
        self.iterations
    }

    /// Seconds since the run began.
    pub fn elapsed_s(&self) -> f64 {
        self.setting.started.elapsed().as_secs_f64()
    }

    /// Proved least value of the unserved priority.
    pub fn bound(&self) -> u64 {
        self.setting.bound
    }

    /// The best plan offered so far, and the event that reported it.
    pub fn best(&self) -> Option<(&Assignment, &Event)> {
        self.best.as_ref().map(|(_, plan)| plan).zip(self.events.last())
    }

    /// End the run. What stands on `table` is offered too; the best plan is recounted by the check.
    ///
    /// # Errors
    /// The table is not of this problem, or the check would take too long.
    pub fn finish(mut self, table: &Table) -> Result<Outcome> {
        self.offer(table)?;
        if let Some(&last) = self.events.last() {
            let end = Event {
                time_s: self.elapsed_s(),
                iteration: self.iterations,
                kind: EventKind::Stop,
                evaluations: table.evaluations(),
                ..last
            };
            self.events.push(end);
            self.setting.control.send(end);
        }
        // Taken before the check, whose time is not the method's.
        let late = self.setting.out_of_time();
        let finished = Finished {
            restart: 0,
            best: self.best.take(),
            proved: false,
            iterations: self.iterations,
            evaluations: table.evaluations(),
            events: std::mem::take(&mut self.events),
        };
        let run = self.setting.run();
        // Not completed: the plan is to be the method's own.
        let found = vec![finished];
        let mut outcome =
            outcome(&self.compiled.source, &self.options, None, &run, (found, vec![]))?;
        if outcome.stop_reason != StopReason::Proven {
            outcome.stop_reason = if self.setting.control.stopped() {
                StopReason::Interrupted
            } else if self.spent {
                StopReason::IterationLimit
            } else if late {
                StopReason::TimeLimit
            } else {
                StopReason::Finished
            };
        }
        Ok(outcome)
    }
}
