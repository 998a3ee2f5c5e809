//! The raster of a question, and what the parts of the portfolio share while they run.

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use super::marks::Rules;
use super::sign::{Pulse, Sign};
use super::two_tone::{self, Guards};
use super::{Proof, SetAnswer, SetEvent, SetQuestion};
use crate::check::check;
use crate::error::{Error, Result};
use crate::frequency::gcd;
use crate::product::Form;
use crate::search::{Control, Event, EventKind, Options, Status, StopReason};

/// The longest raster held as bits.
const MAX_STEPS: i64 = 1 << 20;

/// The form of three carriers that sets on a raster are kept clean of.
const THREE_TONE: [i32; 3] = [1, 1, -1];

/// A question on its raster.
pub(super) struct Field {
    base_hz: i64,
    step_hz: i64,
    pub(super) rules: Rules,
    pub(super) free: Vec<bool>,
}

impl Field {
    /// The coarsest raster that holds every candidate.
    pub(super) fn new(question: &SetQuestion) -> Result<Self> {
        let mut candidates = question.candidates_hz.clone();
        candidates.sort_unstable();
        let (base_hz, top_hz) = (candidates[0], candidates[candidates.len() - 1]);
        let step_hz = candidates.iter().fold(0, |step, hz| gcd(step, hz - base_hz)).max(1);
        let length = (top_hz - base_hz) / step_hz + 1;
        if length > MAX_STEPS {
            return Err(Error::TooLarge {
                what: "the raster of the candidates".into(),
                why: format!("it has {length} steps of {step_hz} Hz"),
                remedy: "put the candidates on one coarser raster, such as 5 kHz or 25 kHz".into(),
            });
        }
        let mut free = vec![false; length as usize];
        for hz in candidates {
            free[((hz - base_hz) / step_hz) as usize] = true;
        }
        // Distances are whole steps: below the guard means below the guard rounded up.
        let steps =
            |hz: i64| (hz.max(0) as u64).div_ceil(step_hz as u64).min(length as u64) as usize;
        let (mut two_tone, mut three_tone) = (Guards::default(), 0);
        for (form, hz) in &question.guards {
            if let Some(at) = two_tone::place(form.coefficients()) {
                two_tone[at] = two_tone[at].max(steps(*hz));
            } else if form.coefficients() == THREE_TONE {
                three_tone = three_tone.max(steps(*hz));
            }
        }
        let rules = Rules {
            length: length as usize,
            separation: steps(question.separation_hz),
            two_tone,
            three_tone,
        };
        Ok(Self { base_hz, step_hz, rules, free })
    }

    /// Whether other forms are guarded than the rules on a raster hold.
    pub(super) fn beyond(question: &SetQuestion) -> bool {
        let holds = |form: &Form| {
            let coefficients = form.coefficients();
            coefficients == THREE_TONE || two_tone::place(coefficients).is_some()
        };
        question.guards.iter().any(|(form, hz)| *hz > 0 && !holds(form))
    }

    /// Raster steps within which no product may fall on a carrier.
    pub(super) fn scale(&self) -> usize {
        self.guards().max().unwrap_or(1)
    }

    /// Raster steps of the narrowest guard: good sets stay on every `grain`-th position, and there are few of them.
    pub(super) fn grain(&self) -> usize {
        self.guards().min().unwrap_or(1)
    }

    fn guards(&self) -> impl Iterator<Item = usize> {
        let Rules { two_tone, three_tone, .. } = self.rules;
        two_tone.into_iter().chain([three_tone]).filter(|&guard| guard > 0)
    }

    /// Whole steps that hold this distance.
    pub(super) fn steps(&self, hz: i64) -> usize {
        let steps = (hz.max(0) as u64).div_ceil(self.step_hz as u64);
        steps.min(self.rules.length as u64) as usize
    }

    pub(super) fn hertz(&self, set: &[usize]) -> Vec<i64> {
        set.iter().map(|&at| self.base_hz + at as i64 * self.step_hz).collect()
    }
}

/// Best and bound so far, the clock and the stop flag.
pub(super) struct State<'r> {
    control: &'r Control,
    pub(super) started: Instant,
    deadline: Option<Instant>,
    pub(super) seed: u64,
    /// All that the listener hears of a run that is a part of another.
    sign: Option<&'r Sign>,
    pulse: Pulse,
    shared: Mutex<Shared>,
    best: AtomicUsize,
    upper: AtomicUsize,
    /// The first restart that met the bound; later ones are idle work.
    solved: AtomicU64,
}

struct Shared {
    proof: Proof,
    trace: Vec<SetEvent>,
    /// A set that a proof came upon.
    found: Vec<usize>,
}

