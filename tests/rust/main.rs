//! Integration tests of the engine.
