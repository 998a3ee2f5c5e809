//! A graph for colouring: neighbours as lists and as rows of bits.

/// An undirected graph without loops.
#[derive(Debug, Clone)]
pub(in crate::search) struct Graph {
    start: Vec<u32>,
    near: Vec<u32>,
    rows: Vec<u64>,
    words: usize,
}

impl Graph {
    /// A graph from every vertex's neighbours, each edge from both sides.
    pub(in crate::search) fn new(lists: &[Vec<u32>]) -> Self {
        let words = lists.len().div_ceil(64);
        let mut graph =
            Self { start: vec![0], near: Vec::new(), rows: vec![0; words * lists.len()], words };
        for (vertex, list) in lists.iter().enumerate() {
            for &other in list {
                graph.rows[vertex * words + other as usize / 64] |= 1 << (other % 64);
            }
            // From the bits: ascending, and each neighbour once.
            let row = &graph.rows[vertex * words..(vertex + 1) * words];
            graph.near.extend(members(row));
            graph.start.push(graph.near.len() as u32);
        }
        graph
    }

    pub(super) fn len(&self) -> usize {
        self.start.len() - 1
    }

    pub(in crate::search) fn near(&self, vertex: usize) -> &[u32] {
        &self.near[self.start[vertex] as usize..self.start[vertex + 1] as usize]
    }

    pub(super) fn degree(&self, vertex: usize) -> usize {
        (self.start[vertex + 1] - self.start[vertex]) as usize
    }

    /// The neighbours as bits.
    pub(super) fn row(&self, vertex: usize) -> &[u64] {
        &self.rows[vertex * self.words..(vertex + 1) * self.words]
    }

    #[inline]
    pub(super) fn joined(&self, a: usize, b: usize) -> bool {
        self.rows[a * self.words + b / 64] >> (b % 64) & 1 == 1
    }

    /// The graph on some of the vertices, numbered in the order given.
    pub(super) fn induced(&self, kept: &[u32]) -> Self {
        let mut number = vec![u32::MAX; self.len()];
        for (new, &old) in kept.iter().enumerate() {
            number[old as usize] = new as u32;
        }
        let renamed = |&old: &u32| {
            let near = self.near(old as usize).iter().map(|&other| number[other as usize]);
            near.filter(|&new| new != u32::MAX).collect()
        };
        Self::new(&kept.iter().map(renamed).collect::<Vec<_>>())
    }
}

/// The members of a set of bits, ascending.
pub(super) fn members(set: &[u64]) -> impl Iterator<Item = u32> + '_ {
    set.iter().enumerate().flat_map(|(i, &word)| {
        let mut rest = word;
        std::iter::from_fn(move || {
            (rest != 0).then(|| {
                let bit = rest.trailing_zeros();
                rest &= rest - 1;
                i as u32 * 64 + bit
            })
        })
    })
}
