//! Recursive largest first (Leighton 1979): one frequency after the other is filled as far as it goes.

use super::watch::Watch;
use crate::table::{HARD, Table};

/// Fill the frequencies from the lowest up with the open links.
///
/// The first link on a frequency is the one with the most open neighbours; each further one has the most
/// neighbours that can no longer take the frequency, so that it takes little from others. Links that no
/// frequency suits are placed by [`super::construct`]'s rules of the objective only if they break nothing.
/// O(frequencies * links * (links + neighbours)).
pub(super) fn fill(table: &mut Table, open: &[usize], watch: &mut Watch) {
    let problem = table.problem().clone();
    let mut open = open.to_vec();
    let mut frequencies_hz: Vec<i64> = problem
        .classes
        .iter()
        .flat_map(|class| problem.candidates_hz[class.domain].iter().copied())
        .collect();
    frequencies_hz.sort_unstable();
    frequencies_hz.dedup();
    for hz in frequencies_hz {
        if open.is_empty() || !watch.may_go_on() {
            break;
        }
        let mut waiting = vec![0_usize; problem.classes.len()];
        for &link in &open {
            waiting[problem.class_of[link]] += 1;
        }
        let mut blocked = vec![false; problem.classes.len()];
        let mut begun = false;
        loop {
            // Members of a class are alike but for priority: one of each stands for all.
            let mut best: Option<(u32, usize, usize, usize)> = None;
            let mut judged = vec![false; problem.classes.len()];
            for (i, &link) in open.iter().enumerate() {
                let class = problem.class_of[link];
                let priority = watch.run.priorities[link];
                if blocked[class] || (judged[class] && best.is_some_and(|b| b.0 >= priority)) {
                    continue;
                }
                judged[class] = true;
                let at = table.candidates_hz(link).binary_search(&hz).ok();
                if at.is_none_or(|at| table.cost(link, at) >= HARD) {
                    blocked[class] = true;
                    continue;
                }
                let near = problem.neighbours_of(class);
                let shut: usize = near.filter(|&k| blocked[k]).map(|k| waiting[k]).sum();
                let free: usize =
                    problem.neighbours_of(class).filter(|&k| !blocked[k]).map(|k| waiting[k]).sum();
                let (first, second) = if begun { (shut, usize::MAX - free) } else { (free, shut) };
                if best.is_none_or(|b| (priority, first, second) > (b.0, b.1, b.2)) {
                    best = Some((priority, first, second, i));
                }
            }
            let Some((.., i)) = best else { break };
            let link = open.remove(i);
            waiting[problem.class_of[link]] -= 1;
            if let Ok(at) = table.candidates_hz(link).binary_search(&hz) {
                table.place(link, at);
            }
            begun = true;
            // Products reach further than neighbours: everything open is looked at again.
            if !table.touched(problem.class_of[link]).is_empty() {
                for &k in table.touched(problem.class_of[link]) {
                    blocked[k] = false;
                }
            }
        }
    }
}
