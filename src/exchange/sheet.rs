//! A CSV with a header row, read once from the top: what spreadsheets get wrong is said in one sentence each.

use std::io::BufRead;
use std::io::BufReader;
use std::io::Read;

use csv::ByteRecord;
use csv::ReaderBuilder;

use super::line_breaks;
use super::line_breaks::LineBreaks;
use crate::study::Problem;
use crate::study::Problems;

/// How many problems are listed before the rest is only counted.
const MOST_PROBLEMS: usize = 50;

/// A CSV whose header was read; its rows are still to come.
///
/// RFC 4180 in UTF-8; a byte-order mark and either line ending are accepted, columns stand in any
/// order, unknown ones are ignored, spaces around a value do not count, and an empty value is missing.
pub(super) struct Sheet<R> {
    name: String,
    header: Vec<String>,
    header_line: u64,
    csv: csv::Reader<LineBreaks<BufReader<R>>>,
    found: Problems,
    count: usize,
}

/// One row of a [`Sheet`].
pub(super) struct Row<'a> {
    /// Its first line in the file, which begins with line 1.
    pub(super) line: u64,
    record: &'a ByteRecord,
    /// All its values, one after the other.
    text: &'a str,
}

impl<R: Read> Sheet<R> {
    /// Reads the header. `name` is the file as problems call it (`-` for standard input).
    ///
    /// # Errors
    /// The file is empty, is no UTF-8, is divided by semicolons or tabs, or names a column twice.
    pub(super) fn open(name: &str, source: R) -> Result<Self, Problems> {
        let mut source = BufReader::with_capacity(1 << 16, source);
        let start = source.fill_buf().map_err(|error| {
            Problem::new(name, format!("cannot be read ({error})"), "check the file")
        })?;
        if start.starts_with(&[0xFF, 0xFE]) || start.starts_with(&[0xFE, 0xFF]) {
            return Err(not_utf8(name).into());
        }
        if start.starts_with(&[0xEF, 0xBB, 0xBF]) {
            source.consume(3);
        }
        let mut csv = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_reader(LineBreaks::of(source));
        let mut first = ByteRecord::new();
        let read = csv
            .read_byte_record(&mut first)
            .map_err(|error| unreadable(name, &error))?;
        if !read {
            return Err(Problem::new(
                name,
                "is empty",
                "give it a header row and one row a judgement or token",
            )
            .into());
        }
        let header_line = line_of(&csv, &first);
        let header = first
            .iter()
            .map(|cell| std::str::from_utf8(cell.trim_ascii()).map(str::to_lowercase))
            .collect::<Result<Vec<_>, _>>()
            .map_err(|_| not_utf8(name).at_line(header_line))?;
        check_header(name, &header).map_err(|problem| problem.at_line(header_line))?;
        Ok(Self {
            name: name.to_owned(),
            header,
            header_line,
            csv,
            found: Problems::default(),
            count: 0,
        })
    }

    /// The place of the first of these columns that the header names.
    pub(super) fn column(&self, names: &[&str]) -> Option<usize> {
        names
            .iter()
            .find_map(|name| self.header.iter().position(|column| column == name))
    }

    /// The place of a column that must be there; a missing one is noted as a problem.
    pub(super) fn required(&mut self, names: &[&str]) -> usize {
        if let Some(place) = self.column(names) {
            return place;
        }
        let wanted = names.join("` or `");
        let seen = self.header.join(", ");
        self.problem(
            Problem::new(
                self.name.as_str(),
                format!("has no column `{wanted}` (found: {seen})"),
                "add it or rename the column that holds it",
            )
            .at_line(self.header_line),
        );
        usize::MAX
    }

