//! The largest compatible set: how many carriers of one kind fit among given candidates.
//!
//! A portfolio that picks by itself: algebraic sets fitted to the raster, beam search, large neighbourhood search on
//! clean sets as bitsets, and a proof by branch and bound where the band is narrow enough.

mod algebraic;
mod beam;
mod bound;
mod complete;
mod correlate;
mod field;
mod fit;
mod general;
mod lattice;
mod marks;
mod neighbourhood;
mod portfolio;
mod purse;
mod raster;
mod ruler;
mod sign;
mod two_tone;

use serde::{Deserialize, Serialize};

pub(super) use self::sign::Sign;
use super::{Control, Options, Status, StopReason};
use crate::error::{Error, Fault, Result};
use crate::problem::{Domain, Guard, Link, Problem, Profile, Weight};
use crate::product::Form;

/// Iterations from which on a start is worth a proof.
const PROVING: u64 = 4_000;

/// What is asked: one kind of carrier, one place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetQuestion {
    /// Frequencies to choose from, in any order.
    pub candidates_hz: Vec<i64>,
    /// Least distance between two carriers.
    pub separation_hz: i64,
    /// Guards by form; a guard of 0 waives its form.
    pub guards: Vec<(Form, i64)>,
}

/// How an upper bound was proved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Proof {
    /// There are no more candidates.
    Candidates,
    /// The separation lets no more stand side by side.
    Separation,
    /// Distinct differences need more room (Erdos and Turan 1941; Lindstrom 1969).
    DifferenceCounting,
    /// Every larger set was ruled out by branch and bound.
    Exhaustion,
}

/// One improvement of the best set or of the bound.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SetEvent {
    /// Seconds since the run began.
    pub time_s: f64,
    /// Restart that found it.
    pub restart: u64,
    /// Iterations of that restart.
    pub iteration: u64,
    /// Carriers in the best set.
    pub size: usize,
    /// Upper bound.
    pub upper_bound: usize,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetAnswer {
    /// The set, ascending; recounted by [`crate::check`].
    pub frequencies_hz: Vec<i64>,
    /// No set is larger.
    pub upper_bound: usize,
    /// Why not.
    pub proof: Proof,
    /// `Optimal` only when the set meets the bound.
    pub status: Status,
    /// Why the run ended.
    pub stop_reason: StopReason,
    /// Seed the run was given.
    pub seed: u64,
    /// Restarts begun.
    pub restarts: u64,
    /// Iterations over all restarts.
    pub iterations: u64,
    /// Wall-clock seconds.
    pub elapsed_s: f64,
    /// Improvements in the order of time.
    pub trace: Vec<SetEvent>,
}

impl SetQuestion {
    /// The same question as a problem with `count` links.
    pub fn problem(&self, count: usize) -> Problem {
        Problem {
            profiles: vec![Profile {
                name: "carrier".into(),
                separation_hz: self.separation_hz,
                guards: self
                    .guards
                    .iter()
                    .map(|(form, guard_hz)| Guard {
                        form: form.clone(),
                        guard_hz: *guard_hz,
                        weight: Weight::Hard,
                    })
                    .collect(),
                mixes: true,
            }],
            separations: vec![],
            zones: vec!["place".into()],
            couplings: vec![],
            domains: vec![Domain::Frequencies(self.candidates_hz.clone())],
            costs: vec![],
            links: (0..count)
                .map(|i| Link {
                    id: format!("carrier {}", i + 1),
                    profile: 0,
                    zone: 0,
                    windows: vec![],
                    domain: 0,
                    costs: None,
                    priority: 1,
                    locked_hz: None,
                })
                .collect(),
            pairs: vec![],
        }
    }
}

/// Find as many candidates as possible that are compatible with each other.
///
/// The objective and method of `options` are not used. Equal question, seed and iteration budget give the
/// same set on any number of threads; a time budget gives that up.
///
/// ```
/// use sidon::search::{Budget, Control, Options, Status};
/// use sidon::search::{SetQuestion, largest_set};
/// let question = SetQuestion {
///     candidates_hz: (0..=55).collect(),
///     separation_hz: 1,
///     guards: vec![("2A-B".parse()?, 1), ("A+B-C".parse()?, 1)],
/// };
/// let budget = Budget { iterations: Some(2_000), seconds: None };
/// let answer = largest_set(&question, &Options { budget, ..Options::default() }, &Control::default())?;
/// // A ruler of ten marks and length 55 (OEIS A003022), and proof that eleven do not fit.
/// assert_eq!((answer.frequencies_hz.len(), answer.status), (10, Status::Optimal));
/// # Ok::<(), sidon::Error>(())
/// ```
///
/// # Errors
/// Every fault of the question or the options; [`Error::TooLarge`] when the candidates' common raster is
/// too fine to hold.
pub fn largest_set(
    question: &SetQuestion,
    options: &Options,
    control: &Control,
) -> Result<SetAnswer> {
    question.problem(1).validate()?;
    super::multistart::validate(options)?;
    if question.candidates_hz.is_empty() {
        return Err(Error::Invalid(vec![Fault::new(
            "candidates_hz",
            "no candidate frequency",
            "give at least one",
        )]));
    }
    portfolio::run(question, options, control)
}

/// What a search for a plan begins with.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Start {
    /// A set, ascending.
    pub(super) frequencies_hz: Vec<i64>,
    /// No set is larger; `enough` if more would fit.
    pub(super) upper_bound: usize,
    pub(super) iterations: u64,
    pub(super) trace: Vec<SetEvent>,
}

/// A set of up to `enough` carriers, for a run that goes on from there; meanwhile `sign` tells of it. One that
/// cannot reach `least` is not sought.
///
/// Proofs take no heed of small budgets of iterations; they are left out there.
pub(super) fn start(
    question: &SetQuestion,
    [least, enough]: [usize; 2],
    options: &Options,
    control: &Control,
    sign: &Sign,
) -> Result<Start> {
    let field = raster::Field::new(question)?;
    let state = raster::State::new(options, control).part_of(sign);
    state.bound(enough, Proof::Candidates);
    portfolio::bounds(&field, &state);
    if state.upper() < least {
        let (upper_bound, trace) = (state.upper(), vec![]);
        return Ok(Start { frequencies_hz: vec![], upper_bound, iterations: 0, trace });
    }
    if raster::Field::beyond(question) {
        let frequencies_hz = general::algebraic(question, &field, &state);
        let (upper_bound, trace) = (state.upper(), state.trace());
        return Ok(Start { frequencies_hz, upper_bound, iterations: 0, trace });
    }
    let proving = options.budget.iterations.is_none_or(|all| all >= PROVING);
    let sought = portfolio::seek(&field, options, &state, proving)?;
    Ok(Start {
        frequencies_hz: field.hertz(&sought.set),
        upper_bound: state.upper(),
        iterations: sought.iterations,
        trace: state.trace(),
    })
}
