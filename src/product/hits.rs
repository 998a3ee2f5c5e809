//! The list of all hits of a finished set.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};

use super::Form;
use super::carriers::{Widths, reduce};
use super::counts::count_reduced;
use super::halves::Halves;

/// The most hits a list holds: about 1 GB of them.
const MAX_HITS: u64 = 10_000_000;

/// One product that is too near a victim.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Hit {
    /// Index into the guards given.
    pub form: usize,
    /// Index of the carrier that is hit.
    pub victim: usize,
    /// Indices of the carriers that make the product, in the order of the form's coefficients; they
    /// ascend where coefficients are equal.
    pub sources: Vec<usize>,
    /// The product's frequency.
    pub product_hz: i64,
    /// Product minus victim.
    pub offset_hz: i64,
}

/// Every hit among the carriers: `abs(product - victim) < guard`, sources and victim being distinct
/// carriers. Ordered by form, victim, sources.
///
/// Each guard is a form with its width in hertz; 0 waives it, 1 finds exact coincidences only. Equal
/// frequencies on different carriers are different carriers. Where a product falls on one of its own
/// sources it is no hit: `A+B-C` on `C` says that `C` lies midway between `A` and `B`, which
/// is the `2A-B` relation and is listed once, as such.
///
/// ```
/// use sidon::product::hits;
/// let carriers = [500_000_000, 500_400_000, 500_800_000];
/// let found = hits(&carriers, &[("2A-B".parse()?, 1)])?;
/// assert_eq!(found.len(), 2);
/// assert_eq!((found[0].victim, &found[0].sources[..]), (0, &[1, 2][..]));
/// assert_eq!(found[0].product_hz, 500_000_000);
/// # Ok::<(), sidon::Error>(())
/// ```
///
/// # Complexity
/// Meet in the middle: with h half the form's letters and the victim, rounded up, O(n^h log n)
/// time, plus the near-coincidences of half-sums, of which the hits are those without a repeated
/// carrier. `A+B-C` on `D` compares the sorted pair sums `A+B` with `C+D` in O(n^2 log n).
///
/// # Errors
/// [`Error::Invalid`] with every negative guard and every frequency beyond 10^12 Hz;
/// [`Error::TooLarge`] above ten million hits, or where finding them would take more than some
/// seconds or some hundred megabytes.
pub fn hits(frequencies_hz: &[i64], guards: &[(Form, i64)]) -> Result<Vec<Hit>> {
    list(frequencies_hz, guards.iter().map(|(form, width)| (form, Widths::Same(*width))))
}

/// [`hits`] with one guard width per carrier as the victim.
///
/// # Errors
/// As [`hits`]; [`Error::Invalid`] also when a guard does not have one width per carrier.
pub fn hits_by_victim(frequencies_hz: &[i64], guards: &[(Form, Vec<i64>)]) -> Result<Vec<Hit>> {
    list(frequencies_hz, guards.iter().map(|(form, widths)| (form, Widths::Each(widths))))
}

fn list<'a>(
    frequencies_hz: &[i64],
    guards: impl Iterator<Item = (&'a Form, Widths<'a>)>,
) -> Result<Vec<Hit>> {
    let (carriers, guarded) = reduce(frequencies_hz, guards)?;
    // Counting first is cheap, and an overlong list is refused before it fills the memory.
    let counts = count_reduced(&carriers, &guarded)?;
    let total = counts.iter().flatten().fold(0_u64, |total, &n| total.saturating_add(n));
    if total > MAX_HITS {
        return Err(Error::TooLarge {
            what: "the list of hits".into(),
            why: format!("{total} hits, above {MAX_HITS}"),
            remedy: "count them with hit_counts, or ask for a smaller guard".into(),
        });
    }
    let mut all = Vec::with_capacity(total as usize);
    for (form, (guard, counts)) in guarded.iter().zip(&counts).enumerate() {
        if counts.iter().all(|&n| n == 0) {
            continue;
        }
        let halves = Halves::new(guard, &carriers)?;
        let by_victim: Vec<Vec<Hit>> = counts
            .par_iter()
            .enumerate()
            .map(|(victim, &count)| {
                let mut hits = Vec::with_capacity(count as usize);
                if count > 0 {
                    halves.visit(victim, |sources, offset| {
                        let offset_hz = offset * carriers.step_hz;
                        hits.push(Hit {
                            form,
                            victim,
                            sources: sources.to_vec(),
                            product_hz: frequencies_hz[victim] + offset_hz,
                            offset_hz,
                        });
                    });
                }
                hits.sort_unstable();
                hits
            })
            .collect();
        all.extend(by_victim.into_iter().flatten());
    }
    Ok(all)
}
