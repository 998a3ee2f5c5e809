//! Integration tests of the engine.

mod problems;

mod check;
mod check_properties;
mod known_sets;
mod largest;
mod search;
mod validate;
