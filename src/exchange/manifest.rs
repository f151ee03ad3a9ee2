//! The manifest: one row a recorded word, with all that is known of it.

use std::collections::HashMap;
use std::io::Read;

use super::sheet::Notes;
use super::sheet::Row;
use super::sheet::Sheet;
use super::tokens::date_of;
use super::tokens::session_of;
use super::tokens::truth_of;
use crate::study::ChildCode;
use crate::study::Cohort;
use crate::study::Invalid;
use crate::study::Judgement;
use crate::study::KnownAnswer;
use crate::study::Phase;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::StudySettings;
use crate::study::Use;
use crate::study::Word;
use crate::study::holds_a_date;
use crate::study::key::TokenKey;

/// The columns of a manifest.
const COLUMNS: &[&str] = &[
    "file",
    "child",
    "session",
    "phase",
    "word",
    "cohort",
    "condition",
    "date",
    "target",
    "position",
    "treated",
    "attempt",
    "elicitation",
    "age_months",
    "use",
    "answer",
    "clinician_score",
    "reason",
];

/// How many of [`COLUMNS`], from the first, every manifest must have.
const REQUIRED: usize = 5;

/// A row of a manifest.
#[derive(Debug, Clone, PartialEq)]
pub struct ManifestRow {
    /// Its line, the header being line 1.
    pub line: u64,
    /// What it says of the token; `file` is empty where nothing was recorded.
    pub key: TokenKey,
    /// Why nothing was recorded.
    pub reason: Option<String>,
}

/// Reads a manifest. `name` is the file as problems call it.
///
/// # Errors
/// All that is wrong, each with its line, its column and how to mend it: values that are no values
/// of their column, rows that contradict each other, two rows for one word or one file.
pub fn read_manifest(
    name: &str,
    source: impl Read,
    settings: &StudySettings,
) -> Result<Vec<ManifestRow>, Problems> {
    let mut sheet = Sheet::open(name, source)?;
    for column in COLUMNS.iter().take(REQUIRED) {
        sheet.required(&[column]);
    }
    let places: HashMap<&str, usize> = COLUMNS
        .iter()
        .filter_map(|column| Some((*column, sheet.column(&[column])?)))
        .collect();
    let mut rows = Vec::new();
    let mut seen = Seen::default();
    sheet.read_rows(|row, notes| {
        let cells = Cells {
            row,
            places: &places,
        };
        if let Some(read) = row_of(&cells, settings, notes) {
            seen.compare(&read, notes);
            rows.push(read);
        }
    })?;
    if rows.is_empty() {
        let mend = "write one row for each recording, or for each word without one";
        return Err(Problem::new(name, "has a header and no row", mend).into());
    }
    Ok(rows)
}

struct Cells<'a> {
    row: &'a Row<'a>,
    places: &'a HashMap<&'a str, usize>,
}

impl Cells<'_> {
    fn text(&self, column: &str) -> Option<&str> {
        self.row.text(self.places.get(column).copied())
    }

    /// The value of a column; `None` where it is empty or was noted as wrong.
    fn value<T>(&self, column: &str, notes: &mut Notes<'_>) -> Option<T>
    where
        T: std::str::FromStr<Err = Invalid>,
    {
        let raw = self.text(column)?;
        raw.parse()
            .map_err(|refusal: Invalid| notes.say(column, refusal.what, refusal.mend))
            .ok()
    }

    fn count(&self, column: &str, least: u32, notes: &mut Notes<'_>) -> Option<u32> {
        let raw = self.text(column)?;
        match raw.parse() {
            Ok(number) if number >= least => Some(number),
            _ => {
                let mend = format!("write a whole number from {least} up, or leave it empty");
                notes.say(column, format!("`{raw}` is no such number"), mend);
                None
            }
        }
    }
}

