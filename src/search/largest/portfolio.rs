//! The portfolio behind [`super::largest_set`]: start, improve, prove, improve.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use super::complete::{Complete, Completion};
use super::fit::{Fits, Ground, SLICE};
use super::lattice::beams;
use super::marks::Marks;
use super::neighbourhood::Neighbourhood;
use super::purse::Purse;
use super::raster::{Field, State};
use super::ruler::{MAX_LENGTH, Rulers, Spacing};
use super::{Proof, SetAnswer, SetQuestion, bound, general};
use crate::bound::by_occupation;
use crate::error::{Error, Result};
use crate::search::stream::Stream;
use crate::search::{Control, Options};

/// Iterations of one restart.
const QUOTA: u64 = 2_000;
/// Iterations of the first restart, which only gives a proof something to stand on.
const FIRST: u64 = 200;
/// Algebraic starts kept.
const STARTS: usize = 64;
/// Up to so many carriers a proof is sought whatever the budget: it takes less than a second.
const SMALL: usize = 11;
/// The most nodes of a proof on the free positions where only iterations are limited.
const PROOF_NODES: u64 = 10_000_000;
/// Up to so many carriers a proof is in reach of seconds.
const REACH: usize = 14;
/// The most of a time budget that goes into a proof, where one is in reach.
const PROOF_SHARE: f64 = 0.8;
/// The most that goes into trying one for larger sets.
const TRY_SHARE: f64 = 0.05;

/// The share of a budget that goes into algebraic fits before anything else is tried, and after the beams.
const FIT_SHARE: f64 = 0.15;
const REST_SHARE: f64 = 0.5;

/// One restart in so many begins with a random set: where starts are clearly ahead, and where they are not.
const AHEAD: u64 = 8;
const LEVEL: u64 = 2;

/// One restart's result.
struct Finished {
    restart: u64,
    iterations: u64,
    set: Vec<usize>,
}

/// What a run came to.
pub(super) struct Sought {
    /// Ascending positions.
    pub(super) set: Vec<usize>,
    pub(super) restarts: u64,
    pub(super) iterations: u64,
}

/// Run the portfolio and have its answer recounted.
pub(super) fn run(
    question: &SetQuestion,
    options: &Options,
    control: &Control,
) -> Result<SetAnswer> {
    let field = Field::new(question)?;
    let state = State::new(options, control);
    if Field::beyond(question) {
        bounds(&field, &state);
        return pool(options)?.install(|| general::run(question, options, control, &field, &state));
    }
    let sought = seek(&field, options, &state, true)?;
    let spent = (sought.restarts, sought.iterations);
    state.answer(question, options, field.hertz(&sought.set), spent)
}

/// Bounds that need no search.
pub(super) fn bounds(field: &Field, state: &State) {
    state.bound(field.free.iter().filter(|&&free| free).count(), Proof::Candidates);
    state.bound(bound::by_separation(field.rules, &field.free), Proof::Separation);
    let span = field.rules.length - 1;
    state.bound(bound::by_differences(field.rules, span), Proof::DifferenceCounting);
    if let Some(guard) = bound::common_guard(field.rules) {
        let free: Vec<usize> = (0..field.free.len()).filter(|&at| field.free[at]).collect();
        let most = by_occupation(field.rules.separation, guard, &free);
        state.bound(most, Proof::DifferenceCounting);
    }
}

fn pool(options: &Options) -> Result<rayon::ThreadPool> {
    rayon::ThreadPoolBuilder::new().num_threads(options.threads.unwrap_or(0)).build().map_err(
        |error| Error::TooLarge {
            what: "the number of threads".into(),
            why: error.to_string(),
            remedy: "ask for fewer threads".into(),
        },
    )
}

