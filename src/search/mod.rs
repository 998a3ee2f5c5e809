//! The search: methods that read the cost table, and the control that starts, watches and stops them.

mod construct;
mod control;
mod interference;
mod largest;
mod multistart;
mod outcome;
mod service;
mod stream;
mod watch;

pub use control::{Budget, Control, Event, EventKind, Method, Objective, Options};
pub use largest::{Proof, SetAnswer, SetEvent, SetQuestion, largest_set};
pub use multistart::solve;
pub use outcome::{Outcome, Status, StopReason};
