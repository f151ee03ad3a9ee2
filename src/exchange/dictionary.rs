//! The data dictionary: what each column of an export means.

use super::columns::COLUMNS;
use super::export::Table;

/// One column, explained: file, column, meaning, unit, allowed values. An empty cell is missing.
pub type Explained<'a> = (&'a str, &'a str, &'a str, &'a str, &'a str);

/// The columns of what listeners said beside their judgements.
const SAID: &[Explained<'static>] = &[
    (
        "listener_answers.csv",
        "listener",
        "who answered",
        "",
        "a code of flow.csv",
    ),
    (
        "listener_answers.csv",
        "question",
        "a question of the plan, whether she is of age (assent), or a closing question",
        "",
        "assent, first-language, age, hearing, experience, acquaintance, the study's own, \
         told-early-from-late, knew-a-voice",
    ),
    (
        "listener_answers.csv",
        "answer",
        "the choice that she made; not-said is a choice",
        "",
        "a choice of the question",
    ),
    (
        "sound_checks.csv",
        "listener",
        "whose sound it was",
        "",
        "a code of flow.csv",
    ),
    (
        "sound_checks.csv",
        "device",
        "what she listened with, by her own account",
        "",
        "wired-headphones, wireless, built-in, wired-loudspeaker",
    ),
    (
        "sound_checks.csv",
        "heard",
        "whether she heard a word whole, by her own account",
        "",
        "true, false",
    ),
    (
        "sound_checks.csv",
        "level_db",
        "her page's level below that of the prepared words",
        "dB",
        "-24 to 0",
    ),
    (
        "sound_checks.csv",
        "first_sound_right",
        "made-up sounds whose beginning she told right, the last time",
        "",
        "0, 1, …",
    ),
    (
        "sound_checks.csv",
        "first_sound_of",
        "made-up sounds that she heard, the last time",
        "",
        "1, 2, …",
    ),
    (
        "sound_checks.csv",
        "first_sound_tries",
        "how often she did that check",
        "",
        "1, 2, …",
    ),
    (
        "sound_checks.csv",
        "headphones_right",
        "sets of tones whose softest she told right, the last time; wrong for about one in five",
        "",
        "0, 1, …",
    ),
    (
        "sound_checks.csv",
        "headphones_of",
        "sets of tones that she heard, the last time",
        "",
        "1, 2, …",
    ),
    (
        "sound_checks.csv",
        "headphones_tries",
        "how often she did that check",
        "",
        "1, 2, …",
    ),
];

/// The columns that a shared export has instead of others.
const SHARED: &[Explained<'static>] = &[
    (
        "tokens.csv",
        "day",
        "the day of the recording, counted from the first recording of the study",
        "days",
        "0, 1, …",
    ),
    (
        "tokens.csv",
        "age_half_years",
        "the child's age at the recording, in whole half-years",
        "half-years",
        "0, 1, …",
    ),
];

/// The columns that a shared export lacks.
const NOT_SHARED: &[(&str, &str)] = &[
    ("tokens.csv", "date"),
    ("tokens.csv", "target"),
    ("tokens.csv", "position"),
    ("tokens.csv", "age_months"),
    ("tokens.csv", "remarks"),
    ("tokens.csv", "audio_sha256"),
];

/// The data dictionary of an export as CSV: `columns` explain the files beside those of every round.
pub fn write_dictionary<'a>(columns: impl Iterator<Item = Explained<'a>>) -> Vec<u8> {
    write(COLUMNS.iter().chain(SAID).copied().chain(columns))
}

/// The same of a shared export.
pub fn write_shared_dictionary<'a>(columns: impl Iterator<Item = Explained<'a>>) -> Vec<u8> {
    let own = COLUMNS
        .iter()
        .chain(SAID)
        .filter(|(file, column, ..)| !NOT_SHARED.contains(&(file, column)))
        .chain(SHARED);
    write(own.copied().chain(columns))
}

/// The file of the judgements of listeners who stand beside the panel.
pub const REFERENCE_RATINGS: &str = "reference_ratings.csv";

/// Its columns: those of `ratings.csv`.
pub fn reference_columns<'a>() -> impl Iterator<Item = Explained<'a>> {
    let of_ratings = COLUMNS.iter().filter(|(file, ..)| *file == "ratings.csv");
    of_ratings.map(|(_, column, meaning, unit, allowed)| {
        (REFERENCE_RATINGS, *column, *meaning, *unit, *allowed)
    })
}

fn write<'a>(columns: impl Iterator<Item = Explained<'a>>) -> Vec<u8> {
    let mut table = Table::new(&["file", "column", "meaning", "unit", "allowed", "missing"]);
    for (file, column, meaning, unit, allowed) in columns {
        let cells = [file, column, meaning, unit, allowed, "an empty cell"];
        table.row(&cells.map(str::to_owned));
    }
    table.finish()
}

/// A table as CSV.
pub fn write_table<'a>(header: &[&str], rows: impl Iterator<Item = Vec<&'a str>>) -> Vec<u8> {
    let mut table = Table::new(header);
    for row in rows {
        table.row(&row.into_iter().map(str::to_owned).collect::<Vec<_>>());
    }
    table.finish()
}
