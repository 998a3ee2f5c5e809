//! A run: restarts on their own random streams, shared out over threads, reduced by a total order.

mod quotas;
mod session;

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use super::construct::{self, Choice};
use super::pairwise::Pairwise;
use super::portfolio::{self, Kind};
use super::sequence::Frame;
use super::stream::Stream;
use super::watch::{Run, Score, Watch, objective_value};
use super::{Budget, Control, Event, Method, Objective, Options, Outcome, Status, StopReason};
use super::{bandwidth, kind, order, soften, span, start};
use crate::bound::Bounding;
use crate::check::{check, within_reach};
use crate::error::{Error, Fault, Result};
use crate::problem::compile::{Class, Compiled};
use crate::problem::{Assignment, Problem};
use crate::table::{HARD, Table};

use quotas::Quotas;
pub use session::Session;

/// Restarts that begin with a sequence, where sequencing applies; later ones take turns.
const SEQUENCING: u64 = 8;

/// How long an interrupted run may go on completing its plan.
const PATIENCE: Duration = Duration::from_millis(50);

/// Search for a plan.
///
/// Equal problem, options and iteration budget give the same plan on any number of threads; a time
/// budget or a stop from outside gives that up. The answer is recounted by [`check`].
///
/// # Errors
/// Every fault of the problem or the options; [`Error::TooLarge`] when the cost table would not fit.
pub fn solve(problem: &Problem, options: &Options, control: &Control) -> Result<Outcome> {
    solve_from(problem, options, None, control)
}

/// Search for a plan, with another one to begin with.
///
/// The answer is never worse than the start. The start may leave links out and break rules: where
/// hard rules must hold, links are first taken off until they do. A locked link stands on its lock.
/// Seven of eight restarts begin with the start, the first among them; the eighth begins afresh.
/// With a cost on every frequency of a link but its present one (see [`Problem::costs`]), max-service
/// keeps as much of the start as the links to be served allow.
///
/// # Errors
/// As for [`solve`]; and a start of the wrong length, or with a frequency that is no candidate.
///
/// ```
/// use sidon::problem::Problem;
/// use sidon::search::{Budget, Control, Options, solve_from};
/// let problem: Problem = serde_json::from_str(r#"{
///     "profiles": [{"name": "hand-held", "separation_hz": 2}],
///     "zones": ["stage"],
///     "domains": [{"frequencies": [0, 1, 2, 3]}],
///     "costs": [[1, 1, 1, 0], [0, 0, 0, 0]],
///     "links": [{"id": "old", "profile": 0, "zone": 0, "domain": 0, "costs": 0},
///               {"id": "new", "profile": 0, "zone": 0, "domain": 0, "costs": 1}]}"#)?;
/// let budget = Budget { iterations: Some(100), seconds: None };
/// let options = Options { budget, ..Options::default() };
/// let start = [Some(3), None];
/// let outcome = solve_from(&problem, &options, Some(&start), &Control::default())?;
/// assert_eq!(outcome.assignment, [Some(3), Some(0)]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn solve_from(
    problem: &Problem,
    options: &Options,
    start: Option<&[Option<i64>]>,
    control: &Control,
) -> Result<Outcome> {
    let started = Instant::now();
    validate(options)?;
    let compiled = Arc::new(Compiled::new(problem)?);
    let start = start.map(|start| start::candidates(&compiled, start)).transpose()?;
    within_reach(problem, &compiled.candidates_hz)?;
    let mut table = Table::over(Arc::clone(&compiled))?;
    let priorities: Vec<u32> = problem.links.iter().map(|link| link.priority).collect();
    let bounding = Bounding::new(&compiled);
    let kinds = match start {
        None => kind::kinds(&table, options, &priorities, control),
        Some(_) => kind::Kinds::default(),
    };
    let bound = least_unserved(&mut table, &priorities).max(bounding.unserved());
    let bound = bound.max(kinds.unserved);
    let frame = if options.objective == Objective::MinSpan && options.method == Method::Portfolio {
        Frame::of(&bounding, &mut Stream::new(options.seed, u64::MAX))
    } else {
        None
    };
    let in_steps = frame.as_ref().map_or(0, Frame::bound_hz);
    let pairwise = Pairwise::of(&compiled, options.objective, options.method);
    let plain = pairwise
        .as_ref()
        .filter(|_| options.method == Method::Portfolio)
        .and_then(|it| it.plain(&compiled, options.objective));
    let run = Run {
        control,
        objective: options.objective,
        priorities: &priorities,
        started,
        deadline: options.budget.seconds.map(|s| started + Duration::from_secs_f64(s)),
        bound,
        least_soft: least_soft(&compiled),
        floor: floor(options.objective, bound, &bounding).max(in_steps),
        frame,
        pairwise,
        plain,
        shared: options.budget.iterations.is_none().then(|| AtomicU64::new(u64::MAX)),
        sequenced: AtomicU64::new(u64::MAX),
        solved: AtomicU64::new(u64::MAX),
    };
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(options.threads.unwrap_or(0))
        .build()
        .map_err(|error| Error::TooLarge {
            what: "the number of threads".into(),
            why: error.to_string(),
            remedy: "ask for fewer threads".into(),
        })?;
    let rest = options.budget.iterations.map(|all| all.saturating_sub(kinds.iterations));
    let budget = Budget { iterations: rest, ..options.budget };
    let rest = Options { budget, ..*options };
    let quotas = Quotas::new(&rest, priorities.len(), Kind::of(&run), pool.current_num_threads());
    let finished: Vec<Finished> = pool
        .broadcast(|_| {
            let mut mine = Vec::new();
            while let Some((restart, quota)) = quotas.next(&run) {
                // One restart in eight looks elsewhere; only one in four begins with what is a guess.
                let start = start.as_deref().filter(|_| restart % 8 != 5);
                let start = start.or(kinds.plan.as_deref().filter(|_| restart % 4 == 0));
                mine.push(restarted(table.clone(), options, start, &run, restart, quota));
            }
            mine
        })
        .into_iter()
        .flatten()
        .collect();
    let mut outcome = outcome(problem, options, Some(table), &run, (finished, kinds.events))?;
    outcome.iterations += kinds.iterations;
    Ok(outcome)
}

