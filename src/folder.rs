//! The files of an export and of a report.

use crate::app;
use crate::app::AppError;
use crate::app::Findings;
use crate::app::Form;
use crate::report;

/// The file that explains every column.
const DICTIONARY: &str = "data_dictionary.csv";

/// The tables of a round: those that the commands read, those of the report, and what every column
/// means; as CSV, as a workbook and as JSON, with plan, seal, seeds and a list of hashes.
///
/// # Errors
/// [`AppError::Unreadable`] if a file cannot be written out.
pub fn export(findings: &Findings) -> Result<Vec<(String, Vec<u8>)>, AppError> {
    let mut files = tables(findings)?;
    files.push(app::list_of_hashes(&files));
    Ok(files)
}

fn tables(findings: &Findings) -> Result<Vec<(String, Vec<u8>)>, AppError> {
    let failed = |error: String| AppError::Unreadable(error);
    let tables = report::tables::all(&findings.round);
    let explained = tables.iter().flat_map(|table| {
        let file = file_of(table.name);
        table
            .fields()
            .map(move |field| (file.clone(), field))
            .collect::<Vec<_>>()
    });
    let explained: Vec<_> = explained.collect();
    let explained = explained.iter().map(|(file, field)| {
        (
            file.as_str(),
            field.name,
            field.meaning,
            field.unit,
            field.allowed,
        )
    });
    let mut beside = findings.tables.iter();
    let beside = beside.any(|file| file.name == app::REFERENCE_RATINGS);
    let reference = app::reference_columns().filter(|_| beside);
    let explained = explained.chain(reference);
    let dictionary = match findings.form {
        Form::Internal => app::write_dictionary(explained),
        Form::Shared => app::write_shared_dictionary(explained),
    };
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
    add_workbook(&mut files)?;
    let mut json =
        serde_json::to_vec_pretty(&findings.round).map_err(|error| failed(error.to_string()))?;
    json.push(b'\n');
    files.push(("findings.json".to_owned(), json));
    let readme = match findings.form {
        Form::Internal => report::text::readme(&findings.round),
        Form::Shared => report::text::shared_readme(&findings.round),
    };
    files.push(("README.txt".to_owned(), readme.into_bytes()));
    Ok(files)
}

/// The tables so far as one workbook too.
#[cfg(feature = "xlsx")]
fn add_workbook(files: &mut Vec<(String, Vec<u8>)>) -> Result<(), AppError> {
    let tables: Vec<_> = files
        .iter()
        .filter(|(name, _)| is_table(name))
        .cloned()
        .collect();
    let workbook = app::write_workbook(&tables).map_err(AppError::Unreadable)?;
    files.push(("tables.xlsx".to_owned(), workbook));
    Ok(())
}

#[cfg(feature = "xlsx")]
fn is_table(name: &str) -> bool {
    std::path::Path::new(name)
        .extension()
        .is_some_and(|end| end == "csv")
}

#[cfg(not(feature = "xlsx"))]
#[expect(
    clippy::unnecessary_wraps,
    reason = "the workbook may fail where it is built in"
)]
fn add_workbook(_: &mut [(String, Vec<u8>)]) -> Result<(), AppError> {
    Ok(())
}

/// The same, with the page that stands alone.
///
/// # Errors
/// As for [`export`].
pub fn report(findings: &Findings) -> Result<Vec<(String, Vec<u8>)>, AppError> {
    let mut files = tables(findings)?;
    let page =
        report::page(&findings.round).map_err(|error| AppError::Unreadable(error.to_string()))?;
    files.push(("report.html".to_owned(), page.into_bytes()));
    let manuscript = report::manuscript(&findings.round);
    files.push(("manuscript.txt".to_owned(), manuscript.into_bytes()));
    files.push(app::list_of_hashes(&files));
    Ok(files)
}

fn file_of(table: &str) -> String {
    format!("{table}.csv")
}
