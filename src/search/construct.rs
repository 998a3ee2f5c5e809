//! Construction: first-fit and DSATUR on the cost table.

use std::cmp::Reverse;

use super::rlf;
use super::stream::Stream;
use super::watch::Watch;
use super::{Method, Objective};
use crate::table::{HARD, Table};

/// Which of the cheapest candidates a link takes.
pub(super) enum Choice<'s> {
    /// The lowest frequency.
    Lowest,
    /// Any of them.
    Random(&'s mut Stream),
    /// Any that breaks as few hard rules, whatever its soft cost.
    Loose(&'s mut Stream),
}

impl Choice<'_> {
    /// The least cost for `link`, and the candidate chosen.
    pub(super) fn of(&mut self, table: &mut Table, link: usize) -> Option<(i64, usize)> {
        if let Self::Loose(stream) = self {
            let (least, _) = table.cheapest(link);
            let row = table.row(link);
            let broken = least / HARD;
            let fits = row.iter().enumerate().filter(|&(_, &cost)| cost / HARD == broken);
            return stream.pick(fits).map(|(at, &cost)| (cost, at));
        }
        let (cost, mut all) = table.cheapest(link);
        let at = match self {
            Self::Lowest => all.next(),
            Self::Random(stream) | Self::Loose(stream) => stream.pick(all),
        };
        at.map(|at| (cost, at))
    }
}

/// Put `link` on one of its cheapest candidates, unless that would break a hard rule in max-service.
fn settle(table: &mut Table, objective: Objective, link: usize, choice: &mut Choice) {
    if let Some((cost, at)) = choice.of(table, link)
        && (cost < HARD || objective == Objective::MinInterference)
    {
        table.place(link, at);
    }
}

/// Put every locked link that is off the air on its lock; in max-service only where that breaks no hard rule.
pub(super) fn place_locked(table: &mut Table, objective: Objective) {
    let locks = table.problem().locks.clone();
    for (link, lock) in locks.into_iter().enumerate() {
        if let Some(at) = lock
            && table.choice(link).is_none()
            && (objective == Objective::MinInterference || table.cost(link, at) < HARD)
        {
            table.place(link, at);
        }
    }
}

/// Put every link that still finds a clean frequency on its lowest, by falling priority, while `go_on`.
pub(super) fn fill(
    table: &mut Table,
    objective: Objective,
    priorities: &[u32],
    go_on: impl Fn() -> bool,
) {
    let mut open = open_links(table);
    open.sort_by_key(|&link| Reverse(priorities[link]));
    for link in open {
        if !go_on() {
            break;
        }
        settle(table, objective, link, &mut Choice::Lowest);
    }
}

/// Links that are free to move and not placed.
pub(super) fn open_links(table: &Table) -> Vec<usize> {
    let locks = &table.problem().locks;
    (0..locks.len()).filter(|&i| locks[i].is_none() && table.choice(i).is_none()).collect()
}

/// Build a plan from the locked links up, by first-fit, DSATUR or RLF.
///
/// First-fit takes the links by falling priority and puts each on its lowest cheapest frequency.
/// DSATUR (Brelaz 1979) takes, within a priority, the link with the fewest clean frequencies left,
/// then the one with the most unplaced neighbours. O(links * (move + touched rows)).
pub(super) fn construct(table: &mut Table, method: Method, watch: &mut Watch, choice: &mut Choice) {
    let objective = watch.run.objective;
    place_locked(table, objective);
    let mut open = open_links(table);
    let priorities = watch.run.priorities;
    if method == Method::Rlf {
        rlf::fill(table, &open, watch);
        for link in open_links(table) {
            settle(table, objective, link, choice);
        }
    } else if method == Method::FirstFit {
        open.sort_by_key(|&link| Reverse(priorities[link]));
        for link in open {
            if !watch.may_go_on() {
                break;
            }
            settle(table, objective, link, choice);
        }
    } else {
        dsatur(table, &open, watch, choice);
    }
    watch.offer(table);
}

fn dsatur(table: &mut Table, open: &[usize], watch: &mut Watch, choice: &mut Choice) {
    let problem = table.problem().clone();
    let priorities = watch.run.priorities;
    // Members of a class differ in priority only: they queue by it.
    let mut queues: Vec<Vec<usize>> = vec![Vec::new(); problem.classes.len()];
    for &link in open {
        queues[problem.class_of[link]].push(link);
    }
    for queue in &mut queues {
        queue.sort_by_key(|&link| (priorities[link], Reverse(link)));
    }
    let mut clean: Vec<Option<usize>> = vec![None; queues.len()];
    // Unplaced neighbours of every class.
    let mut degree: Vec<usize> = (0..queues.len())
        .map(|class| problem.neighbours_of(class).map(|other| queues[other].len()).sum())
        .collect();
    while watch.may_go_on() {
        let next = (0..queues.len())
            .filter_map(|class| {
                let &link = queues[class].last()?;
                let left = *clean[class].get_or_insert_with(|| {
                    table.class_row(class).iter().filter(|&&cost| cost < HARD).count()
                });
                Some((Reverse(priorities[link]), left, Reverse(degree[class]), class))
            })
            .min();
        let Some((.., class)) = next else { break };
        let Some(link) = queues[class].pop() else { break };
        settle(table, watch.run.objective, link, choice);
        // Neighbourhood is mutual, and as often from either side.
        for other in problem.neighbours_of(class) {
            degree[other] -= 1;
        }
        for &other in table.touched(class) {
            clean[other] = None;
        }
    }
}
