//! The parts of a problem that a largest set can begin, and which link takes what of a set.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use crate::problem::compile::Compiled;
use crate::problem::{Guard, Profile, Weight};
use crate::product::Form;
use crate::search::largest::SetQuestion;
use crate::table::{HARD, Table};

/// One part: links in one air, each of which hears every other, or which do so by turns.
#[derive(Debug)]
pub(super) struct Part {
    /// Links that are free to move, by falling priority.
    pub(super) links: Vec<usize>,
    pub(super) question: SetQuestion,
    /// How large a set is large enough: where kinds differ, not every link can take what is left.
    pub(super) enough: usize,
    /// Whether all hear each other at one time.
    pub(super) together: bool,
    /// Where the links of each class could stand beside what stands still, ascending.
    open_hz: BTreeMap<usize, Vec<i64>>,
    /// Whether they are of one kind and nothing stands still among them: then what the set cannot hold the
    /// problem cannot.
    pub(super) alone: bool,
}

impl Part {
    /// Which link takes which candidate, out of a set that is clean in one air.
    pub(super) fn given(&self, still: &mut Table, set_hz: &[i64]) -> Vec<(usize, usize)> {
        if self.together { self.matched(still, set_hz) } else { self.spread(still, set_hz) }
    }

    /// As many links as possible, the weightier ones first, each on a frequency of its own.
    fn matched(&self, still: &Table, set_hz: &[i64]) -> Vec<(usize, usize)> {
        let takes = |link: usize, at: usize| {
            let open = self.open_hz.get(&still.problem().class_of[link]);
            open.is_some_and(|open| open.binary_search(&set_hz[at]).is_ok())
        };
        let mut holder = vec![None; set_hz.len()];
        for &link in &self.links {
            settle(link, &mut holder, &mut vec![false; set_hz.len()], &takes);
        }
        let held = holder.iter().zip(set_hz).filter_map(|(link, hz)| Some(((*link)?, hz)));
        held.filter_map(|(link, hz)| candidate(still, link, *hz).map(|at| (link, at))).collect()
    }

    /// One link after another on the frequency that most others use where, or when, they do not hear it.
    fn spread(&self, table: &mut Table, set_hz: &[i64]) -> Vec<(usize, usize)> {
        let mut users = vec![0; set_hz.len()];
        let mut given = Vec::new();
        for &link in &self.links {
            let homes: Vec<_> = set_hz.iter().map(|&hz| candidate(table, link, hz)).collect();
            let row = table.row(link);
            let clean = homes.iter().enumerate().filter_map(|(i, &at)| Some((i, at?)));
            let clean = clean.filter(|&(_, at)| row[at] < HARD);
            if let Some((i, at)) = clean.max_by_key(|&(i, _)| (users[i], Reverse(i))) {
                table.place(link, at);
                users[i] += 1;
                given.push((link, at));
            }
        }
        for &(link, _) in &given {
            table.lift(link);
        }
        given
    }
}

fn candidate(table: &Table, link: usize, hz: i64) -> Option<usize> {
    table.candidates_hz(link).binary_search(&hz).ok()
}

/// Give a link a place, moving others along where that helps (an augmenting path, Kuhn 1955).
fn settle(
    link: usize,
    holder: &mut [Option<usize>],
    seen: &mut [bool],
    takes: &impl Fn(usize, usize) -> bool,
) -> bool {
    for at in 0..holder.len() {
        if seen[at] || !takes(link, at) {
            continue;
        }
        seen[at] = true;
        if holder[at].is_none_or(|other| settle(other, holder, seen, takes)) {
            holder[at] = Some(link);
            return true;
        }
    }
    false
}