    /// Hands each row to `take`, which may note problems; rows of another length than the header are
    /// problems of their own.
    ///
    /// # Errors
    /// All that is wrong, at once: what was noted before, what `take` noted, and what could not be read.
    pub(super) fn read_rows(
        mut self,
        mut take: impl FnMut(&Row<'_>, &mut Notes<'_>),
    ) -> Result<(), Problems> {
        if !self.found.is_empty() {
            return Err(self.found);
        }
        let mut record = ByteRecord::new();
        loop {
            let read = match self.csv.read_byte_record(&mut record) {
                Ok(read) => read,
                Err(error) => {
                    self.found.push(unreadable(&self.name, &error));
                    return Err(self.found);
                }
            };
            if !read {
                break;
            }
            let line = line_of(&self.csv, &record);
            if record.iter().all(|cell| cell.trim_ascii().is_empty()) {
                continue;
            }
            let mut notes = Notes {
                sheet: &self.name,
                line,
                found: &mut self.found,
                count: &mut self.count,
            };
            if record.len() != self.header.len() {
                notes.say_row(
                    format!(
                        "has {} values where the header names {} columns",
                        record.len(),
                        self.header.len()
                    ),
                    "add or remove a comma, or put a value that holds one in double quotes",
                );
                continue;
            }
            let Ok(text) = std::str::from_utf8(record.as_slice()) else {
                notes.say_row(
                    "holds letters that are not in UTF-8",
                    "save the file as CSV in UTF-8",
                );
                continue;
            };
            let row = Row {
                line,
                record: &record,
                text,
            };
            take(&row, &mut notes);
        }
        if self.count > MOST_PROBLEMS {
            let more = self.count - MOST_PROBLEMS;
            self.found.push(Problem::new(
                self.name.as_str(),
                format!("has {more} more such problems"),
                "mend the ones above first",
            ));
        }
        self.found.or(())
    }

    fn problem(&mut self, problem: Problem) {
        self.count += 1;
        self.found.push(problem);
    }
}

impl Row<'_> {
    /// The value in a column, spaces around it left off; `None` where it is empty or the column is not there.
    pub(super) fn text(&self, column: Option<usize>) -> Option<&str> {
        let value = self.text.get(self.record.range(column?)?)?.trim_ascii();
        (!value.is_empty()).then_some(value)
    }
}

/// Where problems of one row are noted.
pub(super) struct Notes<'a> {
    sheet: &'a str,
    line: u64,
    found: &'a mut Problems,
    count: &'a mut usize,
}

impl Notes<'_> {
    /// Notes a problem with a value of this row.
    pub(super) fn say(&mut self, column: &str, what: impl Into<String>, mend: impl Into<String>) {
        let problem = Problem::new(self.sheet, what, mend)
            .at_line(self.line)
            .in_column(column);
        self.add(problem);
    }

    /// Notes a problem with this row as a whole.
    pub(super) fn say_row(&mut self, what: impl Into<String>, mend: impl Into<String>) {
        let problem = Problem::new(self.sheet, what, mend).at_line(self.line);
        self.add(problem);
    }

    /// How many problems were noted so far, in this row and before it.
    pub(super) fn count(&self) -> usize {
        *self.count
    }

    fn add(&mut self, problem: Problem) {
        *self.count += 1;
        if *self.count <= MOST_PROBLEMS {
            self.found.push(problem);
        }
    }
}

/// What to say of a value that should have been a number.
pub(super) fn number_mend(raw: &str) -> String {
    let point = raw.replacen(',', ".", 1);
    if raw.contains(',') && point.parse::<f64>().is_ok() {
        format!("write a decimal point instead of the comma: {point}")
    } else {
        "write a number such as 0.5".to_owned()
    }
}

/// The first line of the row that was read last: the reader stands behind its line break.
fn line_of<R: Read>(csv: &csv::Reader<R>, row: &ByteRecord) -> u64 {
    let within = line_breaks::count(row.as_slice());
    csv.position().line().saturating_sub(within + 1)
}

fn check_header(name: &str, header: &[String]) -> Result<(), Problem> {
    if let [only] = header {
        for (sign, called) in [(';', "semicolons"), ('\t', "tabs")] {
            if only.contains(sign) {
                return Err(Problem::new(
                    name,
                    format!("is divided by {called}"),
                    "save it as CSV divided by commas, with a point in decimal numbers",
                ));
            }
        }
    }
    for (place, column) in header.iter().enumerate() {
        let named_before = header.iter().take(place).any(|other| other == column);
        if named_before && !column.is_empty() {
            return Err(Problem::new(
                name,
                "the header names this column twice",
                "keep one of the two",
            )
            .in_column(column));
        }
    }
    Ok(())
}

fn not_utf8(name: &str) -> Problem {
    Problem::new(name, "is not in UTF-8", "save the file as CSV in UTF-8")
}

fn unreadable(name: &str, error: &csv::Error) -> Problem {
    let problem = Problem::new(
        name,
        format!("cannot be read as CSV ({error})"),
        "save it again as CSV in UTF-8",
    );
    match error.position() {
        Some(position) => problem.at_line(position.line()),
        None => problem,
    }
}
