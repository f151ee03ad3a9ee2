//! The largest flow through a small network: who can hear how much, in all.

#![expect(
    clippy::indexing_slicing,
    reason = "nodes are counted from 0 by the one caller, below the number it gave"
)]

/// A network of nodes 0 … n − 1 with a capacity from each to each.
pub(super) struct Flow {
    capacity: Vec<Vec<u64>>,
}

impl Flow {
    pub(super) fn new(n_nodes: usize) -> Self {
        Self {
            capacity: vec![vec![0; n_nodes]; n_nodes],
        }
    }

    /// Lets at most so much flow between two nodes.
    pub(super) fn allow(&mut self, from: usize, to: usize, capacity: u64) {
        self.capacity[from][to] += capacity;
    }

    /// The largest flow: shortest paths are filled until none is left (Edmonds and Karp 1972).
    pub(super) fn largest(mut self, source: usize, sink: usize) -> u64 {
        let mut total = 0;
        while let Some(path) = self.shortest_path(source, sink) {
            let steps: Vec<(usize, usize)> = path.windows(2).map(|two| (two[0], two[1])).collect();
            let least = steps.iter().map(|&(a, b)| self.capacity[a][b]).min();
            let least = least.unwrap_or(0);
            for (from, to) in steps {
                self.capacity[from][to] -= least;
                self.capacity[to][from] += least;
            }
            total += least;
        }
        total
    }

    fn shortest_path(&self, source: usize, sink: usize) -> Option<Vec<usize>> {
        let mut came_from = vec![None; self.capacity.len()];
        let mut reached = vec![source];
        let mut next = 0;
        while next < reached.len() && came_from[sink].is_none() {
            let from = reached[next];
            next += 1;
            for (to, capacity) in self.capacity[from].iter().enumerate() {
                if *capacity > 0 && to != source && came_from[to].is_none() {
                    came_from[to] = Some(from);
                    reached.push(to);
                }
            }
        }
        let mut path = vec![sink];
        let mut at = sink;
        while at != source {
            at = came_from[at]?;
            path.push(at);
        }
        path.reverse();
        Some(path)
    }
}
