//! What is asked: profiles, zones, domains, links and explicit pair rules.
//!
//! Everything is plain data in integer hertz; [`Problem::validate`] finds every fault at once.

pub(crate) mod compile;
mod domain;
pub(crate) mod groups;
pub(crate) mod network;
mod validate;

use serde::{Deserialize, Serialize};

use crate::product::Form;

pub use domain::Domain;

/// How much a rule counts when it is broken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Weight {
    /// Must hold in a finished plan.
    #[default]
    Hard,
    /// May be broken at this cost.
    Soft(u32),
}

/// A guard: the least distance of a product of one form from a victim carrier.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Guard {
    /// The product form.
    pub form: Form,
    /// A product nearer than this is a hit; 0 waives the form, 1 forbids exact coincidence only.
    pub guard_hz: i64,
    /// What a hit counts.
    #[serde(default)]
    pub weight: Weight,
}

/// What a class of equipment tolerates.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Profile {
    /// Unique name.
    pub name: String,
    /// Least distance to any other carrier; between two profiles the larger one holds unless
    /// [`Problem::separations`] says otherwise.
    pub separation_hz: i64,
    /// Guards of this profile as a victim, at most one per form.
    #[serde(default)]
    pub guards: Vec<Guard>,
    /// Whether its transmitters are sources of products.
    #[serde(default = "yes")]
    pub mixes: bool,
}

fn yes() -> bool {
    true
}

/// The separation between two named profiles, where it differs from the larger of their own.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProfileSeparation {
    /// Index of one profile.
    pub a: usize,
    /// Index of the other profile; may equal `a`.
    pub b: usize,
    /// Least distance between their carriers.
    pub separation_hz: i64,
}

/// How two different zones share the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Degree {
    /// No coordination: the zones are isolated.
    None,
    /// Separations hold, products do not reach.
    Separation,
    /// Separations and products.
    Full,
}

/// How one pair of zones is coupled. Unlisted pairs are isolated; a zone is fully coupled to itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Coupling {
    /// Index of one zone.
    pub a: usize,
    /// Index of the other zone.
    pub b: usize,
    /// The degree of coordination.
    pub degree: Degree,
}

/// A half-open span of time `[start, end)`, in whole minutes of any common epoch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Window {
    /// First minute on the air.
    pub start: i64,
    /// First minute off the air again.
    pub end: i64,
}

/// One transmitter-receiver path that needs one carrier.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Link {
    /// Unique name.
    pub id: String,
    /// Index into [`Problem::profiles`].
    pub profile: usize,
    /// Index into [`Problem::zones`].
    pub zone: usize,
    /// When it is on the air; empty means always.
    #[serde(default)]
    pub windows: Vec<Window>,
    /// Index into [`Problem::domains`].
    pub domain: usize,
    /// Index into [`Problem::costs`], if some frequencies are dearer than others.
    #[serde(default)]
    pub costs: Option<usize>,
    /// What leaving it without a carrier costs; at least 1.
    #[serde(default = "one")]
    pub priority: u32,
    /// A frequency it must keep.
    #[serde(default)]
    pub locked_hz: Option<i64>,
}

fn one() -> u32 {
    1
}

/// What a [`PairRule`] asks of the distance between two carriers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Relation {
    /// At least this many hertz apart.
    AtLeast(i64),
    /// Exactly this many hertz apart.
    Exactly(i64),
}

/// An explicit rule between two links; it holds whatever their zones and windows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PairRule {
    /// Index of one link.
    pub a: usize,
    /// Index of the other link.
    pub b: usize,
    /// What must hold.
    pub relation: Relation,
    /// What breaking it counts.
    #[serde(default)]
    pub weight: Weight,
}

/// A frequency-assignment problem.
///
/// Two links *share the air* when their zones are equal or coupled, and *share time* when some
/// instant lies in a window of each. Separations hold between links that share both. A product is a
/// hit on a victim when sources and victim are pairwise in equal or fully coupled zones, one instant
/// is common to all of them, and `abs(product - victim) < guard`; all letters and the victim are
/// distinct links and every source mixes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Problem {
    /// Equipment classes.
    pub profiles: Vec<Profile>,
    /// Separations that differ from the rule of the larger one.
    #[serde(default)]
    pub separations: Vec<ProfileSeparation>,
    /// Zone names.
    pub zones: Vec<String>,
    /// Which zones share the air.
    #[serde(default)]
    pub couplings: Vec<Coupling>,
    /// Where links may tune.
    pub domains: Vec<Domain>,
    /// Cost tables: one entry per candidate of the domain of the links that name it.
    #[serde(default)]
    pub costs: Vec<Vec<u32>>,
    /// The links.
    pub links: Vec<Link>,
    /// Explicit pair rules.
    #[serde(default)]
    pub pairs: Vec<PairRule>,
}

/// A frequency for every link, or none; in the order of [`Problem::links`].
pub type Assignment = Vec<Option<i64>>;

impl Problem {
    /// Whether anything but a broken hard rule can cost.
    pub(crate) fn has_soft_costs(&self) -> bool {
        let soft = |weight: Weight| weight != Weight::Hard;
        self.costs.iter().flatten().any(|&cost| cost > 0)
            || self.pairs.iter().any(|pair| soft(pair.weight))
            || self.profiles.iter().flat_map(|profile| &profile.guards).any(|g| soft(g.weight))
    }
}
