//! The scores of the sessions beside the panel's.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::COUNT;
use super::PHASE;
use super::SESSION;
use super::SHARE;
use super::field;
use super::number;
use crate::analysis::OwnEar;

const COLUMNS: [Column; 7] = [
    CHILD,
    SESSION,
    PHASE,
    number(
        "Words",
        &[field(
            "words",
            "words that she and the panel scored",
            "",
            COUNT,
        )],
    ),
    number(
        "In the session",
        &[field(
            "hers",
            "share scored correct in the session",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Panel",
        &[field(
            "panel",
            "mean share judged correct by the panel",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Agreement",
        &[field(
            "agreement",
            "share of words scored as the panel's majority heard them",
            "share of 1",
            SHARE,
        )],
    ),
];

/// The scores of the sessions beside the panel's.
pub fn own_ear(found: &OwnEar) -> Table {
    Table {
        name: "own_ear",
        caption: "Scores in the session beside the panel's".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: found
            .sessions
            .iter()
            .map(|session| {
                vec![
                    Cell::words(&session.child),
                    Cell::count(session.session as usize),
                    Cell::words(&session.phase),
                    Cell::count(session.words),
                    Cell::share(Some(session.hers)),
                    Cell::share(Some(session.panel)),
                    Cell::share(Some(session.agreement)),
                ]
            })
            .collect(),
        notes: Vec::new(),
    }
}
