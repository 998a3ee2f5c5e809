//! How many neighbours of each vertex have each colour, with marks on what may not be chosen.

use pulp::Arch;

use super::Colour;
use super::graph::Graph;

/// Entries looked at together.
const BLOCK: usize = 16;
/// Marks on an entry, above the count.
const BANNED: u16 = 1 << 14;
const OWN: u16 = 1 << 15;
/// The part of an entry that counts.
pub(super) const COUNT: u16 = BANNED - 1;
/// The most vertices whose neighbours can be counted.
pub(super) const MOST: usize = COUNT as usize;

/// A row of counts for each vertex, padded to whole blocks.
#[derive(Debug)]
pub(super) struct Counts {
    arch: Arch,
    stride: usize,
    colours: usize,
    entries: Vec<u16>,
    /// Entries whose ban ends at an iteration, by its lowest bits.
    ending: Vec<Vec<u32>>,
    now: usize,
    /// Entries touched so far, by and large: what the search has cost, whatever the clock says.
    pub(super) work: u64,
}

impl Counts {
    pub(super) fn new(vertices: usize, colours: usize) -> Self {
        let stride = colours.div_ceil(BLOCK) * BLOCK;
        let ring = (vertices * 2 + 64).next_power_of_two();
        Self {
            arch: Arch::new(),
            stride,
            colours,
            entries: vec![0; stride * vertices],
            ending: vec![Vec::new(); ring],
            now: 0,
            work: 0,
        }
    }

    /// No neighbour coloured, nothing marked.
    pub(super) fn clear(&mut self) {
        for row in self.entries.chunks_exact_mut(self.stride) {
            row[..self.colours].fill(0);
            row[self.colours..].fill(u16::MAX);
        }
        self.ending.iter_mut().for_each(Vec::clear);
        self.now = 0;
    }

    #[inline]
    pub(super) fn count(&self, vertex: usize, colour: Colour) -> u16 {
        self.entries[vertex * self.stride + colour as usize] & COUNT
    }

    pub(super) fn row(&self, vertex: usize) -> &[u16] {
        &self.entries[vertex * self.stride..vertex * self.stride + self.colours]
    }

    /// Mark or unmark a vertex's own colour.
    pub(super) fn mark_own(&mut self, vertex: usize, colour: Colour, own: bool) {
        let entry = &mut self.entries[vertex * self.stride + colour as usize];
        *entry = if own { *entry | OWN } else { *entry & !OWN };
    }

    /// The neighbours of a vertex see one more of a colour, of some weight.
    pub(super) fn add(&mut self, graph: &Graph, vertex: usize, colour: Colour, weight: u16) {
        self.work += graph.degree(vertex) as u64;
        for &other in graph.near(vertex) {
            self.entries[other as usize * self.stride + colour as usize] += weight;
        }
    }

    /// The neighbours of a vertex see one less of a colour, of some weight.
    pub(super) fn remove(&mut self, graph: &Graph, vertex: usize, colour: Colour, weight: u16) {
        self.work += graph.degree(vertex) as u64;
        for &other in graph.near(vertex) {
            self.entries[other as usize * self.stride + colour as usize] -= weight;
        }
    }

    /// The neighbours of a vertex see it change from one colour to another.
    pub(super) fn exchange(&mut self, graph: &Graph, vertex: usize, from: Colour, to: Colour) {
        self.work += graph.degree(vertex) as u64;
        let (from, to) = (from as usize, to as usize);
        for &other in graph.near(vertex) {
            let begin = other as usize * self.stride;
            let row = &mut self.entries[begin..begin + self.stride];
            row[from] -= 1;
            row[to] += 1;
        }
    }

    /// The next iteration: bans that end are lifted.
    pub(super) fn step(&mut self) {
        self.now = (self.now + 1) & (self.ending.len() - 1);
        while let Some(entry) = self.ending[self.now].pop() {
            self.entries[entry as usize] &= !BANNED;
        }
    }

    /// Forbid a colour for so many iterations.
    pub(super) fn ban(&mut self, vertex: usize, colour: Colour, iterations: usize) {
        let entry = vertex * self.stride + colour as usize;
        self.entries[entry] |= BANNED;
        let until =
            (self.now + iterations.clamp(1, self.ending.len() - 1)) & (self.ending.len() - 1);
        self.ending[until].push(entry as u32);
    }

    /// Count a look at the rows of so many vertices.
    pub(super) fn look(&mut self, vertices: usize) {
        self.work += (vertices * (self.stride / BLOCK + 2)) as u64;
    }

    /// Collect those vertices whose cheapest colour without a mark changes the cost least; that change.
    ///
    /// `here` is what a vertex costs as it is.
    pub(super) fn best(
        &self,
        vertices: &[u32],
        here: impl Fn(u32) -> i32,
        ties: &mut Vec<u32>,
    ) -> i32 {
        let mut found = i32::MAX;
        ties.clear();
        self.arch.dispatch(
            #[inline(always)]
            || {
                for &vertex in vertices {
                    let begin = vertex as usize * self.stride;
                    let least = least(&self.entries[begin..begin + self.stride], u16::MAX);
                    if least >= BANNED {
                        continue;
                    }
                    let change = i32::from(least) - here(vertex);
                    if change < found {
                        found = change;
                        ties.clear();
                    }
                    if change == found {
                        ties.push(vertex);
                    }
                }
            },
        );
        found
    }

    /// Moves, forbidden or not, that change the cost by the least there is and no more than `most`; that change.
    pub(super) fn aspired(
        &self,
        vertices: &[u32],
        here: impl Fn(u32) -> i32,
        mut most: i32,
        moves: &mut Vec<(u32, Colour)>,
    ) -> i32 {
        moves.clear();
        for &vertex in vertices {
            let own = here(vertex);
            if -own > most {
                continue;
            }
            let begin = vertex as usize * self.stride;
            let row = &self.entries[begin..begin + self.stride];
            let least = self.arch.dispatch(
                #[inline(always)]
                || least(row, !BANNED),
            );
            let change = i32::from(least) - own;
            if least >= BANNED || change > most {
                continue;
            }
            if change < most {
                most = change;
                moves.clear();
            }
            let fits = row.iter().enumerate().filter(|&(_, &entry)| entry & !BANNED == least);
            moves.extend(fits.map(|(colour, _)| (vertex, colour as Colour)));
        }
        most
    }
}

#[allow(clippy::inline_always, reason = "it must be compiled for the instructions dispatched to")]
#[inline(always)]
fn least(row: &[u16], mask: u16) -> u16 {
    let mut lanes = [u16::MAX; BLOCK];
    for block in row.chunks_exact(BLOCK) {
        for (lane, &entry) in lanes.iter_mut().zip(block) {
            *lane = (*lane).min(entry & mask);
        }
    }
    lanes.into_iter().min().unwrap_or(u16::MAX)
}