/// Search within the budget, with or without a proof.
pub(super) fn seek(
    field: &Field,
    options: &Options,
    state: &State,
    proving: bool,
) -> Result<Sought> {
    bounds(field, state);
    let pool = pool(options)?;
    // A first restart on its own gives the proof something to stand on, and is there when time is short.
    let quota = FIRST.min(options.budget.iterations.unwrap_or(FIRST));
    let first = restart(field, state, None, 0, quota);
    let mut finished = vec![first];
    let shares = [PROOF_SHARE, TRY_SHARE].map(|share| {
        options.budget.seconds.map(|s| state.started + Duration::from_secs_f64(s * share))
    });
    if proving {
        pool.install(|| prove(field, state, shares));
    }
    let ground = Ground {
        free: &field.free,
        separation: field.rules.separation,
        scale: field.scale(),
        fold: 2,
        two_tone: [0, field.rules.two_tone[1], field.rules.two_tone[2], field.rules.two_tone[3]],
    };
    let mut left = options.budget.iterations.map(|all| all.saturating_sub(FIRST));
    let mut spend = |iterations: u64| {
        left = left.map(|left| left.saturating_sub(iterations));
        finished.push(Finished { restart: 0, iterations, set: vec![] });
        left
    };
    let mut starts = Vec::new();
    let mut left = spend(0);
    let mut fits = state.open(0).then(|| Fits::new(&ground));
    let mut algebra = |left, share, starts: &mut _| {
        fits.as_mut().map_or(0, |fits| pool.install(|| algebra(fits, state, left, share, starts)))
    };
    left = spend(algebra(left, FIT_SHARE, &mut starts));
    let grown = pool.install(|| beams(field, state, left));
    left = spend(grown.iterations);
    // Where algebra is not far behind the rest of it is worth more than the rest of anything else.
    if starts.first().is_some_and(|set: &Vec<usize>| set.len() + 1 >= state.best()) {
        left = spend(algebra(left, REST_SHARE, &mut starts));
    }
    starts.extend(grown.sets);
    starts.sort_by_key(|set| std::cmp::Reverse(set.len()));
    starts.truncate(STARTS);
    // Where starts are clearly ahead of what a random set grows to, few restarts begin with one.
    let ahead = starts.first().is_some_and(|set| set.len() > finished[0].set.len() + 1);
    let scarce = if ahead { AHEAD } else { LEVEL };
    let next = AtomicU64::new(1);
    let more = pool.broadcast(|_| {
        let mut mine = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            let quota =
                left.map_or(QUOTA, |left| left.saturating_sub((index - 1) * QUOTA).min(QUOTA));
            if quota == 0 || !state.open(index) {
                return mine;
            }
            let start = start_of(&starts, index, scarce);
            mine.push(restart(field, state, start, index, quota));
        }
    });
    finished.extend(more.into_iter().flatten());
    let found = state.taken();
    finished.push(Finished { restart: 0, iterations: 0, set: found });
    finished.extend(starts.first().map(|set| Finished {
        restart: 0,
        iterations: 0,
        set: set.clone(),
    }));
    let best = finished.iter().min_by_key(|one| (std::cmp::Reverse(one.set.len()), one.restart));
    Ok(Sought {
        set: best.map_or_else(Vec::new, |one| one.set.clone()),
        restarts: finished.iter().map(|one| one.restart + 1).max().unwrap_or(0),
        iterations: finished.iter().map(|one| one.iterations).sum(),
    })
}

/// Slices of algebraic fits for a share of what is left, at least one; the iterations they count for.
fn algebra(
    fits: &mut Fits,
    state: &State,
    left: Option<u64>,
    share: f64,
    starts: &mut Vec<Vec<usize>>,
) -> u64 {
    let (purse, mut spent) = (Purse::new(state, left, share), 0);
    loop {
        let started = Instant::now();
        if fits.done() || !state.open(0) {
            return spent;
        }
        starts.extend(fits.slice(STARTS, || state.open(0)));
        spent += SLICE;
        starts.sort_by(|a, b| b.len().cmp(&a.len()).then_with(|| a.cmp(b)));
        starts.truncate(STARTS);
        state.improved(starts.first().map_or(0, Vec::len), 0, 0);
        if purse.after(spent).affords(SLICE, started.elapsed()) < 1.0 {
            return spent;
        }
    }
}

