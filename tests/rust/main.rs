//! Integration tests of the engine.
mod bandwidth;
mod bounds;
mod cellular;
mod colouring;
mod methods;

mod frequency;
mod problems;
mod product;

mod check;
mod check_properties;
mod hit_sets;
mod hits;
mod kinds;
mod known_sets;
mod largest;
mod search;
mod session;
mod start;
mod validate;
