//! Products on victims: every product of every guarded form, formed and compared.
//!
//! Letters are chosen one after another among links that share air and time with all letters
//! before; the last letter is swept in order of frequency beside the victims, so that its products
//! need no search each.

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::air::{Air, common, meet};
use super::{Carrier, Kind, Report, clamped, within_reason};
use crate::error::Result;
use crate::problem::{Degree, Problem, Weight, Window};
use crate::product::Form;

/// First letters taken together between two looks at how much room the list has left.
const BATCH: usize = 64;

/// Counts the hits of all forms that guard anyone, form by form; without a report it only tells
/// whether the work is within reason.
pub(super) fn check(
    problem: &Problem,
    air: &Air,
    carriers: &[Carrier],
    report: Option<&mut Report>,
) -> Result<()> {
    let guards = |link: usize| &problem.profiles[problem.links[link].profile].guards;
    let forms: BTreeSet<&Form> = carriers
        .iter()
        .flat_map(|carrier| guards(carrier.link))
        .filter(|guard| guard.guard_hz > 0)
        .map(|guard| &guard.form)
        .collect();
    let mixes: Vec<bool> = carriers
        .iter()
        .map(|carrier| problem.profiles[problem.links[carrier.link].profile].mixes)
        .collect();
    let products: Vec<Products> = forms
        .into_iter()
        .map(|form| {
            let guards: Vec<(i64, Weight)> = carriers
                .iter()
                .map(|carrier| guards(carrier.link).iter().find(|guard| guard.form == *form))
                .map(|guard| guard.map_or((0, Weight::Hard), |g| (g.guard_hz, g.weight)))
                .collect();
            let widest = guards.iter().map(|&(guard, _)| i128::from(guard)).max().unwrap_or(0);
            Products { air, carriers, mixes: &mixes, form, guards, widest }
        })
        .collect();

    let remedy = "guard fewer forms, narrow the guards, or check fewer links at a time";
    // Pools are looked at link by link before anything is known of their size.
    let pairs = carriers.len() as f64 * carriers.len() as f64 * air.windows_per_link();
    within_reason("the check of products", if products.is_empty() { 0.0 } else { pairs }, remedy)?;
    let work = products.iter().map(Products::work).sum();
    within_reason("the check of products", work, remedy)?;
    let Some(report) = report else { return Ok(()) };

    for product in &products {
        for firsts in product.sources().collect::<Vec<_>>().chunks(BATCH) {
            let room = super::MAX_LISTED - report.violations.len();
            let parts: Vec<Report> =
                firsts.par_iter().map(|&first| product.from(first, room)).collect();
            for part in parts {
                report.merge(part);
            }
        }
    }
    Ok(())
}

/// The products of one form. Carriers go by their rank in order of frequency.
struct Products<'a> {
    air: &'a Air<'a>,
    carriers: &'a [Carrier],
    mixes: &'a [bool],
    form: &'a Form,
    /// Guard and weight of each carrier as a victim; 0 where it has none.
    guards: Vec<(i64, Weight)>,
    /// The largest of the guards.
    widest: i128,
}

/// Carriers that may still join a product, ascending, as its letters or its victim.
struct Pool {
    ranks: Vec<usize>,
    /// Their frequencies, side by side for the sweep.
    hz: Vec<i128>,
}

/// The letters chosen so far.
struct Prefix {
    /// Their ranks, in the order of the coefficients.
    letters: Vec<usize>,
    /// Their part of the product.
    sum: i128,
    /// When the first one, two, three and so on are on the air together; kept from product to
    /// product to spare allocations.
    times: Vec<Vec<Window>>,
}

impl Prefix {
    fn when(&self) -> &[Window] {
        &self.times[self.letters.len() - 1]
    }
}

