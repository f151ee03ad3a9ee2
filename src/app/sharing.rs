//! Labels in what is given away: phases, cohorts and conditions stand there as they were sealed, so that the tables can be
//! read; one that tells a day or a child stops it.

use std::collections::BTreeSet;

use super::AppError;
use super::Workspace;
use super::child_names::ChildNames;
use crate::study::holds_a_date;
use crate::study::record::RoundRecord;

/// The shortest local label that is looked for inside other labels, in characters (ours): initials stand in half of all words.
const SHORTEST: usize = 3;

/// Looks at every label that an export to share would hold.
///
/// # Errors
/// [`AppError::Refused`] for the first that holds a date, a child's code or what the desk calls a child.
pub(super) fn check_labels(workspace: &Workspace, records: &[RoundRecord]) -> Result<(), AppError> {
    let names = workspace
        .store()
        .read(|reading| ChildNames::read(reading, SHORTEST))?;
    for (kind, label) in given_away(records) {
        let tells = if holds_a_date(label) {
            "a date"
        } else if names.are_in(label) {
            "a child"
        } else {
            continue;
        };
        // What could be a name is not repeated.
        return Err(AppError::refused(
            format!("the label of a {kind} seems to tell {tells}, so nothing was made to share"),
            "labels are sealed and cannot be changed: take the internal export, and replace this label in every table by hand \
             before you give it away",
        ));
    }
    Ok(())
}

/// Every label of the records with what it names, each once.
fn given_away(records: &[RoundRecord]) -> BTreeSet<(&'static str, &str)> {
    let mut found = BTreeSet::new();
    for record in records {
        let settings = &record.settings;
        found.extend(
            settings
                .phases
                .iter()
                .map(|phase| ("phase", phase.as_str())),
        );
        found.extend(
            settings
                .cohorts
                .iter()
                .map(|cohort| ("cohort", cohort.as_str())),
        );
        for token in &record.tokens {
            let key = &token.key;
            found.extend(key.phase.iter().map(|phase| ("phase", phase.as_str())));
            found.extend(key.cohort.iter().map(|cohort| ("cohort", cohort.as_str())));
            let conditions = key.condition.iter();
            found.extend(conditions.map(|condition| ("condition", condition.as_str())));
        }
    }
    found
}
