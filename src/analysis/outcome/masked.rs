//! Masked visual analysis: the points of graphs that name nobody, and how the marks in them agree with the real starts.

use std::collections::BTreeMap;

use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;
use serde::Serialize;

use super::super::Reasons;
use super::super::RoundTables;
use super::super::kept_ratings;
use super::super::outcome_options;
use super::Joined;
use super::joined::View;
use super::randomised::Scored;
use super::randomised::left_out_says;
use super::randomised::order_of;
use crate::stats::change::MarkedStart;
use crate::stats::change::masked_test;
use crate::study::Assignment;
use crate::study::Drawn;
use crate::study::Invalid;
use crate::study::Masked;
use crate::study::MaskedGraphRecord;
use crate::study::MaskedMark;
use crate::study::MaskedRecord;
use crate::study::StartDrawn;
use crate::study::Sureness;
use crate::study::record::RoundRecord;

/// The fewest points of a graph in which a change can be seen.
const FEWEST_POINTS: usize = 2;

/// What a masked analysis found, once the round is unlocked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MaskedFinding {
    /// The code of the analyst's account.
    pub analyst: String,
    /// When it was begun, RFC 3339 in UTC.
    pub begun: String,
    /// When it was finished; nothing where the round was unlocked before.
    pub finished: Option<String>,
    /// What the order of the graphs was drawn from, in hex.
    pub seed: String,
    /// Graphs that were marked.
    pub marked: usize,
    /// Marks on the first point of treatment, or 'no change' where no treatment began.
    pub exact: usize,
    /// Marks at most one session away from it, those included.
    pub within_one: usize,
    /// Each graph.
    pub graphs: Vec<MaskedGraphFinding>,
    /// Sessions by which the marks miss the starts that were drawn, summed; nothing where no start was drawn.
    pub missed_by: Option<usize>,
    /// The share of all possible draws of starts which the marks miss by no more.
    pub p: Option<f64>,
    /// The smallest p that this design could have given.
    pub smallest_p: Option<f64>,
    /// How many draws were possible.
    pub draws: Option<f64>,
    /// Whether all were listed.
    pub draws_listed: Option<bool>,
    /// Why a field is `null`.
    pub reasons: Reasons,
}

/// One graph of a masked analysis.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MaskedGraphFinding {
    /// Its number in the order that was drawn.
    pub graph: u32,
    /// The child behind it.
    pub child: String,
    /// Its points: judged sessions of the two phases of the contrast.
    pub points: usize,
    /// What was seen; nothing where it was never marked.
    pub mark: Option<MaskedMark>,
    /// The first point of the later phase; nothing where it had not begun.
    pub start: Option<usize>,
    /// Points by which the mark is later than the start; below 0: earlier.
    pub late_by: Option<i64>,
    /// Whether the mark is at most one session away from the start, or says 'no change' where none began.
    pub within_one: Option<bool>,
}

impl MaskedGraphFinding {
    /// How sure the analyst was.
    pub fn sure(&self) -> Option<Sureness> {
        self.mark.map(|mark| mark.sure)
    }
}

/// The points of each child's graph, in order: shares heard as correct by the kept listeners in the words and the two phases
/// of the sealed contrast. Children with one point are left out, and so are peers.
///
/// # Errors
/// [`Invalid`] where tables and plan do not fit each other.
pub fn masked_points(
    _masked: &Masked,
    record: &RoundRecord,
    tables: &RoundTables,
) -> Result<BTreeMap<String, Vec<f64>>, Invalid> {
    scored(record, tables, |scored| {
        let names = tables.tokens.children.names().iter();
        let points = names.map(|child| {
            let sessions = scored.sessions(child, None).into_iter();
            let shares: Vec<f64> = sessions.map(|session| session.score).collect();
            (child.clone(), shares)
        });
        points
            .filter(|(_, shares)| shares.len() >= FEWEST_POINTS)
            .collect()
    })
}

/// What the marks of a masked analysis come to, beside the real starts.
pub(in crate::analysis) fn masked(
    record: &RoundRecord,
    tables: &RoundTables,
) -> Result<Option<MaskedFinding>, Invalid> {
    let Some(told) = &record.masked else {
        return Ok(None);
    };
    let found = scored(record, tables, |scored| {
        let rows = told.graphs.iter();
        let graphs = rows.filter_map(|row| graph(row, scored)).collect();
        let mut found = MaskedFinding::new(told, graphs);
        test(&mut found, record, scored);
        found
    })?;
    Ok(Some(found))
}