impl Products<'_> {
    fn sources(&self) -> impl Iterator<Item = usize> {
        (0..self.carriers.len()).filter(|&rank| self.mixes[rank])
    }

    fn coefficient(&self, letter: usize) -> i128 {
        i128::from(self.form.coefficients()[letter])
    }

    fn hz(&self, rank: usize) -> i128 {
        i128::from(self.carriers[rank].hz)
    }

    fn when(&self, rank: usize) -> &[Window] {
        self.air.when(self.carriers[rank].link)
    }

    /// Whether products reach between two carriers.
    fn reach(&self, a: usize, b: usize) -> bool {
        self.air.shared(self.carriers[a].link, self.carriers[b].link, Degree::Full)
    }

    /// The carriers that share air with `rank` and time with `when`, `rank` left out.
    fn narrowed(&self, among: impl Iterator<Item = usize>, rank: usize, when: &[Window]) -> Pool {
        let fits = |&q: &usize| q != rank && self.reach(q, rank) && meet(when, self.when(q));
        let ranks: Vec<usize> = among.filter(fits).collect();
        let hz = ranks.iter().map(|&rank| self.hz(rank)).collect();
        Pool { ranks, hz }
    }

    /// Those that may join `first`.
    fn pool(&self, first: usize) -> Pool {
        self.narrowed(0..self.carriers.len(), first, self.when(first))
    }

    /// Roughly how many comparisons it takes to form all products and compare them.
    fn work(&self) -> f64 {
        let coefficients = self.form.coefficients();
        // Exchangeable letters are taken in one order only.
        let orders: f64 = coefficients
            .chunk_by(|a, b| a == b)
            .map(|same| (1..=same.len()).product::<usize>() as f64)
            .product();
        let windows = self.air.windows_per_link();
        let work = |first: usize| {
            let pool = self.pool(first);
            let sources = pool.ranks.iter().filter(|&&rank| self.mixes[rank]).count() as f64;
            let tuples = sources.powi(coefficients.len() as i32 - 1) / orders;
            // Victims within the guard of a product, if products lie as dense as carriers do.
            let (mut low, mut high, mut near) = (0, 0, 0);
            for &hz in &pool.hz {
                low += pool.hz[low..].iter().take_while(|&&q| q <= hz - self.widest).count();
                high += pool.hz[high..].iter().take_while(|&&q| q < hz + self.widest).count();
                near += high - low;
            }
            let victims = near as f64 / pool.hz.len().max(1) as f64;
            tuples * (victims * windows).max(1.0)
        };
        let firsts: Vec<usize> = self.sources().collect();
        let parts: Vec<f64> = firsts.par_iter().map(|&first| work(first)).collect();
        parts.iter().sum()
    }

    /// All hits whose first letter is `first`, at most `room` of them listed.
    fn from(&self, first: usize, room: usize) -> Report {
        let mut found = Report::default();
        let mut times = vec![Vec::new(); self.form.letters()];
        times[0] = self.when(first).to_vec();
        let sum = self.coefficient(0) * self.hz(first);
        let mut prefix = Prefix { letters: vec![first], sum, times };
        self.extend(&mut prefix, &self.pool(first), room, &mut found);
        found
    }

    /// Adds a letter; false when it cannot join those before it.
    fn push(&self, prefix: &mut Prefix, rank: usize) -> bool {
        let letters = &prefix.letters;
        if !self.mixes[rank]
            || letters.contains(&rank)
            || !letters.iter().all(|&letter| self.reach(letter, rank))
        {
            return false;
        }
        let (before, after) = prefix.times.split_at_mut(letters.len());
        after[0].clear();
        after[0].extend(common(&before[before.len() - 1], self.when(rank)));
        if after[0].is_empty() {
            return false;
        }
        prefix.sum += self.coefficient(letters.len()) * self.hz(rank);
        prefix.letters.push(rank);
        true
    }

    fn pop(&self, prefix: &mut Prefix) {
        if let Some(rank) = prefix.letters.pop() {
            prefix.sum -= self.coefficient(prefix.letters.len()) * self.hz(rank);
        }
    }

    /// Where in a pool the choice of the next letter begins: exchangeable letters ascend, so that
    /// each product is formed once.
    fn begin(&self, prefix: &Prefix, pool: &Pool) -> usize {
        let letter = prefix.letters.len();
        let previous = prefix.letters[letter - 1];
        if self.coefficient(letter) == self.coefficient(letter - 1) {
            pool.ranks.partition_point(|&rank| rank <= previous)
        } else {
            0
        }
    }

    fn extend(&self, prefix: &mut Prefix, pool: &Pool, room: usize, found: &mut Report) {
        let missing = self.form.letters() - prefix.letters.len();
        if missing == 1 {
            return self.sweep(prefix, pool, room, found);
        }
        for &rank in &pool.ranks[self.begin(prefix, pool)..] {
            if !self.push(prefix, rank) {
                continue;
            }
            if missing > 2 {
                let narrowed = self.narrowed(pool.ranks.iter().copied(), rank, prefix.when());
                self.extend(prefix, &narrowed, room, found);
            } else {
                // Before the last letter the sweep itself is cheaper than narrowing for it.
                self.extend(prefix, pool, room, found);
            }
            self.pop(prefix);
        }
    }

    /// Takes every last letter, and the victims near its product.
    fn sweep(&self, prefix: &mut Prefix, pool: &Pool, room: usize, found: &mut Report) {
        // Coefficients sum to 1 and positive ones come first: the last is negative. So the
        // product falls as the last letter rises, and the victims near it move down with it.
        let last = self.coefficient(prefix.letters.len());
        let hz = &pool.hz[..];
        let Some(&highest) = hz.last() else { return };
        let begin = self.begin(prefix, pool);
        let skip = hz[begin..]
            .partition_point(|&letter| prefix.sum + last * letter >= highest + self.widest);
        let (mut low, mut high) = (hz.len(), hz.len());
        for (&letter, &rank) in hz.iter().zip(&pool.ranks).skip(begin + skip) {
            let product = prefix.sum + last * letter;
            while high > 0 && hz[high - 1] >= product + self.widest {
                high -= 1;
            }
            while low > 0 && hz[low - 1] > product - self.widest {
                low -= 1;
            }
            if high == 0 {
                break;
            }
            if low < high && self.push(prefix, rank) {
                for &victim in &pool.ranks[low..high] {
                    self.compare(prefix, victim, room, found);
                }
                self.pop(prefix);
            }
        }
    }

    /// Counts a finished product if it hits `victim`.
    fn compare(&self, product: &Prefix, victim: usize, room: usize, found: &mut Report) {
        let offset = product.sum - self.hz(victim);
        let (guard_hz, weight) = self.guards[victim];
        if offset.abs() >= i128::from(guard_hz)
            || product.letters.contains(&victim)
            || !product.letters.iter().all(|&letter| self.reach(letter, victim))
            || !meet(product.when(), self.when(victim))
        {
            return;
        }
        found.add_within(room, weight, || Kind::Hit {
            form: self.form.clone(),
            sources: self.links(&product.letters),
            victim: self.carriers[victim].link,
            product_hz: clamped(product.sum),
            offset_hz: clamped(offset),
            guard_hz,
        });
    }

    /// The links of a product's letters, those of equal coefficients by index.
    fn links(&self, letters: &[usize]) -> Vec<usize> {
        let mut links: Vec<usize> = letters.iter().map(|&rank| self.carriers[rank].link).collect();
        let mut done = 0;
        for same in self.form.coefficients().chunk_by(|a, b| a == b) {
            links[done..done + same.len()].sort_unstable();
            done += same.len();
        }
        links
    }
}
