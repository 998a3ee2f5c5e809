//! The search: methods that read the cost table, and the control that starts, watches and stops them.

mod anneal;
mod bandwidth;
mod branch_and_bound;
mod colouring;
mod construct;
mod control;
mod interference;
mod kind;
mod largest;
mod lns;
mod multistart;
mod order;
mod outcome;
mod pairwise;
mod partialcol;
mod portfolio;
mod rlf;
mod sequence;
mod service;
mod soften;
mod span;
mod start;
mod stream;
mod tabu;
mod tabucol;
mod tile;
mod watch;

pub use control::{Budget, Control, Event, EventKind, Method, Objective, Options};
pub use largest::{Proof, SetAnswer, SetEvent, SetQuestion, largest_set};
pub use multistart::{Session, solve, solve_from};
pub use outcome::{Outcome, Status, StopReason};

/// A search that improves what stands on the table until its watch says enough.
type Improve = fn(&mut crate::table::Table, &mut stream::Stream, &mut watch::Watch);
