//! Min-order: full plans on ever fewer frequencies, each searched by one of the methods.

use std::collections::BTreeMap;

use super::Improve;
use super::stream::Stream;
use super::watch::{Goal, Watch};
use crate::table::{HARD, Table};

/// Iterations that the first attempts may take at most.
const LONGEST: u64 = 4_000;

/// Give up frequencies one by one until the budget is spent or the bound is met.
pub(super) fn descend(table: &mut Table, improve: Improve, stream: &mut Stream, watch: &mut Watch) {
    watch.goal = Goal::Clean;
    improve(table, stream, watch);
    watch.goal = Goal::Best;
    watch.offer(table);
    let mut all_hz: Vec<i64> = {
        let problem = table.problem();
        let lists = problem.classes.iter().map(|class| &problem.candidates_hz[class.domain]);
        lists.flatten().copied().collect()
    };
    all_hz.sort_unstable();
    all_hz.dedup();
    let links = watch.run.priorities.len();
    // Frequencies that only make sense together go and come together.
    let pairwise = watch.run.pairwise.as_ref();
    let partners = pairwise.map(|it| it.partners(table.problem())).unwrap_or_default();
    let full =
        |table: &Table| (0..links).all(|link| table.choice(link).is_some()) && table.total() < HARD;
    if !full(table) {
        return;
    }
    let mut kept: Vec<Option<usize>> = (0..links).map(|link| table.choice(link)).collect();
    let mut share = (watch.left() / 64).clamp(500, LONGEST);
    let mut failures = 0;
    while watch.tick() && watch.known().is_some_and(|known| known > watch.run.floor) {
        let allowed = choose(table, &all_hz, &partners, failures, stream);
        let barred: Vec<i64> =
            all_hz.iter().copied().filter(|hz| allowed.binary_search(hz).is_err()).collect();
        for link in 0..links {
            if table.problem().locks[link].is_none()
                && table.frequency_hz(link).is_some_and(|hz| allowed.binary_search(&hz).is_err())
            {
                table.lift(link);
            }
        }
        for &hz in &barred {
            table.bar(hz, hz, true);
        }
        watch.goal = Goal::Clean;
        watch.limit = watch.iterations.saturating_add(share);
        improve(table, stream, watch);
        watch.limit = u64::MAX;
        watch.goal = Goal::Best;
        for &hz in &barred {
            table.bar(hz, hz, false);
        }
        if full(table) {
            watch.offer(table);
            kept = (0..links).map(|link| table.choice(link)).collect();
            failures = 0;
        } else {
            restore(table, &kept);
            failures += 1;
            if failures % 16 == 0 {
                share = share.saturating_mul(2);
            }
        }
    }
}

/// One frequency fewer than the plan uses: without a little-used one, and now and then with others exchanged.
fn choose(
    table: &Table,
    all_hz: &[i64],
    partners: &BTreeMap<i64, i64>,
    failures: usize,
    stream: &mut Stream,
) -> Vec<i64> {
    let mut users: BTreeMap<i64, usize> = BTreeMap::new();
    let mut fixed: Vec<i64> = Vec::new();
    for (link, lock) in table.problem().locks.iter().enumerate() {
        if let Some(hz) = table.frequency_hz(link) {
            *users.entry(hz).or_default() += 1;
            if lock.is_some() {
                fixed.push(hz);
            }
        }
    }
    let mut used: Vec<(usize, i64)> = users.iter().map(|(&hz, &count)| (count, hz)).collect();
    used.sort_unstable();
    let mut allowed: Vec<i64> = used.iter().map(|&(_, hz)| hz).collect();
    // The least used frequency goes first; later any of the less used.
    let exchanged = if failures == 0 { 0 } else { stream.below(3) };
    for turn in 0..=exchanged {
        let reach = if failures == 0 { 1 } else { allowed.len().div_ceil(2) };
        let open: Vec<usize> = (0..allowed.len())
            .take(reach.max(1))
            .filter(|&i| !fixed.contains(&allowed[i]))
            .collect();
        if let Some(i) = stream.pick(open.into_iter()) {
            let gone = allowed.remove(i);
            let partner = partners.get(&gone).filter(|hz| !fixed.contains(hz));
            allowed.retain(|hz| Some(hz) != partner);
        }
        if turn > 0
            && let Some(hz) = stream.pick(
                all_hz
                    .iter()
                    .copied()
                    .filter(|hz| !users.contains_key(hz) && !allowed.contains(hz)),
            )
        {
            allowed.push(hz);
            if let Some(&other) = partners.get(&hz).filter(|other| !allowed.contains(other)) {
                allowed.push(other);
            }
        }
    }
    allowed.sort_unstable();
    allowed
}

fn restore(table: &mut Table, kept: &[Option<usize>]) {
    for link in 0..kept.len() {
        table.lift(link);
    }
    for (link, at) in kept.iter().enumerate() {
        if let Some(at) = *at {
            table.place(link, at);
        }
    }
}
