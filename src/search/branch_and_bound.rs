//! Branch and bound: exact on small problems, with a proof when it ends.
//!
//! The link with the fewest clean candidates is next (as in DSATUR); its candidates are tried by rising
//! cost. A branch is cut when what it must lose already is no better than the best plan. Costs never
//! shrink when a carrier is added, so the table's total and the cheapest entries of the open links bound
//! what is to come. Like links take ascending frequencies, which removes their permutations.

use super::construct::{open_links, place_locked};
use super::stream::Stream;
use super::watch::{Goal, Watch, value};
use super::{Objective, service};
use crate::table::{BAR, HARD, Table};

/// Iterations of local search for a first plan to beat.
const WARM_UP: u64 = 2_000;

/// What is minimised, in order of weight.
type Loss = (u64, i64);

/// Search the whole tree, or as far as the budget goes.
pub(super) fn improve(table: &mut Table, stream: &mut Stream, watch: &mut Watch) {
    let objective = watch.run.objective;
    if objective == Objective::MaxService {
        watch.limit = watch.iterations + WARM_UP;
        service::improve(table, stream, watch);
        watch.limit = u64::MAX;
    }
    for link in 0..table.problem().locks.len() {
        table.lift(link);
    }
    place_locked(table, objective);
    let open = open_links(table);
    let links = table.problem().locks.len();
    let mut tree = Tree { objective, best: None, open: vec![false; links], refused: 0, watch };
    for link in open {
        tree.open[link] = true;
    }
    tree.refused = (0..links)
        .filter(|&link| table.choice(link).is_none() && !tree.open[link])
        .map(|link| u64::from(tree.watch.run.priorities[link]))
        .sum();
    let begun = tree.watch.goal;
    if tree.branch(table) && tree.best.is_some() && begun == Goal::Best {
        tree.watch.prove();
    }
}

/// The tree search at work.
struct Tree<'t, 'r> {
    objective: Objective,
    best: Option<Loss>,
    open: Vec<bool>,
    /// Priority refused so far.
    refused: u64,
    watch: &'t mut Watch<'r>,
}

impl Tree<'_, '_> {
    /// What the plan so far has lost for good.
    fn loss(&self, table: &Table) -> Loss {
        match self.objective {
            Objective::MaxService => (self.refused, table.total()),
            Objective::MinInterference => (table.total() as u64, 0),
            Objective::MinSpan | Objective::MinOrder => {
                let links = 0..self.open.len();
                let plan: Vec<_> = links.map(|link| table.frequency_hz(link)).collect();
                (value(self.objective, &plan), table.total())
            }
        }
    }

    fn worse(&self, loss: Loss) -> bool {
        self.best.is_some_and(|best| loss >= best)
    }

    /// Whether the branch was searched to its end.
    fn branch(&mut self, table: &mut Table) -> bool {
        if !self.watch.tick() {
            return false;
        }
        let mut loss = self.loss(table);
        let must_serve = self.objective != Objective::MaxService;
        let tolerant = self.objective == Objective::MinInterference;
        if !tolerant && table.total() >= HARD || must_serve && self.refused > 0 {
            return true;
        }
        // The open link with the fewest candidates left, and what the others lose at least.
        let mut next: Option<(usize, usize)> = None;
        for link in (0..self.open.len()).filter(|&link| self.open[link]) {
            let row = table.row(link);
            if tolerant {
                loss.0 += row.iter().copied().min().unwrap_or(0).max(0) as u64;
            }
            let limit = if tolerant { BAR } else { HARD };
            let left = row.iter().filter(|&&cost| cost < limit).count();
            if left == 0 {
                if must_serve {
                    return true;
                }
                loss.0 += u64::from(self.watch.run.priorities[link]);
            }
            if next.is_none_or(|(least, _)| left < least) {
                next = Some((left, link));
            }
        }
        if self.worse(loss) {
            return true;
        }
        let Some((_, link)) = next else {
            self.best = Some(loss);
            self.watch.offer(table);
            return true;
        };
        self.open[link] = false;
        let finished = self.candidates(table, link) && self.refusal(table, link);
        self.open[link] = true;
        finished
    }

    fn candidates(&mut self, table: &mut Table, link: usize) -> bool {
        let limit = if self.objective == Objective::MinInterference { BAR } else { HARD };
        let floor = self.alike(table, link).filter_map(|other| table.choice(other)).max();
        let mut choices: Vec<(i64, usize)> = table
            .row(link)
            .iter()
            .enumerate()
            .map(|(at, &cost)| (cost, at))
            .filter(|&(cost, at)| cost < limit && floor.is_none_or(|floor| at >= floor))
            .collect();
        choices.sort_unstable();
        for (_, at) in choices {
            table.place(link, at);
            let finished = self.worse(self.loss(table)) || self.branch(table);
            table.lift(link);
            if !finished {
                return false;
            }
        }
        true
    }

    fn refusal(&mut self, table: &mut Table, link: usize) -> bool {
        if self.objective != Objective::MaxService {
            return true;
        }
        let priority = u64::from(self.watch.run.priorities[link]);
        self.refused += priority;
        let finished = self.worse(self.loss(table)) || self.branch(table);
        self.refused -= priority;
        finished
    }

    /// Links that could change places with `link`.
    fn alike<'s>(&'s self, table: &'s Table, link: usize) -> impl Iterator<Item = usize> + 's {
        let problem = table.problem();
        let priorities = self.watch.run.priorities;
        let members = &problem.classes[problem.class_of[link]].members;
        members.iter().copied().filter(move |&other| {
            other != link
                && problem.locks[other].is_none()
                && (self.objective != Objective::MaxService
                    || priorities[other] == priorities[link])
        })
    }
}