/// All parts of a problem, given a table on which nothing but the locked links stands.
pub(super) fn parts(problem: &Compiled, table: &mut Table, priorities: &[u32]) -> Vec<Part> {
    let open = |class: usize| {
        let members = problem.classes[class].members.iter().copied();
        members.filter(|&link| problem.locks[link].is_none())
    };
    let mut parts = Vec::new();
    for Air { classes: free, fullest, together } in airs(problem, &open) {
        let first = free[0];
        let mut links: Vec<usize> = free.iter().flat_map(|&class| open(class)).collect();
        let met = |link: usize| problem.neighbours_of(problem.class_of[link]).count();
        links.sort_by_cached_key(|&link| (Reverse(priorities[link]), Reverse(met(link)), link));
        let alike = free.iter().all(|&class| {
            let (one, other) = (&problem.classes[first], &problem.classes[class]);
            (one.profile, one.domain) == (other.profile, other.domain)
        });
        let profile = |class: usize| &problem.source.profiles[problem.classes[class].profile];
        let mixing = free.iter().all(|&class| profile(class).mixes && guarded(profile(class)));
        if !mixing || links.len() < 3 {
            continue;
        }
        // Who else may move is in no rule with them.
        let others = |class: usize| {
            let heard = problem.groups.iter().filter(move |group| group.classes.contains(&class));
            let near = problem.neighbours_of(class);
            near.chain(heard.flat_map(|group| group.classes.iter().copied()))
                .filter(|other| !free.contains(other))
        };
        let apart = free.iter().all(|&class| others(class).all(|it| open(it).next().is_none()));
        let paired = links.iter().any(|&link| !problem.pairs[link].is_empty());
        let spacing = free.iter().flat_map(|&class| &problem.classes[class].neighbours);
        let spacing = spacing.filter(|(other, _)| free.contains(other)).map(|&(_, hz)| hz).max();
        let (true, false, Some(separation_hz)) = (apart, paired, spacing) else { continue };
        let still = |class: usize| {
            let members = problem.classes[class].members.iter();
            members.filter(|&&link| problem.locks[link].is_some()).count()
        };
        let alone = alike
            && together
            && free.iter().all(|&class| still(class) == 0 && others(class).next().is_none());
        // Wherever any of them could stand beside what stands still.
        let mut open_hz = BTreeMap::new();
        for &class in &free {
            let candidates = problem.candidates_hz[problem.classes[class].domain].iter();
            let row = table.class_row(class).iter();
            let clean = candidates.zip(row).filter(|&(_, &cost)| cost < HARD);
            open_hz.insert(class, clean.map(|(&hz, _)| hz).collect::<Vec<i64>>());
        }
        let mut candidates_hz: Vec<i64> = open_hz.values().flatten().copied().collect();
        candidates_hz.sort_unstable();
        candidates_hz.dedup();
        if candidates_hz.is_empty() {
            continue;
        }
        let mut strictest: BTreeMap<Form, i64> = BTreeMap::new();
        for guard in free.iter().flat_map(|&class| hard_guards(profile(class))) {
            let widest = strictest.entry(guard.form.clone()).or_default();
            *widest = guard.guard_hz.max(*widest);
        }
        let guards = strictest.into_iter().collect();
        let question = SetQuestion { candidates_hz, separation_hz, guards };
        let enough = if alike && together { links.len() } else { fullest + fullest / 4 };
        parts.push(Part { links, question, enough, together, open_hz, alone });
    }
    parts
}

fn hard_guards(profile: &Profile) -> impl Iterator<Item = &Guard> {
    profile.guards.iter().filter(|guard| guard.weight == Weight::Hard)
}

/// Whether some product must keep off.
fn guarded(profile: &Profile) -> bool {
    hard_guards(profile).any(|guard| guard.guard_hz > 0)
}

/// Classes of links that may move and hear each other, directly or by others between.
struct Air {
    classes: Vec<usize>,
    /// Links of the fullest mixing group.
    fullest: usize,
    /// Whether there is one group only.
    together: bool,
}

/// The airs of a problem: mixing groups that share a class that may move are one.
fn airs<I: Iterator<Item = usize>>(problem: &Compiled, open: &impl Fn(usize) -> I) -> Vec<Air> {
    let mut airs: Vec<Air> = Vec::new();
    for group in problem.groups.iter().filter(|group| group.maximal) {
        let classes: Vec<usize> =
            group.classes.iter().copied().filter(|&class| open(class).next().is_some()).collect();
        if classes.is_empty() {
            continue;
        }
        let links = classes.iter().map(|&class| open(class).count()).sum();
        let mut one = Air { classes, fullest: links, together: true };
        let (near, far): (Vec<Air>, Vec<Air>) = airs
            .into_iter()
            .partition(|air| air.classes.iter().any(|class| one.classes.contains(class)));
        for air in near {
            one.classes.extend(air.classes);
            one.fullest = one.fullest.max(air.fullest);
            one.together = false;
        }
        one.classes.sort_unstable();
        one.classes.dedup();
        airs = far;
        airs.push(one);
    }
    airs
}
