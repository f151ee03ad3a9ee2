//! All findings of an unlocked round, and the files of its report and its export.

use std::path::Path;

use serde_json::json;

use super::AppError;
use super::Workspace;
use super::files;
use super::log;
use super::results;
use super::sharing;
use crate::analysis;
use crate::analysis::RoundFindings;
use crate::analysis::RoundTables;
use crate::exchange;
use crate::exchange::ExportFile;
use crate::exchange::Form;
use crate::study::Invalid;
use crate::study::Panel;
use crate::study::PanelRow;
use crate::study::Problems;
use crate::study::Unlocked;
use crate::study::record::RoundRecord;

/// What a round shows, with the tables that it was computed from.
pub struct Findings {
    /// Everything that was computed.
    pub round: RoundFindings,
    /// For whom it is.
    pub form: Form,
    /// The round's tables as CSV, with what was sealed.
    pub tables: Vec<ExportFile>,
}

/// Computes what an unlocked round shows, from the very bytes that its export holds.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read; [`AppError::Unreadable`] if it contradicts its
/// own plan.
pub fn findings(workspace: &Workspace, unlocked: &Unlocked) -> Result<Findings, AppError> {
    let record = results::record(workspace, unlocked)?;
    let earlier = earlier(workspace, unlocked)?;
    findings_of(unlocked, &record, &earlier, Form::Internal)
}

/// The same, fit to be given away: other codes for children and words, days from the first recording,
/// ages in half-years, no free text. Children have another order, and so have resampled figures.
///
/// # Errors
/// As for [`findings`]; [`AppError::Refused`] where a label of a phase, a cohort or a condition tells a date or a child.
pub fn shared_findings(workspace: &Workspace, unlocked: &Unlocked) -> Result<Findings, AppError> {
    let mut records = vec![results::record(workspace, unlocked)?];
    records.extend(earlier(workspace, unlocked)?);
    sharing::check_labels(workspace, &records)?;
    let order = results::order_that_tells_nothing(workspace, unlocked, &records)?;
    let mut shared = exchange::shared(&records, &order)
        .map_err(|refusal| contradicts(&refusal))?
        .into_iter();
    let record = shared
        .next()
        .ok_or_else(|| AppError::Unreadable("the record of the round".to_owned()))?;
    let earlier: Vec<_> = shared.collect();
    findings_of(unlocked, &record, &earlier, Form::Shared)
}

/// The records of the rounds that were unlocked before, oldest first.
fn earlier(workspace: &Workspace, unlocked: &Unlocked) -> Result<Vec<RoundRecord>, AppError> {
    results::unlocked_before(workspace, unlocked)?
        .iter()
        .map(|unlocked| results::record(workspace, unlocked))
        .collect()
}

fn contradicts(refusal: &Invalid) -> AppError {
    AppError::Unreadable(refusal.to_string())
}

fn findings_of(
    unlocked: &Unlocked,
    record: &RoundRecord,
    earlier: &[RoundRecord],
    form: Form,
) -> Result<Findings, AppError> {
    let own = written(record, form)?;
    let round =
        analysis::round(unlocked, record, &own.tables).map_err(|refusal| contradicts(&refusal))?;
    let before = earlier
        .iter()
        .map(|record| Ok((record, written(record, form)?.tables)))
        .collect::<Result<Vec<_>, AppError>>()?;
    let heard: Vec<_> = before
        .iter()
        .map(|(record, tables)| (*record, tables))
        .chain([(record, &own.tables)])
        .collect();
    let over = analysis::over_rounds(&heard).map_err(|refusal| contradicts(&refusal))?;
    let round = round.over(over);
    let tables = tables(record, own, panel_table(&round))?;
    Ok(Findings {
        round,
        form,
        tables,
    })
}

/// The files of an export that hold a round's tables, and what was sealed.
fn tables(record: &RoundRecord, own: Written, panel: Vec<u8>) -> Result<Vec<ExportFile>, AppError> {
    let Written {
        ratings,
        tokens,
        key,
        ..
    } = own;
    let mut tables = vec![
        ExportFile {
            name: RATINGS,
            content: ratings,
        },
        ExportFile {
            name: TOKENS,
            content: tokens,
        },
        ExportFile {
            name: "panel.csv",
            content: panel,
        },
        ExportFile {
            name: KEY,
            content: key,
        },
        ExportFile {
            name: "set_aside.csv",
            content: exchange::write_set_aside(record),
        },
        ExportFile {
            name: "missing.csv",
            content: exchange::write_missing(record),
        },
        ExportFile {
            name: "excluded.csv",
            content: exchange::write_excluded(record),
        },
        ExportFile {
            name: "flow.csv",
            content: exchange::write_flow(record),
        },
        ExportFile {
            name: "listener_answers.csv",
            content: exchange::write_answers(record),
        },
        ExportFile {
            name: "sound_checks.csv",
            content: exchange::write_sound_checks(record),
        },
        ExportFile {
            name: "rules.toml",
            content: rules(record)?,
        },
    ];
    if let Some(content) = exchange::write_reference_ratings(record) {
        tables.push(ExportFile {
            name: exchange::REFERENCE_RATINGS,
            content,
        });
    }
    if let Some(assignment) = &record.assignment {
        tables.push(ExportFile {
            name: "assignment.json",
            content: exchange::write_assignment(assignment),
        });
    }
    tables.extend(sealed_files(record)?);
    Ok(tables)
}