/// The row, or `None` where something is wrong with it, which is then noted.
fn row_of(
    cells: &Cells<'_>,
    settings: &StudySettings,
    notes: &mut Notes<'_>,
) -> Option<ManifestRow> {
    let before = notes.count();
    check_for_formulas(cells, notes);
    let use_ = if cells.text("use").is_none() {
        Use::Scored
    } else {
        cells.value("use", notes)?
    };
    let word: Option<Word> = cells.value("word", notes);
    if cells.text("word").is_none() {
        notes.say("word", "is empty", "write the word that was said");
    }
    let session = if cells.text("session").is_some() || use_.is_scored() {
        session_of(cells.text("session"), notes)
    } else {
        None
    };
    let attempt = cells.count("attempt", 1, notes).unwrap_or(1);
    let row = ManifestRow {
        line: cells.row.line,
        reason: cells.text("reason").map(str::to_owned),
        key: TokenKey {
            child: cells.value("child", notes),
            session,
            phase: cells.value("phase", notes),
            cohort: cells.value("cohort", notes),
            condition: cells.value("condition", notes),
            date: date_of(cells.text("date"), notes),
            word: word?,
            target: cells.text("target").map(str::to_owned),
            position: cells.text("position").map(str::to_owned),
            treated: truth_of(cells.text("treated"), "treated", notes),
            attempt,
            elicitation: cells.value("elicitation", notes),
            age_months: cells.count("age_months", 0, notes),
            use_,
            answer: cells.value("answer", notes),
            clinician_score: score_of(cells, notes),
            file: cells.text("file").map(str::to_owned),
        },
    };
    check_against_settings(&row.key, settings, notes);
    check_condition(&row.key, notes);
    check_by_use(&row, notes);
    (notes.count() == before).then_some(row)
}

/// Whoever opens a table of this study in a spreadsheet must not run what came in a manifest.
fn check_for_formulas(cells: &Cells<'_>, notes: &mut Notes<'_>) {
    for column in COLUMNS {
        let Some(cell) = cells.text(column) else {
            continue;
        };
        let begins = cell.len() > 1 && cell.starts_with(['=', '+', '-', '@']);
        if begins && cell.parse::<f64>().is_err() {
            notes.say(
                column,
                format!("`{cell}` begins like a formula of a spreadsheet"),
                "write it without the sign at its beginning",
            );
        }
    }
}

/// `correct` or `distorted`, also as 1 or 0.
fn score_of(cells: &Cells<'_>, notes: &mut Notes<'_>) -> Option<Judgement> {
    match cells.text("clinician_score") {
        Some("1") => Some(Judgement::Correct),
        Some("0") => Some(Judgement::Distorted),
        _ => cells.value("clinician_score", notes),
    }
}

fn check_against_settings(key: &TokenKey, settings: &StudySettings, notes: &mut Notes<'_>) {
    if let Some(phase) = &key.phase
        && !settings.phases.contains(phase)
    {
        notes.say(
            "phase",
            format!("`{phase}` is no phase of this study"),
            format!(
                "write one of {}, or add it to `phases` in study.toml",
                listed(&settings.phases, Phase::as_str)
            ),
        );
    }
    if let Some(cohort) = &key.cohort
        && !settings.cohorts.is_empty()
        && !settings.cohorts.contains(cohort)
    {
        notes.say(
            "cohort",
            format!("`{cohort}` is no cohort of this study"),
            format!(
                "write one of {}, or add it to `cohorts` in study.toml",
                listed(&settings.cohorts, Cohort::as_str)
            ),
        );
    }
}

fn check_condition(key: &TokenKey, notes: &mut Notes<'_>) {
    if let Some(condition) = &key.condition
        && holds_a_date(condition.as_str())
    {
        notes.say(
            "condition",
            format!("`{condition}` holds a date"),
            "name the way of treating alone, and write the day in `date`: conditions stand in tables that are given away",
        );
    }
}

fn listed<T>(labels: &[T], as_str: impl Fn(&T) -> &str) -> String {
    labels.iter().map(as_str).collect::<Vec<_>>().join(", ")
}

