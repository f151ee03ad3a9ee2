//! The files of an export and of a report.

use crate::app;
use crate::app::AppError;
use crate::app::Findings;
use crate::report;

/// The file that explains every column.
const DICTIONARY: &str = "data_dictionary.csv";

/// The tables of a round: those that the commands read, those of the report, and what every column
/// means.
pub(super) fn export(findings: &Findings) -> Vec<(String, Vec<u8>)> {
    let tables = report::tables::all(&findings.round);
    let explained = tables.iter().flat_map(|table| {
        let file = file_of(table.name);
        table
            .fields()
            .map(move |field| (file.clone(), field))
            .collect::<Vec<_>>()
    });
    let explained: Vec<_> = explained.collect();
    let dictionary = app::write_dictionary(explained.iter().map(|(file, field)| {
        (
            file.as_str(),
            field.name,
            field.meaning,
            field.unit,
            field.allowed,
        )
    }));
    let mut files: Vec<_> = findings
        .tables
        .iter()
        .map(|file| (file.name.to_owned(), file.content.clone()))
        .collect();
    for table in &tables {
        files.push((
            file_of(table.name),
            app::write_table(&table.header(), table.records()),
        ));
    }
    files.push((DICTIONARY.to_owned(), dictionary));
    files.push((
        "README.txt".to_owned(),
        report::text::readme(&findings.round).into_bytes(),
    ));
    files
}

/// The same, with the page that stands alone and all findings as JSON.
pub(super) fn report(findings: &Findings) -> Result<Vec<(String, Vec<u8>)>, AppError> {
    let failed = |error: String| AppError::Unreadable(error);
    let mut files = export(findings);
    let page = report::page(&findings.round).map_err(|error| failed(error.to_string()))?;
    files.push(("report.html".to_owned(), page.into_bytes()));
    let mut json =
        serde_json::to_vec_pretty(&findings.round).map_err(|error| failed(error.to_string()))?;
    json.push(b'\n');
    files.push(("findings.json".to_owned(), json));
    Ok(files)
}

fn file_of(table: &str) -> String {
    format!("{table}.csv")
}
