//! Sessions: how much was judged, what was heard, what the majority says.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::COUNT;
use super::PHASE;
use super::SESSION;
use super::SHARE;
use super::WORDS;
use super::field;
use super::notes;
use super::number;
use super::word_set;
use super::words;
use crate::analysis::SessionFinding;

const COLUMNS: [Column; 12] = [
    CHILD,
    SESSION,
    PHASE,
    WORDS,
    number(
        "Tokens",
        &[field("tokens", "recordings that were judged", "", COUNT)],
    ),
    number(
        "Judgements",
        &[field("judgements", "main judgements of them", "", COUNT)],
    ),
    number(
        "Heard as correct",
        &[field(
            "proportion_correct",
            "mean over tokens of the share of judgements 'correct'",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Interval",
        &[
            field(
                "ci_low",
                "lower limit of its interval, for new tokens and new listeners",
                "share of 1",
                SHARE,
            ),
            field(
                "ci_high",
                "upper limit of its interval",
                "share of 1",
                SHARE,
            ),
        ],
    ),
    number(
        "Effective n",
        &[field(
            "effective_n",
            "independent judgements that would tell as much",
            "",
            "above 0",
        )],
    ),
    number(
        "By majority",
        &[field(
            "consensus_accuracy",
            "share of tokens that most listeners called correct; a tie counts one half",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Its interval",
        &[
            field(
                "consensus_ci_low",
                "lower limit of the Wilson interval over tokens, these listeners",
                "share of 1",
                SHARE,
            ),
            field(
                "consensus_ci_high",
                "upper limit of the same",
                "share of 1",
                SHARE,
            ),
        ],
    ),
    words(
        "Ties",
        &[field(
            "tied_tokens",
            "tokens on which the listeners were evenly divided",
            "",
            "names of tokens, parted by a space; none: empty",
        )],
    ),
];

/// One row for each session and set of words.
pub fn sessions<'a>(found: impl Iterator<Item = &'a SessionFinding> + Clone) -> Table {
    Table {
        name: "sessions",
        caption: "Each session, as the panel heard it.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: found.clone().map(row).collect(),
        notes: notes(found.map(|s| (format!("{}, session {}", s.child, s.session), &s.reasons))),
    }
}

fn row(session: &SessionFinding) -> Vec<Cell> {
    let (exact, shown) = word_set(session.words);
    let ties = if session.tied_tokens.is_empty() {
        "none".to_owned()
    } else {
        session.tied_tokens.join(" ")
    };
    vec![
        Cell::words(&session.child),
        Cell::count(session.session as usize),
        Cell::words(&session.phase),
        Cell::term(exact, shown),
        Cell::count(session.tokens),
        Cell::count(session.judgements),
        Cell::share(session.proportion_correct),
        Cell::shares(session.ci),
        Cell::fixed(session.effective_n, 1),
        Cell::share(session.consensus_accuracy),
        Cell::shares(session.consensus_ci),
        Cell::term(session.tied_tokens.join(" "), ties),
    ]
}