impl<'r> State<'r> {
    pub(super) fn new(options: &Options, control: &'r Control) -> Self {
        let started = Instant::now();
        Self {
            control,
            started,
            deadline: options.budget.seconds.map(|s| started + Duration::from_secs_f64(s)),
            seed: options.seed,
            sign: None,
            pulse: Pulse::default(),
            shared: Mutex::new(Shared { proof: Proof::Candidates, trace: vec![], found: vec![] }),
            best: AtomicUsize::new(0),
            upper: AtomicUsize::new(usize::MAX),
            solved: AtomicU64::new(u64::MAX),
        }
    }

    /// The same as a part of another run: its listener hears of that run's plan, now and then.
    pub(super) fn part_of(self, sign: &'r Sign) -> Self {
        Self { sign: Some(sign), ..self }
    }

    /// A sign of life.
    fn beat(&self) {
        let elapsed = self.started.elapsed();
        if self.pulse.is_due(elapsed.as_millis() as u64) {
            self.tell(EventKind::Progress, elapsed.as_secs_f64(), (0, 0));
        }
    }

    /// Tell the listener of the best set so far.
    fn tell(&self, kind: EventKind, time_s: f64, (restart, iteration): (u64, u64)) {
        let (size, short) = (self.best(), self.upper().saturating_sub(self.best()) as u64);
        let own = Event {
            time_s,
            iteration,
            restart,
            kind,
            refused: short,
            unserved: short,
            hard: 0,
            soft: 0,
            bound: 0,
            objective: Some(short),
            evaluations: 0,
        };
        self.control.send(self.sign.map_or(own, |sign| sign.with(size, time_s)));
    }

    pub(super) fn best(&self) -> usize {
        self.best.load(Ordering::Relaxed)
    }

    pub(super) fn upper(&self) -> usize {
        self.upper.load(Ordering::Relaxed)
    }

    /// When the time is up, if time is limited.
    pub(super) fn deadline(&self) -> Option<Instant> {
        self.deadline
    }

    /// Whether a restart may go on.
    pub(super) fn open(&self, restart: u64) -> bool {
        self.beat();
        !self.control.stopped()
            && self.deadline.is_none_or(|deadline| Instant::now() < deadline)
            && self.solved.load(Ordering::Relaxed) >= restart
    }

    /// A set of this size was found.
    pub(super) fn improved(&self, size: usize, restart: u64, iteration: u64) {
        if size > self.best.fetch_max(size, Ordering::Relaxed) {
            self.note(restart, iteration);
        }
        if size >= self.upper() {
            self.solved.fetch_min(restart, Ordering::Relaxed);
        }
    }

    /// A proof came upon a larger set.
    pub(super) fn found(&self, set: Vec<usize>) {
        let size = set.len();
        self.lock().found = set;
        self.improved(size, 0, 0);
    }

    /// No set is larger than this.
    pub(super) fn bound(&self, size: usize, proof: Proof) {
        if size < self.upper.fetch_min(size, Ordering::Relaxed) {
            self.lock().proof = proof;
            self.note(0, 0);
        }
        if self.best() >= self.upper() {
            self.solved.fetch_min(0, Ordering::Relaxed);
        }
    }

    /// The set a proof came upon, if any.
    pub(super) fn taken(&self) -> Vec<usize> {
        std::mem::take(&mut self.lock().found)
    }

    fn note(&self, restart: u64, iteration: u64) {
        let (size, upper_bound) = (self.best(), self.upper());
        let event = SetEvent {
            time_s: self.started.elapsed().as_secs_f64(),
            restart,
            iteration,
            size,
            upper_bound,
        };
        self.lock().trace.push(event);
        self.tell(EventKind::Improvement, event.time_s, (restart, iteration));
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Shared> {
        // A panic elsewhere leaves plain data behind.
        self.shared.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    /// The events so far.
    pub(super) fn trace(&self) -> Vec<SetEvent> {
        self.lock().trace.clone()
    }

    /// The answer with this set, recounted.
    pub(super) fn answer(
        &self,
        question: &SetQuestion,
        options: &Options,
        set_hz: Vec<i64>,
        (restarts, iterations): (u64, u64),
    ) -> Result<SetAnswer> {
        let assignment: Vec<_> = set_hz.iter().map(|&hz| Some(hz)).collect();
        let report = check(&question.problem(assignment.len()), &assignment)?;
        let (upper_bound, proven) = (self.upper(), set_hz.len() >= self.upper());
        let shared = self.lock();
        Ok(SetAnswer {
            frequencies_hz: set_hz,
            upper_bound,
            proof: shared.proof,
            status: match (report.hard, proven) {
                (0, true) => Status::Optimal,
                (0, false) => Status::Feasible,
                _ => Status::Infeasible,
            },
            stop_reason: if proven {
                StopReason::Proven
            } else if self.control.stopped() {
                StopReason::Interrupted
            } else if self.deadline.is_some_and(|deadline| Instant::now() >= deadline) {
                StopReason::TimeLimit
            } else {
                StopReason::IterationLimit
            },
            seed: options.seed,
            restarts,
            iterations,
            elapsed_s: self.started.elapsed().as_secs_f64(),
            trace: shared.trace.clone(),
        })
    }
}
