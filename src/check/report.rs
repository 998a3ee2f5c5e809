//! What a check finds: the violations, their counts, and how they read.

use serde::{Deserialize, Serialize};

use crate::problem::{Problem, Relation, Weight};
use crate::product::Form;

/// The most violations a report lists; all are counted.
pub const MAX_LISTED: usize = 10_000;

/// One broken rule. Links are indices into [`Problem::links`]; distances are in hertz and stop at
/// the range of `i64`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Kind {
    /// A carrier that is not a candidate of its link's domain.
    OffDomain {
        /// The link.
        link: usize,
        /// Where it stands.
        frequency_hz: i64,
    },
    /// A locked link on another frequency. Left without a carrier it is only unserved.
    LockMoved {
        /// The link.
        link: usize,
        /// Where it stands.
        frequency_hz: i64,
        /// Where it must stand.
        locked_hz: i64,
    },
    /// Two carriers that share air and time and stand too near.
    Separation {
        /// The link of lower index.
        a: usize,
        /// The other link.
        b: usize,
        /// Their distance.
        distance_hz: i64,
        /// The least distance asked.
        separation_hz: i64,
    },
    /// A product nearer to a victim than its guard.
    Hit {
        /// The form of the product.
        form: Form,
        /// The links in the order of the form's coefficients, those of equal coefficients by index.
        sources: Vec<usize>,
        /// The link it falls on.
        victim: usize,
        /// Where the product falls.
        product_hz: i64,
        /// How far above the victim (below when negative).
        offset_hz: i64,
        /// The guard of the victim's profile.
        guard_hz: i64,
    },
    /// A broken pair rule.
    Pair {
        /// Index into [`Problem::pairs`].
        rule: usize,
        /// The distance of the two carriers.
        distance_hz: i64,
    },
}

/// A broken rule and what it counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Violation {
    /// What is broken.
    pub kind: Kind,
    /// Hard, or the soft cost.
    pub weight: Weight,
}

impl Violation {
    /// The violation in words, with the ids of the links and exact decimals in MHz.
    ///
    /// `problem` should be the one checked; an index outside it reads as a number.
    pub fn describe(&self, problem: &Problem) -> String {
        let id = |link: usize| match problem.links.get(link) {
            Some(link) => format!("{:?}", link.id),
            None => format!("link {link}"),
        };
        match &self.kind {
            Kind::OffDomain { link, frequency_hz } => {
                format!("{} stands on {}, not one of its candidates", id(*link), mhz(*frequency_hz))
            }
            Kind::LockMoved { link, frequency_hz, locked_hz } => {
                format!(
                    "{} stands on {}, locked to {}",
                    id(*link),
                    mhz(*frequency_hz),
                    mhz(*locked_hz)
                )
            }
            Kind::Separation { a, b, distance_hz, separation_hz } => format!(
                "{} and {} stand {} apart; separation {}",
                id(*a),
                id(*b),
                mhz(*distance_hz),
                mhz(*separation_hz)
            ),
            Kind::Hit { form, sources, victim, product_hz, offset_hz, guard_hz } => {
                let (last, rest) =
                    sources.split_last().map_or((0, &[][..]), |(&l, rest)| (l, rest));
                let rest: Vec<String> = rest.iter().map(|&link| id(link)).collect();
                let place = match offset_hz.signum() {
                    0 => "on".to_string(),
                    1 => format!("{} above", mhz(*offset_hz)),
                    _ => format!("{} below", mhz(offset_hz.saturating_neg())),
                };
                format!(
                    "{form} product of {} and {} on {} falls {place} {}; guard {}",
                    rest.join(", "),
                    id(last),
                    mhz(*product_hz),
                    id(*victim),
                    mhz(*guard_hz)
                )
            }
            Kind::Pair { rule, distance_hz } => {
                let apart = mhz(*distance_hz);
                match problem.pairs.get(*rule) {
                    None => format!("pair rule {rule}: {apart} apart"),
                    Some(pair) => {
                        let asked = match pair.relation {
                            Relation::AtLeast(hz) => format!("at least {}", mhz(hz)),
                            Relation::Exactly(hz) => format!("exactly {}", mhz(hz)),
                        };
                        let (a, b) = (id(pair.a), id(pair.b));
                        format!("{a} and {b} stand {apart} apart; {asked} asked")
                    }
                }
            }
        }
    }
}

/// What an assignment breaks, and what it leaves out.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Report {
    /// The violations, at most [`MAX_LISTED`], in a fixed order: domain and lock by link, pair
    /// rules, separations by frequency, hits by form and frequency of the first letter.
    pub violations: Vec<Violation>,
    /// How many hard rules are broken; exact even when the list is not complete.
    pub hard: u64,
    /// The summed cost of broken soft rules and of frequencies; exact likewise.
    pub soft: u64,
    /// Links without a carrier.
    pub refused: u64,
    /// Their summed priority.
    pub unserved: u64,
    /// Whether violations were counted that are not listed.
    pub truncated: bool,
}

impl Report {
    /// Whether every hard rule holds; links may still be without a carrier.
    pub fn is_clean(&self) -> bool {
        self.hard == 0
    }

    /// Counts a violation, and lists it if there is room.
    pub(super) fn add(&mut self, weight: Weight, kind: impl FnOnce() -> Kind) {
        self.add_within(MAX_LISTED, weight, kind);
    }

    /// Counts a violation, and lists it among at most `room`.
    pub(super) fn add_within(&mut self, room: usize, weight: Weight, kind: impl FnOnce() -> Kind) {
        match weight {
            Weight::Hard => self.hard += 1,
            Weight::Soft(cost) => self.soft += u64::from(cost),
        }
        if self.violations.len() < room {
            self.violations.push(Violation { kind: kind(), weight });
        } else {
            self.truncated = true;
        }
    }

    /// Appends the counts and violations of a part.
    pub(super) fn merge(&mut self, part: Self) {
        self.hard += part.hard;
        self.soft += part.soft;
        let room = MAX_LISTED - self.violations.len();
        self.truncated |= part.truncated || part.violations.len() > room;
        self.violations.extend(part.violations.into_iter().take(room));
    }
}

/// Exact decimals in MHz, trailing zeros left off.
fn mhz(hz: i64) -> String {
    let sign = if hz < 0 { "-" } else { "" };
    let (whole, part) = (hz.unsigned_abs() / 1_000_000, hz.unsigned_abs() % 1_000_000);
    let decimals = format!(".{part:06}");
    format!("{sign}{whole}{} MHz", decimals.trim_end_matches('0').trim_end_matches('.'))
}
