//! Intermodulation-compatible frequency plans for audio links.
//!
//! Wireless microphones and in-ear monitors that share the air mix: two carriers `A` and `B` make
//! products on `2A-B`, three make them on `A+B-C`, and every product must miss every other carrier.
//! This crate searches large sets of candidate frequencies for plans in which they do, counts what is
//! left when they cannot, and checks any plan independently of how it was found.
//!
//! ```
//! use sidon::check::check;
//! use sidon::problem::{Domain, Guard, Link, Problem, Profile, Weight};
//! use sidon::search::{Budget, Control, Options, Status, solve};
//!
//! let guard = |form: &str, guard_hz| -> sidon::Result<Guard> {
//!     Ok(Guard { form: form.parse()?, guard_hz, weight: Weight::Hard })
//! };
//! let problem = Problem {
//!     profiles: vec![Profile {
//!         name: "hand-held".into(),
//!         separation_hz: 350_000,
//!         guards: vec![guard("2A-B", 100_000)?, guard("A+B-C", 50_000)?],
//!         mixes: true,
//!     }],
//!     separations: vec![],
//!     zones: vec!["stage".into()],
//!     couplings: vec![],
//!     // 470 to 476 MHz is occupied: what is left of 470 to 482 MHz, on 25 kHz steps.
//!     domains: vec![Domain::Raster {
//!         ranges_hz: vec![[476_100_000, 481_900_000]],
//!         step_hz: 25_000,
//!         origin_hz: 470_000_000,
//!     }],
//!     costs: vec![],
//!     links: (1..=7)
//!         .map(|i| Link {
//!             id: format!("vox {i}"),
//!             profile: 0,
//!             zone: 0,
//!             windows: vec![],
//!             domain: 0,
//!             costs: None,
//!             priority: 1,
//!             locked_hz: None,
//!         })
//!         .collect(),
//!     pairs: vec![],
//! };
//! let budget = Budget { iterations: Some(20_000), seconds: None };
//! let outcome = solve(&problem, &Options { budget, ..Options::default() }, &Control::default())?;
//! assert_eq!(outcome.status, Status::Optimal);
//! assert!(outcome.assignment.iter().all(Option::is_some));
//! assert!(check(&problem, &outcome.assignment)?.is_clean());
//! # Ok::<(), sidon::Error>(())
//! ```
//!
//! # The house
//!
//! | module | holds |
//! | --- | --- |
//! | [`problem`] | what is asked: profiles, zones, domains, links, pair rules |
//! | [`frequency`] | exact hertz: parsing, printing, bands, rasters |
//! | [`product`] | product forms such as `2A-B`; the exact hits of a finished set |
//! | [`table`] | what one more link would cost on every frequency, kept up to date as links come and go |
//! | [`search`] | the methods that read the table, and the control that starts, watches and stops them |
//! | [`check`] | the independent check of any assignment |
//!
//! Frequencies are whole hertz throughout; distances are compared exactly. Nothing here prints, and
//! equal input, seed and iteration budget give the same plan on any number of threads.
//!
//! A plan is a proposal: licences, power limits and local rules decide what may be transmitted, and a
//! scan on site what is really free.

pub mod bound;
pub mod check;
pub mod error;
pub mod frequency;
pub mod problem;
pub mod product;
pub mod search;
pub mod table;

#[cfg(feature = "python")]
mod python;

pub use error::{Error, Fault, Result};