/// The start of one restart, in turn; one restart in `scarce` begins with a random set.
fn start_of(starts: &[Vec<usize>], index: u64, scarce: u64) -> Option<&Vec<usize>> {
    let turn = index - index.div_ceil(scarce);
    let random = index % scarce == 1;
    starts.get(turn as usize % starts.len().max(1)).filter(|_| !random)
}

/// Improve one start, or a random set.
///
/// Random sets keep to every `grain`-th position, where products that miss at all miss by the narrowest guard;
/// the search space shrinks and good sets stay. What still fits between is added at the end.
fn restart(
    field: &Field,
    state: &State,
    start: Option<&Vec<usize>>,
    index: u64,
    quota: u64,
) -> Finished {
    let mut stream = Stream::new(state.seed, index);
    let mut search = if let Some(set) = start {
        Neighbourhood::new(Marks::new(field.rules, &field.free), set.clone())
    } else {
        let offset = stream.below(field.grain());
        let thinned: Vec<bool> = (0..field.free.len())
            .map(|at| field.free[at] && at % field.grain() == offset)
            .collect();
        Neighbourhood::random(Marks::new(field.rules, &thinned), &mut stream)
    };
    let mut iterations = 0;
    while iterations < quota && state.open(index) {
        iterations += 1;
        if search.step(&mut stream, || state.open(index)) {
            state.improved(search.set.len(), index, iterations);
        }
    }
    let mut set = search.fill(Marks::new(field.rules, &field.free)).to_vec();
    set.sort_unstable();
    state.improved(set.len(), index, iterations);
    Finished { restart: index, iterations, set }
}

/// Lower the upper bound by exhaustion, as far as the budget allows.
fn prove(field: &Field, state: &State, [sure, unsure]: [Option<Instant>; 2]) {
    let rules = field.rules;
    let [guard, others @ ..] = rules.two_tone;
    let uniform = guard == rules.three_tone && (1..=rules.separation.max(1)).contains(&guard);
    // Guards on higher orders make sets smaller, so that bounds stand, but not larger.
    let third_order = others.iter().all(|&guard| guard == 0);
    let span = rules.length - 1;
    let within = |size: usize| {
        let until = if size <= REACH { sure } else { unsure };
        size <= SMALL || until.is_some_and(|until| Instant::now() < until)
    };
    let nodes = if sure.is_some() { u64::MAX } else { PROOF_NODES };
    if !uniform || span > MAX_LENGTH {
        return exhaust(field, state, &[], nodes, &within);
    }
    let mut rulers = Rulers::new(Spacing { separation: rules.separation.max(1), guard });
    while state.best() >= rulers.lengths.len() {
        let size = rulers.lengths.len() + 1;
        match rulers.next(span, &|| state.open(0) && within(size)) {
            Ok(Some(ruler))
                if third_order && size > state.best() && ruler.iter().all(|&at| field.free[at]) =>
            {
                state.found(ruler);
            }
            Ok(Some(_)) => {}
            Ok(None) => {
                state.bound(size - 1, Proof::Exhaustion);
                break;
            }
            Err(_) => return,
        }
    }
    exhaust(field, state, &rulers.lengths, nodes, &within);
}

/// Rule out one carrier more than the best set, on the free positions themselves.
fn exhaust(
    field: &Field,
    state: &State,
    lengths: &[usize],
    nodes: u64,
    within: &impl Fn(usize) -> bool,
) {
    // A longer set is possible for all the lengths tell; look whether these positions hold one.
    while state.best() < state.upper() && state.upper() <= 2 * SMALL {
        let need = state.best() + 1;
        let mut marks = Marks::new(field.rules, &field.free);
        let mut complete = Complete::new(&mut marks, need, nodes, || state.open(0) && within(need))
            .with_lengths(lengths);
        match complete.run() {
            Completion::Found(set) => state.found(set),
            Completion::Impossible => state.bound(need - 1, Proof::Exhaustion),
            Completion::Open => return,
        }
    }
}
