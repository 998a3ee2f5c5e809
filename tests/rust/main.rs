//! Integration tests of the engine.
mod search;