/// A round's tables as bytes, and read back.
struct Written {
    ratings: Vec<u8>,
    tokens: Vec<u8>,
    key: Vec<u8>,
    tables: RoundTables,
}

/// The tables of a round, read back from the bytes of its export.
pub(super) fn tables_of(record: &RoundRecord) -> Result<RoundTables, AppError> {
    Ok(written(record, Form::Internal)?.tables)
}

fn written(record: &RoundRecord, form: Form) -> Result<Written, AppError> {
    let ratings = exchange::write_ratings(record);
    let tokens = exchange::write_tokens(record, form);
    let key = exchange::write_key(record);
    let tables = RoundTables {
        ratings: exchange::read_ratings(RATINGS, ratings.as_slice())
            .map_err(|problems| ours(&problems))?,
        tokens: exchange::read_tokens(TOKENS, tokens.as_slice())
            .map_err(|problems| ours(&problems))?,
        key: exchange::read_answer_key(KEY, key.as_slice()).map_err(|problems| ours(&problems))?,
    };
    Ok(Written {
        ratings,
        tokens,
        key,
        tables,
    })
}

const RATINGS: &str = "ratings.csv";
const TOKENS: &str = "tokens.csv";
const KEY: &str = "key.csv";

/// The sealed document to the byte, the plan, and the seeds of all that was drawn.
fn sealed_files(record: &RoundRecord) -> Result<[ExportFile; 3], AppError> {
    let plan = toml::to_string_pretty(&record.plan)
        .map_err(|error| AppError::Unreadable(error.to_string()))?;
    let seeds = log::canonical(&json!({
        "orders": record.facts.seed,
        "resampling": record.plan.analysis.seed,
    }))?;
    Ok([
        ExportFile {
            name: "sealed.json",
            content: record.sealed.clone().into_bytes(),
        },
        ExportFile {
            name: "plan.toml",
            content: plan.into_bytes(),
        },
        ExportFile {
            name: "seeds.json",
            content: format!("{seeds}\n").into_bytes(),
        },
    ])
}

/// What we wrote ourselves could not be read back: our fault, not the asker's.
fn ours(problems: &Problems) -> AppError {
    AppError::Unreadable(problems.to_string())
}

fn panel_table(round: &RoundFindings) -> Vec<u8> {
    let weights = round
        .outcome
        .panels
        .as_ref()
        .is_some_and(|panels| panels.weighted.is_some());
    let why = |listener: &str| {
        let found = round
            .listeners
            .listeners
            .iter()
            .find(|row| row.rater == listener);
        found.map(|row| row.why.join("; ")).unwrap_or_default()
    };
    let rows = round
        .panel
        .iter()
        .map(|row| PanelRow {
            weight: row.weight.filter(|_| weights),
            ..row.clone()
        })
        .collect();
    exchange::write_panel(&Panel { rows }, &why)
}

/// The sealed screening rules, as `listeners --rules` reads them.
fn rules(record: &RoundRecord) -> Result<Vec<u8>, AppError> {
    let rules = analysis::rules_of(&record.plan.screening)
        .map_err(|refusal| AppError::Unreadable(refusal.to_string()))?;
    toml::to_string_pretty(&rules)
        .map(String::into_bytes)
        .map_err(|error| AppError::Unreadable(error.to_string()))
}

/// Writes one file, whole or not at all.
///
/// # Errors
/// [`AppError::File`] if it cannot be written.
pub fn write_file(path: &Path, content: &[u8]) -> Result<(), AppError> {
    files::write(path, content)
}

/// Writes files into a folder, which is made if it is not there: all of them, or none.
///
/// # Errors
/// [`AppError::Refused`] if the folder holds other files; [`AppError::File`] if it cannot be written.
pub fn write_folder(folder: &Path, content: &[(String, Vec<u8>)]) -> Result<(), AppError> {
    let names: Vec<_> = content.iter().map(|(name, _)| name.as_str()).collect();
    if let Ok(there) = std::fs::read_dir(folder) {
        let strange = there
            .flatten()
            .any(|entry| !names.contains(&entry.file_name().to_string_lossy().as_ref()));
        if strange {
            return Err(AppError::refused(
                format!("{} holds other files", folder.display()),
                "name a folder that is empty or not there yet",
            ));
        }
    }
    files::make_folder(folder)?;
    for (name, bytes) in content {
        files::write(&folder.join(name), bytes)?;
    }
    files::settle_folder(folder);
    Ok(())
}
