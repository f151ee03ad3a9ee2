//! A table once for the page and for a file: what is shown and the exact value behind it stand in the same cell.

use super::number;

/// A table of findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The name of its file, without ending.
    pub name: &'static str,
    /// What it shows, in one sentence.
    pub caption: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows, a cell for each column.
    pub rows: Vec<Vec<Cell>>,
    /// What stands below it: reasons for what is missing, and what to keep in mind.
    pub notes: Vec<String>,
}

/// A column on a page; one field of a file, or two where it shows an interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its heading.
    pub head: &'static str,
    /// How its cells are set.
    pub align: Align,
    /// Its fields.
    pub fields: &'static [Field],
}

/// How cells are set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Words, from the left.
    Words,
    /// Numbers, to the right.
    Number,
}

/// A field of a file, as the data dictionary explains it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field {
    /// Its name in the header row.
    pub name: &'static str,
    /// What it means.
    pub meaning: &'static str,
    /// Its unit; empty for words and counts.
    pub unit: &'static str,
    /// The values that it can take.
    pub allowed: &'static str,
}

/// One cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// As a page shows it.
    pub shown: String,
    /// As a file keeps it, one value for each field of the column.
    pub exact: Vec<String>,
}

impl Column {
    /// Whether its cells are numbers.
    pub fn is_number(&self) -> bool {
        self.align == Align::Number
    }
}

impl Table {
    /// The header row of its file.
    pub fn header(&self) -> Vec<&'static str> {
        self.fields().map(|field| field.name).collect()
    }

    /// The rows of its file: numbers with every digit, empty where there is none.
    pub fn records(&self) -> impl Iterator<Item = Vec<&str>> {
        self.rows.iter().map(|row| {
            let values = row.iter().flat_map(|cell| &cell.exact);
            values.map(String::as_str).collect()
        })
    }

    /// Every field, in order.
    pub fn fields(&self) -> impl Iterator<Item = &Field> {
        self.columns.iter().flat_map(|column| column.fields)
    }

    /// Cells with their columns, row by row, as a page needs them.
    pub fn lines(&self) -> impl Iterator<Item = impl Iterator<Item = (&Column, &Cell)>> {
        self.rows.iter().map(|row| self.columns.iter().zip(row))
    }

    /// Whether it has no row.
    pub const fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The same without one column, for a page that says it elsewhere.
    #[must_use]
    pub fn without(mut self, head: &str) -> Self {
        if let Some(place) = self.columns.iter().position(|column| column.head == head) {
            self.columns.remove(place);
            for row in &mut self.rows {
                if place < row.len() {
                    row.remove(place);
                }
            }
        }
        self
    }

    /// The same without columns that no row fills.
    #[must_use]
    pub fn without_empty(mut self) -> Self {
        let empty: Vec<&'static str> = self
            .columns
            .iter()
            .enumerate()
            .filter(|(place, _)| {
                let mut cells = self.rows.iter().filter_map(|row| row.get(*place));
                cells.all(|cell| cell.exact.iter().all(String::is_empty))
            })
            .map(|(_, column)| column.head)
            .collect();
        for head in empty {
            self = self.without(head);
        }
        self
    }
}

impl Cell {
    /// Words.
    pub fn words(text: impl Into<String>) -> Self {
        let text = text.into();
        Self {
            exact: vec![text.clone()],
            shown: text,
        }
    }

    /// Words on the page for a term of a file.
    pub fn term(exact: impl Into<String>, shown: impl Into<String>) -> Self {
        Self {
            shown: shown.into(),
            exact: vec![exact.into()],
        }
    }

    /// A count.
    pub fn count(n: usize) -> Self {
        Self {
            shown: number::count(n),
            exact: vec![n.to_string()],
        }
    }

    /// A share of 1, shown as percent with one place.
    pub fn share(share: Option<f64>) -> Self {
        Self::number(share, number::percent_1(share))
    }

    /// An interval of shares.
    pub fn shares(ci: Option<[f64; 2]>) -> Self {
        Self::interval(ci, number::percent_limits_1(ci))
    }

    /// A difference of shares, shown in points.
    pub fn points(difference: Option<f64>) -> Self {
        Self::number(difference, number::points_1(difference))
    }

    /// An interval of a difference of shares.
    pub fn points_limits(ci: Option<[f64; 2]>) -> Self {
        Self::interval(ci, number::points_limits_1(ci))
    }

    /// A size that is a difference of shares, shown in points without a sign.
    pub fn fixed_points(size: Option<f64>) -> Self {
        Self::number(size, number::maybe(size.map(|size| size * 100.0), 1))
    }

    /// A coefficient.
    pub fn coefficient(value: Option<f64>) -> Self {
        Self::number(value, number::coefficient(value))
    }

    /// An interval of a coefficient.
    pub fn limits(ci: Option<[f64; 2]>) -> Self {
        Self::interval(ci, number::limits(ci))
    }

    /// A number shown with so many places.
    pub fn fixed(value: Option<f64>, decimals: u8) -> Self {
        Self::number(value, number::maybe(value, decimals))
    }

    /// A p value.
    pub fn p_value(p: Option<f64>) -> Self {
        Self::number(p, number::p_value(p))
    }

    fn number(value: Option<f64>, shown: String) -> Self {
        Self {
            shown,
            exact: vec![number::exact(value)],
        }
    }

    fn interval(ci: Option<[f64; 2]>, shown: String) -> Self {
        Self {
            shown,
            exact: vec![
                number::exact(ci.map(|ci| ci[0])),
                number::exact(ci.map(|ci| ci[1])),
            ],
        }
    }
}
