//! What an unlocked round tells of its masked analysis.

use super::graphs_in_use;
use super::is_planned;
use super::of_round;
use crate::app::AppError;
use crate::app::results::moment;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::study::MaskedGraphRecord;
use crate::study::MaskedRecord;

/// The masked analysis of a round, with the child behind each graph.
pub(in crate::app) fn record(
    reading: &Reading<'_>,
    round: &RoundRow,
) -> Result<Option<MaskedRecord>, AppError> {
    let Some(row) = of_round(reading, &round.name)? else {
        return Ok(None);
    };
    let graphs = graphs_in_use(reading, &row)?.into_iter();
    Ok(Some(MaskedRecord {
        begun: moment(Some(row.begun_ms))?,
        finished: moment(row.finished_ms)?,
        seed: data_encoding::HEXLOWER.encode(&row.seed),
        graphs: graphs
            .map(|graph| MaskedGraphRecord {
                number: graph.number,
                child: graph.code.to_string(),
                mark: graph.mark.map(|mark| mark.mark),
            })
            .collect(),
        analyst: row.analyst,
    }))
}

/// What the log says of a masked analysis that unlocking leaves undone: `unfinished`, or `not begun` where one was planned.
pub(in crate::app) fn left_open(
    reading: &Reading<'_>,
    round: &RoundRow,
) -> Result<Option<&'static str>, AppError> {
    Ok(match of_round(reading, &round.name)? {
        Some(row) if row.finished_ms.is_none() => Some("unfinished"),
        None if is_planned(round)? => Some("not begun"),
        _ => None,
    })
}