/// Does something with the kept listeners' scores of the sealed contrast.
fn scored<T>(
    record: &RoundRecord,
    tables: &RoundTables,
    make: impl FnOnce(&Scored<'_>) -> T,
) -> Result<T, Invalid> {
    let ratings = kept_ratings(record, tables)?;
    let options = outcome_options(record);
    let joined = Joined::new(&ratings, &tables.tokens)?;
    let alike = vec![1.0; ratings.raters.len()];
    let view = View::new(&joined, options.words.into(), &alike);
    Ok(make(&Scored::in_round(&view, &options)))
}

fn graph(row: &MaskedGraphRecord, scored: &Scored<'_>) -> Option<MaskedGraphFinding> {
    let sessions = scored.sessions(&row.child, None);
    let first = sessions.iter().position(|session| session.later);
    let start = first.map(|place| place + 1);
    let marked = row.mark.map(|mark| mark.before);
    let late_by = marked
        .flatten()
        .zip(start)
        .map(|(mark, start)| i64::from(mark) - i64::try_from(start).unwrap_or(i64::MAX));
    let within_one = marked.map(|before| match (before, start) {
        (None, None) => true,
        (Some(_), Some(_)) => late_by.is_some_and(|by| by.abs() <= 1),
        _ => false,
    });
    (sessions.len() >= FEWEST_POINTS).then(|| MaskedGraphFinding {
        graph: row.number,
        child: row.child.clone(),
        points: sessions.len(),
        mark: row.mark,
        start,
        late_by,
        within_one,
    })
}

impl MaskedFinding {
    fn new(told: &MaskedRecord, graphs: Vec<MaskedGraphFinding>) -> Self {
        let count = |fits: fn(&MaskedGraphFinding) -> bool| {
            graphs.iter().filter(|graph| fits(graph)).count()
        };
        Self {
            analyst: told.analyst.clone(),
            begun: told.begun.clone(),
            finished: Some(told.finished.clone()).filter(|when| !when.is_empty()),
            seed: told.seed.clone(),
            marked: count(|graph| graph.mark.is_some()),
            exact: count(|graph| {
                graph.late_by == Some(0)
                    || (graph.start.is_none() && graph.within_one == Some(true))
            }),
            within_one: count(|graph| graph.within_one == Some(true)),
            graphs,
            missed_by: None,
            p: None,
            smallest_p: None,
            draws: None,
            draws_listed: None,
            reasons: Reasons::new(),
        }
    }
}

/// Fills in the exact masked p, or says why there is none.
fn test(found: &mut MaskedFinding, record: &RoundRecord, scored: &Scored<'_>) {
    let tested = if found.finished.is_none() {
        Err("the masked analysis was not finished before the round was unlocked".to_owned())
    } else if let Some(why) = &record.not_random {
        Err(why.clone())
    } else if let Some(Assignment::StartPoints { drawn, cases }) = &record.assignment {
        by_starts(found, *drawn, cases, scored)
    } else {
        Err("no start of treatment was drawn and sealed".to_owned())
    };
    if let Err(why) = tested {
        found.reasons.say("p", why);
    }
}

fn by_starts(
    found: &mut MaskedFinding,
    drawn: Drawn,
    cases: &BTreeMap<String, StartDrawn>,
    scored: &Scored<'_>,
) -> Result<(), String> {
    let placed = scored.placed(cases)?;
    if placed.cases.iter().any(|case| case.of_words) {
        return Err("starts were drawn for sets of words, and a graph is of a child".to_owned());
    }
    let mut left_out = placed.left_out;
    let mut marked = Vec::new();
    for case in placed.cases {
        let graph = found.graphs.iter().find(|graph| graph.child == case.child);
        let Some(mark) = graph.and_then(|graph| graph.mark) else {
            left_out.push(case.child);
            continue;
        };
        marked.push(MarkedStart {
            sessions: case.sessions,
            mark: mark.before.and_then(|before| usize::try_from(before).ok()),
            allowed: case.allowed,
            start: case.start,
        });
    }
    if !left_out.is_empty() {
        found.reasons.say("p.cases", left_out_says(&left_out));
    }
    let mut rng = ChaCha12Rng::seed_from_u64(scored.seed);
    rng.set_stream(u64::MAX - 2);
    let test =
        masked_test(&marked, order_of(drawn), &mut rng).map_err(|error| error.to_string())?;
    let missed = marked.iter().map(|case| case.missed_by(case.start));
    found.missed_by = Some(missed.sum());
    found.p = Some(test.p);
    found.smallest_p = Some(test.smallest_p);
    found.draws = Some(test.assignments);
    found.draws_listed = Some(test.exact);
    Ok(())
}