/// Proved least value of the objective.
fn floor(objective: Objective, bound: u64, bounding: &Bounding) -> u64 {
    match objective {
        Objective::MaxService => bound,
        Objective::MinInterference => 0,
        Objective::MinSpan => bounding.span_hz(),
        Objective::MinOrder => bounding.order(),
    }
}

pub(super) fn validate(options: &Options) -> Result<()> {
    let mut faults = Vec::new();
    if let Some(s) = options.budget.seconds
        && !(0.0..=1e9).contains(&s)
    {
        faults.push(Fault::new("budget.seconds", format!("{s} seconds"), "give 0 to 1e9 seconds"));
    }
    if options.threads.is_some_and(|n| n == 0 || n > 1024) {
        let what = format!("{} threads", options.threads.unwrap_or(0));
        faults.push(Fault::new("threads", what, "give 1 to 1024, or leave it out"));
    }
    if faults.is_empty() { Ok(()) } else { Err(Error::Invalid(faults)) }
}

/// What one restart brought.
struct Finished {
    restart: u64,
    best: Option<(Score, Assignment)>,
    proved: bool,
    iterations: u64,
    evaluations: u64,
    events: Vec<Event>,
}

fn restarted(
    mut table: Table,
    options: &Options,
    start: Option<&[Option<usize>]>,
    run: &Run,
    restart: u64,
    quota: u64,
) -> Finished {
    let mut watch = Watch::new(run, restart, quota);
    let mut stream = Stream::new(options.seed, restart);
    let objective = run.objective;
    let pairwise = run.pairwise.is_some();
    let method = portfolio::method(
        options.method,
        objective,
        run.priorities.len(),
        restart,
        run.pairwise.as_ref(),
    );
    let improve = portfolio::improver(method, objective, pairwise);
    if let Some(start) = start {
        start::place(&mut table, start, objective, run.priorities);
        watch.offer(&table);
    }
    if let Some(plain) = run.plain.as_ref().filter(|_| method == Method::Portfolio) {
        plain.improve(&mut table, &mut stream, &mut watch);
        return finish(watch, &table);
    }
    // Where every class has one carrier, local search soon does better than a sequence.
    let single = pairwise && run.frame.as_ref().is_some_and(|it| it.sizes.iter().all(|&n| n == 1));
    let turn =
        if single { restart == 1 } else { restart < SEQUENCING || restart.is_multiple_of(2) };
    let sequenced = start.is_none() && turn && !(restart > 0 && run.outdoes_sequences());
    let frame = run.frame.as_ref().filter(|_| sequenced);
    let close = frame.is_some_and(|it| span::sequence(&mut table, it, &mut stream, &mut watch));
    let begun = (0..run.priorities.len()).any(|link| table.choice(link).is_some());
    if !begun || start.is_some() {
        // The first restarts begin with the classical heuristics as they are.
        let (first, mut choice) = match (method, restart) {
            (Method::FirstFit | Method::Dsatur | Method::Rlf, _) => (method, Choice::Lowest),
            (_, 0) => (Method::Dsatur, Choice::Lowest),
            (_, 1) => (Method::FirstFit, Choice::Lowest),
            (Method::LocalSearch, _) => (Method::Dsatur, Choice::Random(&mut stream)),
            (_, 2) => (Method::Rlf, Choice::Lowest),
            _ => (Method::Dsatur, Choice::Random(&mut stream)),
        };
        construct::construct(&mut table, first, &mut watch, &mut choice);
    }
    match (improve, objective, method) {
        (None, ..) => {}
        (Some(improve), _, Method::BranchAndBound)
        | (Some(improve), Objective::MinInterference, _) => {
            improve(&mut table, &mut stream, &mut watch);
        }
        (Some(improve), Objective::MaxService, _) => {
            soften::improve(&mut table, improve, &mut stream, &mut watch);
        }
        (Some(improve), Objective::MinSpan, _) => {
            let brief = close && restart < SEQUENCING;
            let fits = run.frame.as_ref().is_some_and(|it| {
                bandwidth::descend(&mut table, it, brief, &mut stream, &mut watch)
            });
            if !fits {
                span::descend(&mut table, improve, &mut stream, &mut watch);
            }
        }
        (Some(improve), Objective::MinOrder, _) => {
            order::descend(&mut table, improve, &mut stream, &mut watch);
        }
    }
    finish(watch, &table)
}

