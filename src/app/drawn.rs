//! What was drawn before a round was sealed: the only thing that its report may call random.

use serde_json::Value;

use super::AppError;
use super::assigning;
use super::assigning::document;
use super::results::moment;
use crate::store::AssignmentRow;
use crate::store::Reading;
use crate::study::Assignment;
use crate::study::Plan;
use crate::study::plan::Contrast;
use crate::study::record::AssignmentMention;

/// The assignment that a round's document names, and those before it.
pub(super) struct DrawnBefore {
    pub(super) row: AssignmentRow,
    pub(super) assignment: Option<Assignment>,
    /// Why it is no randomised comparison.
    pub(super) not_random: Option<String>,
    pub(super) mentions: Vec<AssignmentMention>,
    contrast: Contrast,
}

/// Looks for the assignment that a sealed round names.
pub(super) fn before(
    reading: &Reading<'_>,
    document: &Value,
) -> Result<Option<DrawnBefore>, AppError> {
    let Some(seal) = document.get("assignment").and_then(Value::as_str) else {
        return Ok(None);
    };
    let mut rows = reading.assignments()?;
    let place = rows.iter().position(|row| row.seal == seal);
    rows.truncate(place.map_or(0, |place| place + 1));
    let mentions = rows.iter().map(mention).collect::<Result<_, AppError>>()?;
    let Some(row) = rows.pop() else {
        return Err(AppError::Unreadable("the assignment of a round".to_owned()));
    };
    let contrast = document::plan_of(&row, &[])?.contrast;
    let later = document::recordings_of(&row).later;
    let (assignment, not_random) = if later > 0 {
        let why = format!(
            "it was drawn after {later} recordings of {} had been imported, when treatment had begun",
            contrast.to
        );
        (None, Some(why))
    } else {
        match assigning::read_back(reading, "", row.clone()) {
            Ok(assigned) => (Some(assigned.assignment), None),
            // A child whose age or severity decided the draw was taken out of the study.
            Err(AppError::Unreadable(why)) => (
                None,
                Some(format!(
                    "the draws that were possible cannot be listed any more ({why})"
                )),
            ),
            Err(error) => return Err(error),
        }
    };
    Ok(Some(DrawnBefore {
        row,
        assignment,
        not_random,
        mentions,
        contrast,
    }))
}

/// What every later report says of a draw.
pub(super) fn mention(row: &AssignmentRow) -> Result<AssignmentMention, AppError> {
    let recordings = document::recordings_of(row);
    Ok(AssignmentMention {
        number: row.number,
        seal: row.seal.clone(),
        drawn: moment(Some(row.drawn_ms))?,
        recordings: recordings.all,
        later_recordings: recordings.later,
        why: row.why.clone(),
    })
}

impl DrawnBefore {
    /// What was done otherwise than was sealed with the draw.
    pub(super) fn deviations(&self, plan: &Plan) -> Vec<String> {
        let again = self.mentions.iter().filter(|mention| mention.number > 1);
        let mut said: Vec<String> = again
            .map(|mention| {
                format!(
                    "{}: the assignment was drawn again ({})",
                    mention.drawn,
                    mention.why.as_deref().unwrap_or("no reason is known"),
                )
            })
            .collect();
        if plan.contrast != self.contrast {
            said.push(
                "this round compares otherwise than was sealed with the assignment: other phases, sessions or words, or \
                 another smallest change"
                    .to_owned(),
            );
        }
        said
    }
}
