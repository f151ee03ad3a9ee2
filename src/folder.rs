//! The files of an export, of a report, and of a study's papers.

use crate::app;
use crate::app::AppError;
use crate::app::Findings;
use crate::app::Form;
use crate::app::MaskedState;
use crate::app::Now;
use crate::app::UnnamedGraph;
use crate::app::Workspace;
use crate::report;
use crate::report::PaperFacts;
use crate::report::Picture;
use crate::study::Role;
use crate::study::Scope;

/// The file that explains every column.
const DICTIONARY: &str = "data_dictionary.csv";

/// The note that lies beside the files.
const NOTE: &str = "README.txt";

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
    files.push((NOTE.to_owned(), readme.into_bytes()));
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
    for picture in report::pictures(&findings.round) {
        files.push(as_file(&picture)?);
    }
    let manuscript = report::manuscript(&findings.round);
    files.push(("manuscript.txt".to_owned(), manuscript.into_bytes()));
    files.push(app::list_of_hashes(&files));
    Ok(files)
}

/// A graph as a file: a picture of 300 dots an inch.
///
/// # Errors
/// [`AppError::Unreadable`] if it cannot be drawn.
#[cfg(feature = "png")]
pub fn as_file(picture: &Picture) -> Result<(String, Vec<u8>), AppError> {
    let drawn = report::chart::png(&picture.svg).map_err(AppError::Unreadable)?;
    Ok((format!("{}.png", picture.name), drawn))
}

/// A graph as a file.
///
/// # Errors
/// None: it is written as it is where pictures are not built in.
#[cfg(not(feature = "png"))]
#[expect(
    clippy::unnecessary_wraps,
    reason = "drawing may fail where it is built in"
)]
pub fn as_file(picture: &Picture) -> Result<(String, Vec<u8>), AppError> {
    let written = picture.svg.clone().into_bytes();
    Ok((format!("{}.svg", picture.name), written))
}

/// The unnamed graphs of a masked analysis with a table to fill in, for whoever judges them with files. The note holds the
/// round's seal, by which an erasure finds the folder.
pub fn masked_graphs(state: &MaskedState, graphs: &[UnnamedGraph]) -> Vec<(String, Vec<u8>)> {
    let most = graphs.iter().map(|graph| graph.shares.len()).max();
    let mut files: Vec<(String, Vec<u8>)> = graphs
        .iter()
        .map(|graph| {
            let svg = report::chart::unnamed(graph.number, &graph.shares, most.unwrap_or_default());
            (format!("graph-{}.svg", graph.number), svg.into_bytes())
        })
        .collect();
    let note = format!(
        "Unnamed graphs of round {}, seal {}\n\nFor the analyst alone: levels over sessions are results that are not unlocked.\n\
         Fill in marks.csv, and delete this folder once the masked analysis is finished.\n",
        state.round, state.seal
    );
    files.push(("marks.csv".to_owned(), app::write_masked_marks(graphs)));
    files.push((DICTIONARY.to_owned(), app::write_marks_dictionary()));
    files.push((NOTE.to_owned(), note.into_bytes()));
    files
}

/// What the study tells for the papers of an ethics board.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read; [`AppError::File`] or [`AppError::Input`] if its settings cannot.
pub fn paper_facts(workspace: &Workspace, now: Now) -> Result<PaperFacts, AppError> {
    let recorded = app::recorded(workspace)?;
    let children = app::children(workspace)?;
    let consents: Vec<_> = children
        .iter()
        .filter_map(|child| child.consent.as_ref())
        .collect();
    let days = consents.iter().filter_map(|consent| consent.keep_until);
    let (first, last) = (days.clone().min(), days.max());
    let people = app::accounts::accounts(workspace)?;
    Ok(PaperFacts {
        study: recorded.settings.name,
        target: recorded.settings.target,
        phases: recorded
            .settings
            .phases
            .iter()
            .map(ToString::to_string)
            .collect(),
        children: children.len(),
        recordings: recorded.uses.iter().map(|(_, recordings)| recordings).sum(),
        consents: SCOPES
            .iter()
            .map(|(scope, said)| {
                let agreed = consents
                    .iter()
                    .filter(|consent| consent.scopes.holds(*scope));
                (*said, agreed.count())
            })
            .collect(),
        lacking: children.len() - consents.len(),
        kept_until: first
            .zip(last)
            .map(|(first, last)| (first.to_string(), last.to_string())),
        rounds: app::progress(workspace)?
            .into_iter()
            .map(|round| (round.round.to_string(), round.state.to_string()))
            .collect(),
        copies: app::copies_made(workspace)?
            .into_iter()
            .map(|copy| (copy.kind, copy.made))
            .collect(),
        people: ROLES
            .iter()
            .map(|(role, may)| {
                let accounts = people.iter().filter(|person| person.role == *role);
                (role.to_string(), *may, accounts.count())
            })
            .collect(),
        made_ms: now.ms(),
    })
}

/// Who may hear, in words.
const SCOPES: [(Scope, &str); 4] = [
    (Scope::Staff, "heard by the staff"),
    (
        Scope::Research,
        "heard by those who take part in the research",
    ),
    (Scope::Remote, "heard by lay listeners elsewhere"),
    (Scope::Example, "heard as an example of the sound"),
];

/// What each role may hear and see, in words.
const ROLES: [(Role, &str); 3] = [
    (
        Role::Researcher,
        "all recordings; results once a round is unlocked",
    ),
    (
        Role::Preparer,
        "all recordings, masked; no listener and no result",
    ),
    (
        Role::Clinician,
        "results of the children whom she treats, and a few of their words",
    ),
];

fn file_of(table: &str) -> String {
    format!("{table}.csv")
}