fn finish(mut watch: Watch, table: &Table) -> Finished {
    watch.close(table);
    Finished {
        restart: watch.restart,
        best: watch.best,
        proved: watch.proved,
        iterations: watch.iterations,
        evaluations: table.evaluations(),
        events: watch.events,
    }
}

/// Priority that no plan can serve: links without a candidate that is clean beside the locked links.
fn least_unserved(table: &mut Table, priorities: &[u32]) -> u64 {
    construct::place_locked(table, Objective::MaxService);
    let bound = construct::open_links(table)
        .into_iter()
        .filter(|&link| table.row(link).iter().all(|&cost| cost >= HARD))
        .map(|link| u64::from(priorities[link]))
        .sum();
    for link in 0..priorities.len() {
        table.lift(link);
    }
    bound
}

/// Soft cost that no plan avoids that serves every link: each on its cheapest frequency.
fn least_soft(problem: &Compiled) -> u64 {
    let cheapest = |class: &Class| {
        let costs = class.costs.map(|costs| &problem.source.costs[costs]);
        let least = costs.and_then(|costs| costs.iter().min()).map_or(0, |&cost| u64::from(cost));
        let members = class.members.iter();
        let at = members.map(|&link| match (problem.locks[link], costs) {
            (Some(at), Some(costs)) => u64::from(costs[at]),
            _ => least,
        });
        at.sum::<u64>()
    };
    problem.classes.iter().map(cheapest).sum()
}