fn check_by_use(row: &ManifestRow, notes: &mut Notes<'_>) {
    let key = &row.key;
    if key.use_.is_scored() {
        if key.child.is_none() {
            notes.say(
                "child",
                "is empty",
                "every scored word belongs to a child's code",
            );
        }
        if key.phase.is_none() {
            notes.say("phase", "is empty", "every scored word belongs to a phase");
        }
    }
    match (key.use_, key.answer) {
        (Use::Check, None | Some(KnownAnswer::Divided)) => notes.say(
            "answer",
            "a check word needs one clear answer",
            "write correct or distorted, or use the word for practice",
        ),
        (Use::Practice | Use::Example, None) => notes.say(
            "answer",
            format!("a word for {} needs its answer", key.use_),
            "write correct, distorted or divided",
        ),
        (Use::Scored | Use::Peer | Use::WarmUp, Some(_)) => notes.say(
            "answer",
            format!("a {} word has no known answer", key.use_),
            "leave it empty, or change `use` to check, practice or example",
        ),
        _ => {}
    }
    match (&key.file, &row.reason) {
        (None, None) => notes.say(
            "file",
            "is empty",
            "name the recording, or say in `reason` why there is none (no response, not recorded, …)",
        ),
        (Some(_), Some(_)) => notes.say(
            "reason",
            "this row has a recording and a reason for having none",
            "keep one of the two",
        ),
        (None, Some(_)) if !key.use_.is_scored() => notes.say(
            "file",
            "only a scored word may go without a recording",
            "name the recording or delete the row",
        ),
        _ => {}
    }
}

/// What earlier rows said, to be held against later ones.
#[derive(Default)]
struct Seen {
    files: HashMap<String, u64>,
    words: HashMap<(ChildCode, u32, String, u32), u64>,
    children: HashMap<ChildCode, (Option<Cohort>, Use, u64)>,
    sessions: HashMap<(ChildCode, u32), (TokenKey, u64)>,
}

impl Seen {
    fn compare(&mut self, row: &ManifestRow, notes: &mut Notes<'_>) {
        if let Some(file) = &row.key.file
            && let Some(line) = self.files.insert(file.clone(), row.line)
        {
            notes.say(
                "file",
                format!("line {line} names the same file"),
                "keep one row a file",
            );
        }
        if row.key.use_.is_scored()
            && let (Some(child), Some(session)) = (&row.key.child, row.key.session)
        {
            self.compare_child(child, row, notes);
            self.compare_session(child, session, row, notes);
            let word = (child.clone(), session, row.key.word.text(), row.key.attempt);
            if let Some(line) = self.words.insert(word, row.line) {
                notes.say_row(
                    format!("line {line} has the same child, session, word and attempt"),
                    "number further tries in `attempt`, or keep one of the rows",
                );
            }
        }
    }

    fn compare_child(&mut self, child: &ChildCode, row: &ManifestRow, notes: &mut Notes<'_>) {
        let now = (row.key.cohort.clone(), row.key.use_, row.line);
        let (cohort, use_, line) = self.children.entry(child.clone()).or_insert(now);
        if *cohort != row.key.cohort {
            notes.say(
                "cohort",
                format!("line {line} puts this child into another cohort"),
                "a child belongs to one cohort; where ways alternate, use `condition`",
            );
        }
        if *use_ != row.key.use_ {
            notes.say(
                "use",
                format!("line {line} calls this child {use_}"),
                "a child is either scored or a peer in all its rows",
            );
        }
    }

    fn compare_session(
        &mut self,
        child: &ChildCode,
        session: u32,
        row: &ManifestRow,
        notes: &mut Notes<'_>,
    ) {
        let now = (row.key.clone(), row.line);
        let (first, line) = self.sessions.entry((child.clone(), session)).or_insert(now);
        let differs = [
            ("phase", first.phase != row.key.phase),
            ("condition", first.condition != row.key.condition),
            ("date", first.date != row.key.date),
            ("age_months", first.age_months != row.key.age_months),
        ];
        for (column, _) in differs.into_iter().filter(|(_, differs)| *differs) {
            notes.say(
                column,
                format!("line {line} says otherwise of the same session"),
                "all words of a session share it; number another session if it was another day",
            );
        }
    }
}
