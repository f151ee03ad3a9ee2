//! What each column of a round's tables means.

use super::export::Table;

/// One column, explained: file, column, meaning, unit, allowed values. An empty cell is missing.
pub type Explained<'a> = (&'a str, &'a str, &'a str, &'a str, &'a str);

/// The columns of the tables that the commands read.
pub(super) const COLUMNS: &[Explained<'static>] = &[
    (
        "ratings.csv",
        "token",
        "the token that was heard",
        "",
        "a token of tokens.csv",
    ),
    (
        "ratings.csv",
        "listener",
        "who listened",
        "",
        "a code of flow.csv",
    ),
    (
        "ratings.csv",
        "judgement",
        "what she heard; the last revision",
        "",
        "correct, distorted",
    ),
    (
        "ratings.csv",
        "presentation",
        "what the presentation was for",
        "",
        "practice, warm-up, check, main, repeat",
    ),
    ("ratings.csv", "sitting", "her sitting", "", "1, 2, …"),
    (
        "ratings.csv",
        "order",
        "its place among all that she heard",
        "",
        "1, 2, …",
    ),
    (
        "ratings.csv",
        "rt_ms",
        "from the end of the sound to the press, on the audio clock; approximate: what the listener's \
         device adds on the way to the ear is taken off only where her browser tells it",
        "ms",
        "0, 1, …",
    ),
    (
        "ratings.csv",
        "rt_grain_ms",
        "the smallest step of the clocks that rt_ms rests on",
        "ms",
        "1, 2, …",
    ),
    (
        "ratings.csv",
        "replays",
        "how often it was played again",
        "",
        "0, 1, …",
    ),
    (
        "ratings.csv",
        "voided",
        "how often the word was cut short before (page out of sight, output lost) and came back later \
         in the sitting; what was cut short counts as nothing",
        "",
        "0, 1, 2",
    ),
    (
        "ratings.csv",
        "revisions",
        "how often she answered; more than one is a changed answer",
        "",
        "1, 2, …",
    ),
    (
        "ratings.csv",
        "known_speaker",
        "whether she said, then or later, that she knows the speaker",
        "",
        "true, false",
    ),
    (
        "tokens.csv",
        "token",
        "the token's random number in this round",
        "",
        "T and a number",
    ),
    (
        "tokens.csv",
        "child",
        "the child's code",
        "",
        "a code of the study",
    ),
    (
        "tokens.csv",
        "session",
        "the recording occasion",
        "",
        "1, 2, …",
    ),
    (
        "tokens.csv",
        "phase",
        "the phase of the session",
        "",
        "a phase of the study",
    ),
    (
        "tokens.csv",
        "cohort",
        "the child's way of treating",
        "",
        "a cohort of the study",
    ),
    (
        "tokens.csv",
        "condition",
        "the session's way of treating, where ways alternate",
        "",
        "a condition of the study",
    ),
    (
        "tokens.csv",
        "date",
        "the day of the recording",
        "year-month-day",
        "a date",
    ),
    (
        "tokens.csv",
        "word",
        "the word, judged letters in brackets",
        "",
        "free text",
    ),
    (
        "tokens.csv",
        "target",
        "the sound under treatment",
        "",
        "free text",
    ),
    (
        "tokens.csv",
        "position",
        "its position in the word",
        "",
        "free text",
    ),
    (
        "tokens.csv",
        "treated",
        "whether the word was practised in treatment",
        "",
        "true, false",
    ),
    ("tokens.csv", "attempt", "which try it was", "", "1, 2, …"),
    (
        "tokens.csv",
        "elicitation",
        "how the word was elicited",
        "",
        "named, imitated, read, sentence",
    ),
    (
        "tokens.csv",
        "age_months",
        "the child's age at the recording",
        "months",
        "0, 1, …",
    ),
    (
        "tokens.csv",
        "use",
        "what the token was for",
        "",
        "scored, peer, check, practice, warm-up, example",
    ),
    (
        "tokens.csv",
        "link",
        "heard again only to tell this panel from earlier ones; counts for no session here",
        "",
        "true, false",
    ),
    (
        "tokens.csv",
        "answer",
        "the known answer",
        "",
        "correct, distorted, divided",
    ),
    (
        "tokens.csv",
        "clinician_score",
        "how the clinician scored it in the session",
        "",
        "correct, distorted",
    ),
    (
        "tokens.csv",
        "seconds",
        "length of what was played",
        "s",
        "above 0",
    ),
    (
        "tokens.csv",
        "level_lufs",
        "level over the active speech",
        "LUFS",
        "a number",
    ),
    (
        "tokens.csv",
        "snr_db",
        "speech over noise in the recording",
        "dB",
        "a number",
    ),
    (
        "tokens.csv",
        "bandwidth_hz",
        "up to where the recording holds sound",
        "Hz",
        "a number",
    ),
    (
        "tokens.csv",
        "remarks",
        "remarks on the recording",
        "",
        "free text",
    ),
    (
        "tokens.csv",
        "audio_sha256",
        "SHA-256 of what was played",
        "",
        "64 hexadecimal digits",
    ),
    (
        "panel.csv",
        "listener",
        "who listened",
        "",
        "a code of flow.csv",
    ),
    (
        "panel.csv",
        "kept",
        "whether the sealed rules keep her",
        "",
        "true, false",
    ),
    (
        "panel.csv",
        "weight",
        "what her judgements weigh where quality counts",
        "",
        "0 to 1",
    ),
    ("panel.csv", "why", "why she was left out", "", "free text"),
    (
        "key.csv",
        "item",
        "a check token",
        "",
        "a token of tokens.csv",
    ),
    (
        "key.csv",
        "answer",
        "its known answer",
        "",
        "correct, distorted",
    ),
    (
        "set_aside.csv",
        "token",
        "the token that was set aside",
        "",
        "a token of tokens.csv",
    ),
    (
        "set_aside.csv",
        "listener",
        "who set it aside",
        "",
        "a code of flow.csv",
    ),
    (
        "set_aside.csv",
        "presentation",
        "what the presentation was for",
        "",
        "practice, warm-up, check, main, repeat",
    ),
    ("set_aside.csv", "sitting", "her sitting", "", "1, 2, …"),
    (
        "set_aside.csv",
        "order",
        "its place among all that she heard",
        "",
        "1, 2, …",
    ),
    (
        "set_aside.csv",
        "reason",
        "why",
        "",
        "noise, another-word, no-sound, known-speaker",
    ),
    (
        "missing.csv",
        "child",
        "the child's code",
        "",
        "a code of the study",
    ),
    (
        "missing.csv",
        "session",
        "the recording occasion",
        "",
        "1, 2, …",
    ),
    (
        "missing.csv",
        "phase",
        "the phase of the session",
        "",
        "a phase of the study",
    ),
    (
        "missing.csv",
        "word",
        "the word that was to be said",
        "",
        "free text",
    ),
    (
        "missing.csv",
        "reason",
        "why there is no recording",
        "",
        "free text",
    ),
    (
        "excluded.csv",
        "child",
        "the child's code",
        "",
        "a code of the study",
    ),
    (
        "excluded.csv",
        "session",
        "the recording occasion",
        "",
        "1, 2, …",
    ),
    (
        "excluded.csv",
        "phase",
        "the phase of the session",
        "",
        "a phase of the study",
    ),
    (
        "excluded.csv",
        "word",
        "the word that was left out",
        "",
        "free text",
    ),
    (
        "excluded.csv",
        "reason",
        "why it was left out, before anybody judged it",
        "",
        "noise, overlap, wrong-word, clinician-voice, says-a-name, cut-off, technical, not-part",
    ),
    (
        "flow.csv",
        "listener",
        "a listener's random code",
        "",
        "L- and 8 signs",
    ),
    ("flow.csv", "kind", "who listens", "", "naive, expert"),
    (
        "flow.csv",
        "came",
        "how far she came",
        "",
        "invited, opened, agreed, began, finished",
    ),
    (
        "flow.csv",
        "let_go",
        "why a sealed rule let her go while she listened",
        "",
        "a sentence; empty: none did",
    ),
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
    write(COLUMNS.iter().copied().chain(columns))
}

/// The same of a shared export.
pub fn write_shared_dictionary<'a>(columns: impl Iterator<Item = Explained<'a>>) -> Vec<u8> {
    let own = COLUMNS
        .iter()
        .filter(|(file, column, ..)| !NOT_SHARED.contains(&(file, column)))
        .chain(SHARED);
    write(own.copied().chain(columns))
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
