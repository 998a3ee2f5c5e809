//! From a network that is nothing but a graph to colours, and from colours to plans on the table.

use super::graph::Graph;
use super::{Colour, MOST, NONE, Sink, descend};
use crate::search::Objective;
use crate::search::stream::Stream;
use crate::search::watch::{Run, Watch};
use crate::table::{HARD, Table};

/// A problem that is plain colouring: links of like candidates, of which some two may not share one.
#[derive(Debug)]
pub(in crate::search) struct Plain {
    graph: Graph,
    /// The candidates of every link, ascending.
    candidates_hz: Vec<i64>,
    objective: Objective,
}

impl Plain {
    /// The neighbours of every link, as seen from both; `None` where colouring is of no use or too large.
    pub(in crate::search) fn new(
        neighbours: &[Vec<u32>],
        candidates_hz: &[i64],
        objective: Objective,
    ) -> Option<Self> {
        let served = matches!(objective, Objective::MinSpan | Objective::MinOrder);
        let (links, colours) = (neighbours.len(), candidates_hz.len());
        if !served || links == 0 || links > MOST || colours == 0 || colours >= usize::from(NONE) {
            return None;
        }
        let graph = Graph::new(neighbours);
        Some(Self { graph, candidates_hz: candidates_hz.to_vec(), objective })
    }

    /// Search with fewer and fewer colours, from the plan on the table; the best found is left there.
    pub(in crate::search) fn improve(
        &self,
        table: &mut Table,
        stream: &mut Stream,
        watch: &mut Watch,
    ) {
        let links = self.graph.len();
        let full = (0..links).all(|link| table.choice(link).is_some()) && table.total() < HARD;
        let start: Option<Vec<Colour>> = full.then(|| {
            (0..links).map(|link| table.choice(link).map_or(NONE, |at| at as Colour)).collect()
        });
        let mut desk = Desk { plain: self, table };
        descend(&self.graph, start, &mut desk, stream, watch);
    }

    /// The narrowest run of so many candidates: its first one, and its span.
    fn narrowest(&self, colours: usize) -> Option<(usize, u64)> {
        let runs = self.candidates_hz.windows(colours).enumerate();
        runs.map(|(at, run)| (at, (run[colours - 1] - run[0]) as u64))
            .min_by_key(|&(at, span)| (span, at))
    }

    /// What the objective is worth with so many colours.
    fn value(&self, colours: usize) -> Option<u64> {
        let (_, span) = self.narrowest(colours)?;
        Some(if self.objective == Objective::MinSpan { span } else { colours as u64 })
    }

    /// The most colours that are worth less than `value`.
    fn colours_below(&self, value: u64) -> usize {
        let all = self.candidates_hz.len();
        // More colours never span less.
        let (mut low, mut high) = (0, all);
        while low < high {
            let middle = (low + high).div_ceil(2);
            if self.value(middle).is_some_and(|it| it < value) {
                low = middle;
            } else {
                high = middle - 1;
            }
        }
        low
    }
}

/// Where colourings are put on the table and offered.
struct Desk<'s> {
    plain: &'s Plain,
    table: &'s mut Table,
}

impl Sink for Desk<'_> {
    fn found(&mut self, plan: &[Colour], watch: &mut Watch) {
        let colours = plan.iter().max().map_or(0, |&colour| usize::from(colour) + 1);
        let Some((first, _)) = self.plain.narrowest(colours) else {
            // More colours than candidates: what fits is better than nothing.
            if watch.best.is_none() {
                let most = self.plain.candidates_hz.len();
                self.put(plan.iter().map(|&colour| usize::from(colour)).map(|at| at.min(most)));
                watch.offer(self.table);
            }
            return;
        };
        self.put(plan.iter().map(|&colour| first + usize::from(colour)));
        watch.offer(self.table);
    }

    fn below(&self, watch: &Watch) -> Option<usize> {
        let run: &Run = watch.run;
        let most = match watch.known() {
            Some(known) if known <= run.floor => return None,
            Some(known) => self.plain.colours_below(known),
            None => self.plain.candidates_hz.len(),
        };
        Some(most + 1)
    }

    fn floor(&self, watch: &Watch) -> usize {
        self.plain.colours_below(watch.run.floor) + 1
    }
}

impl Desk<'_> {
    /// Put every link on its candidate; one beyond the last is no candidate.
    fn put(&mut self, plan: impl Iterator<Item = usize>) {
        for (link, at) in plan.enumerate() {
            if self.table.choice(link) != Some(at) {
                self.table.lift(link);
            }
            if self.table.choice(link).is_none() && at < self.plain.candidates_hz.len() {
                self.table.place(link, at);
            }
        }
    }
}
