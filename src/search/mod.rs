//! The search: methods that read the cost table, and the control that starts, watches and stops them.

mod control;
mod outcome;

pub use control::{Budget, Control, Event, EventKind, Method, Objective, Options};
pub use outcome::{Outcome, Status, StopReason};
