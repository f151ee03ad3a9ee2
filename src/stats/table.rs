//! Items × raters with gaps: the one shape that every estimator of agreement takes.

/// Judgements as a table of items (rows) by raters (columns), most cells of which may be empty.
///
/// Stored by rows: 16 bytes a judgement at most, whatever the number of raters. Within an item the cells stand in
/// the order of the raters.
#[derive(Debug, Clone)]
pub struct Table {
    n_raters: usize,
    n_categories: usize,
    starts: Vec<usize>,
    cells: Vec<Cell>,
}

/// One judgement of an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cell {
    /// The rater, from 0.
    pub rater: u32,
    /// The category, from 0; on an ordinal scale in its order.
    pub category: u32,
}

/// Why judgements make no table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum TableError {
    /// A number is beyond the declared size.
    #[error("item {item}, rater {rater} or category {category} is beyond the size of the table")]
    Beyond {
        /// The item's number.
        item: u32,
        /// The rater's number.
        rater: u32,
        /// The category's number.
        category: u32,
    },
    /// A rater judged an item twice.
    #[error("rater {rater} judged item {item} twice")]
    Twice {
        /// The item's number.
        item: u32,
        /// The rater's number.
        rater: u32,
    },
}

impl Table {
    /// A table of `judgements` `(item, rater, category)`, each number counted from 0 and below the size given for it.
    ///
    /// # Errors
    /// [`TableError`] for a number beyond its size, or where a rater judged an item twice.
    pub fn new(
        n_items: usize,
        n_raters: usize,
        n_categories: usize,
        judgements: &[(u32, u32, u32)],
    ) -> Result<Self, TableError> {
        let table = Self::with_repeats(n_items, n_raters, n_categories, judgements)?;
        for (item, cells) in (0..).zip(table.items()) {
            if let Some([first, _]) = cells.array_windows().find(|[a, b]| a.rater == b.rater) {
                return Err(TableError::Twice {
                    item,
                    rater: first.rater,
                });
            }
        }
        Ok(table)
    }

    /// The same, where a rater may judge an item several times and each judgement counts.
    ///
    /// # Errors
    /// [`TableError::Beyond`] for a number beyond its size.
    pub fn with_repeats(
        n_items: usize,
        n_raters: usize,
        n_categories: usize,
        judgements: &[(u32, u32, u32)],
    ) -> Result<Self, TableError> {
        let mut starts = vec![0_usize; n_items + 1];
        for &(item, rater, category) in judgements {
            let inside = (rater as usize) < n_raters && (category as usize) < n_categories;
            match starts.get_mut(item as usize + 1) {
                Some(start) if inside => *start += 1,
                _ => {
                    return Err(TableError::Beyond {
                        item,
                        rater,
                        category,
                    });
                }
            }
        }
        let mut total = 0;
        for start in &mut starts {
            total += *start;
            *start = total;
        }
        let mut next = starts.clone();
        let mut cells = vec![
            Cell {
                rater: 0,
                category: 0
            };
            judgements.len()
        ];
        for &(item, rater, category) in judgements {
            if let Some(place) = next.get_mut(item as usize) {
                if let Some(cell) = cells.get_mut(*place) {
                    *cell = Cell { rater, category };
                }
                *place += 1;
            }
        }
        let mut table = Self {
            n_raters,
            n_categories,
            starts,
            cells,
        };
        table.sort_within_items();
        Ok(table)
    }

    /// The cells of each item, in the order of the items.
    pub fn items(&self) -> impl ExactSizeIterator<Item = &[Cell]> {
        self.starts
            .array_windows()
            .map(|&[start, end]| self.cells.get(start..end).unwrap_or_default())
    }

    /// How many items it has, judged or not.
    pub fn n_items(&self) -> usize {
        self.starts.len() - 1
    }

    /// How many raters it has.
    pub fn n_raters(&self) -> usize {
        self.n_raters
    }

    /// How many categories the scale has, seen or not.
    pub fn n_categories(&self) -> usize {
        self.n_categories
    }

    /// How many judgements it holds.
    pub fn n_judgements(&self) -> usize {
        self.cells.len()
    }

    /// Whether every rater judged every item.
    pub fn is_complete(&self) -> bool {
        self.items().all(|cells| cells.len() == self.n_raters)
    }

    /// The judgements of each rater as `(item, category)`, in the order of the items.
    pub fn by_rater(&self) -> Vec<Vec<(u32, u32)>> {
        let mut counts = vec![0_usize; self.n_raters];
        for cell in &self.cells {
            if let Some(count) = counts.get_mut(cell.rater as usize) {
                *count += 1;
            }
        }
        let mut raters: Vec<Vec<(u32, u32)>> = counts.into_iter().map(Vec::with_capacity).collect();
        for (item, cells) in (0..).zip(self.items()) {
            for cell in cells {
                if let Some(list) = raters.get_mut(cell.rater as usize) {
                    list.push((item, cell.category));
                }
            }
        }
        raters
    }

    fn sort_within_items(&mut self) {
        let mut rest = self.cells.as_mut_slice();
        for [start, end] in self.starts.array_windows() {
            let (item, later) = rest.split_at_mut(end - start);
            item.sort_by_key(|cell| cell.rater);
            rest = later;
        }
    }
}