/// A plan with whatever still fits put in: a search cut short leaves links out that have a place.
///
/// Whoever asked for the best so far does not wait long for it.
fn completed(mut table: Table, run: &Run, plan: &Assignment) -> Assignment {
    let begun = Instant::now();
    let patient = || !run.control.stopped() || begun.elapsed() < PATIENCE;
    for (link, &hz) in plan.iter().enumerate() {
        let at = hz.and_then(|hz| table.candidates_hz(link).binary_search(&hz).ok());
        if let Some(at) = at {
            if !patient() {
                return plan.clone();
            }
            table.place(link, at);
        }
    }
    construct::fill(&mut table, run.objective, run.priorities, patient);
    (0..plan.len()).map(|link| table.frequency_hz(link)).collect()
}

/// The best of what was found, recounted; with a table, completed before.
fn outcome(
    problem: &Problem,
    options: &Options,
    table: Option<Table>,
    run: &Run,
    (mut finished, events): (Vec<Finished>, Vec<Event>),
) -> Result<Outcome> {
    finished.sort_by_key(|one| one.restart);
    // What a restart after the one that met the bound had found by then is a matter of threads.
    let solved = match options.budget.seconds {
        None => run.solved.load(Ordering::Relaxed),
        Some(_) => u64::MAX,
    };
    let best = finished
        .iter()
        .filter(|one| one.restart <= solved)
        .filter_map(|one| one.best.as_ref().map(|(score, plan)| (*score, one.restart, plan)))
        .min_by_key(|&(score, restart, _)| (score, restart));
    let mut assignment =
        best.map_or_else(|| vec![None; problem.links.len()], |(.., plan)| plan.clone());
    if let Some(table) = table.filter(|_| assignment.contains(&None)) {
        assignment = completed(table, run, &assignment);
    }
    let report = check(problem, &assignment)?;
    let iterations = finished.iter().map(|one| one.iterations).sum();
    let own = finished.iter().flat_map(|one| one.events.iter().copied());
    let mut trace: Vec<Event> = events.into_iter().chain(own).collect();
    trace.sort_by(|a, b| a.time_s.total_cmp(&b.time_s).then(a.restart.cmp(&b.restart)));
    let cost = report.hard as i64 * HARD + report.soft as i64;
    let objective = objective_value(run.objective, report.unserved, cost, &assignment);
    let exhausted = finished.iter().any(|one| one.proved);
    let lower_bound = if exhausted { objective.unwrap_or(run.floor) } else { run.floor };
    let met = objective.is_some_and(|value| value <= lower_bound);
    let proven = exhausted
        || match run.objective {
            Objective::MaxService => {
                report.hard == 0 && met && run.cheap(report.unserved, report.soft)
            }
            Objective::MinInterference => met && report.unserved == 0,
            Objective::MinSpan | Objective::MinOrder => met,
        };
    let stop_reason = if proven {
        StopReason::Proven
    } else if run.control.stopped() {
        StopReason::Interrupted
    } else if run.deadline.is_some_and(|deadline| Instant::now() >= deadline) {
        StopReason::TimeLimit
    } else if options.budget.iterations.is_some_and(|all| {
        // A method that ends by itself may have ended before.
        !portfolio::single(options.method) || iterations >= all
    }) {
        StopReason::IterationLimit
    } else {
        StopReason::Finished
    };
    Ok(Outcome {
        status: match (proven, report.hard) {
            (_, 1..) => Status::Infeasible,
            (true, 0) => Status::Optimal,
            (false, 0) => Status::Feasible,
        },
        stop_reason,
        refused: report.refused,
        unserved: report.unserved,
        bound: if exhausted && run.objective == Objective::MaxService {
            report.unserved
        } else {
            run.bound
        },
        objective,
        lower_bound,
        hard: report.hard,
        soft: report.soft,
        seed: options.seed,
        restarts: finished.len() as u64,
        iterations,
        evaluations: finished.iter().map(|one| one.evaluations).sum(),
        elapsed_s: run.started.elapsed().as_secs_f64(),
        trace,
        assignment,
    })
}
