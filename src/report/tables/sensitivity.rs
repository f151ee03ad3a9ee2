//! Each change under other readings of the same judgements.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::DIFFERENCE_OF_MEANS;
use super::INTERVAL_OF_DIFFERENCE;
use super::VERDICT;
use super::WORDS;
use super::field;
use super::verdict_words;
use super::word_set;
use super::words;
use crate::analysis::ReadAs;
use crate::analysis::ReadingFinding;

const COLUMNS: [Column; 7] = [
    CHILD,
    WORDS,
    words(
        "Read",
        &[field(
            "reading",
            "how the judgements are read; panel is the reading that was sealed",
            "",
            "panel, all_listeners, weighted, first_play, common_words, majority, missing_correct, missing_distorted, \
             missing_against, missing_for",
        )],
    ),
    DIFFERENCE_OF_MEANS,
    INTERVAL_OF_DIFFERENCE,
    VERDICT,
    words(
        "Other verdict",
        &[field(
            "differs",
            "whether the verdict is another than that of the sealed reading",
            "",
            "true, false",
        )],
    ),
];

/// One row for each child, set of words and reading.
pub fn sensitivity<'a>(found: impl Iterator<Item = &'a ReadingFinding>) -> Table {
    Table {
        name: "sensitivity",
        caption: "The same change, read otherwise.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: found.map(row).collect(),
        notes: Vec::new(),
    }
}

fn row(found: &ReadingFinding) -> Vec<Cell> {
    let (words, words_shown) = word_set(found.words);
    let (reading, reading_shown) = read_as(found.reading);
    let verdict = found.verdict.map_or_else(
        || Cell::term("", "too little is left"),
        |verdict| Cell::term(verdict, verdict_words(verdict, found.of_the_child)),
    );
    let differs = if found.differs { "another" } else { "" };
    vec![
        Cell::words(&found.child),
        Cell::term(words, words_shown),
        Cell::term(reading, reading_shown),
        Cell::points(found.difference),
        Cell::points_limits(found.ci),
        verdict,
        Cell::term(found.differs.to_string(), differs),
    ]
}

/// What a file calls a reading, and what a page calls it.
pub(in crate::report) const fn read_as(reading: ReadAs) -> (&'static str, &'static str) {
    match reading {
        ReadAs::Panel => ("panel", "as sealed: the panel"),
        ReadAs::AllListeners => ("all_listeners", "every listener"),
        ReadAs::Weighted => ("weighted", "every listener by her weight"),
        ReadAs::FirstPlay => ("first_play", "words not played again"),
        ReadAs::CommonWords => ("common_words", "words of every session"),
        ReadAs::Majority => ("majority", "the majority on each word"),
        ReadAs::MissingCorrect => ("missing_correct", "missing words all correct"),
        ReadAs::MissingDistorted => ("missing_distorted", "missing words all distorted"),
        ReadAs::MissingAgainst => (
            "missing_against",
            "missing words correct before, distorted after",
        ),
        ReadAs::MissingFor => (
            "missing_for",
            "missing words distorted before, correct after",
        ),
    }
}
