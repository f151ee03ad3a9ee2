//! A round's tables, as anybody can read them: RFC 4180, UTF-8, rows in a fixed order.

use std::collections::BTreeSet;

use csv::Terminator;
use csv::WriterBuilder;

use super::share::AGE_STEP_MONTHS;
use super::share::FIRST_DAY;
use crate::study::KnownAnswer;
use crate::study::ListenerCode;
use crate::study::Panel;
use crate::study::PresentationKind;
use crate::study::Use;
use crate::study::record::RoundRecord;
use crate::study::record::TokenRecord;

/// A file of an export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExportFile {
    /// Its name in the folder.
    pub name: &'static str,
    /// Its content.
    pub content: Vec<u8>,
}

/// Judgements that count, one row each, as `agreement` and `outcome` read them. Of a practice word that was practised again
/// the first judgement alone: later ones knew the answer.
///
/// Of the panel alone: whoever is of another kind than the plan's listeners stands in [`write_reference_ratings`].
pub fn write_ratings(record: &RoundRecord) -> Vec<u8> {
    let reference = record.reference_listeners();
    write_judgements(record, |code| !reference.contains(code))
}

/// The same of the listeners who stand beside the panel; nothing where none of them judged.
pub fn write_reference_ratings(record: &RoundRecord) -> Option<Vec<u8>> {
    let reference = record.reference_listeners();
    let mut judged = record.presentations.iter();
    judged
        .any(|row| row.answer.is_some() && reference.contains(&row.listener))
        .then(|| write_judgements(record, |code| reference.contains(code)))
}

fn write_judgements(record: &RoundRecord, of: impl Fn(&ListenerCode) -> bool) -> Vec<u8> {
    let mut table = Table::new(&[
        "token",
        "listener",
        "judgement",
        "presentation",
        "sitting",
        "order",
        "rt_ms",
        "rt_grain_ms",
        "replays",
        "voided",
        "revisions",
        "known_speaker",
    ]);
    let mut practised = BTreeSet::new();
    for row in record.presentations.iter().filter(|row| of(&row.listener)) {
        let Some(answer) = row.answer else { continue };
        if row.kind == PresentationKind::Practice && !practised.insert((&row.listener, &row.token))
        {
            continue;
        }
        table.row(&[
            row.token.clone(),
            row.listener.to_string(),
            answer.to_string(),
            row.kind.to_string(),
            row.sitting.to_string(),
            row.order.to_string(),
            maybe(row.rt_ms),
            maybe(row.rt_grain_ms),
            maybe(row.replays),
            row.voided.to_string(),
            row.revisions.to_string(),
            row.known_speaker.to_string(),
        ]);
    }
    table.finish()
}

/// For whom an export is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// For those who run the study.
    Internal,
    /// To be given away: the record went through [`super::shared`].
    Shared,
}

/// The tokens that were played, with all that the listeners could not know.
pub fn write_tokens(record: &RoundRecord, form: Form) -> Vec<u8> {
    if form == Form::Shared {
        return write_shared_tokens(record);
    }
    let mut table = Table::new(&[
        "token",
        "child",
        "session",
        "phase",
        "cohort",
        "condition",
        "date",
        "word",
        "target",
        "position",
        "treated",
        "attempt",
        "elicitation",
        "age_months",
        "use",
        "link",
        "answer",
        "clinician_score",
        "seconds",
        "level_lufs",
        "snr_db",
        "bandwidth_hz",
        "remarks",
        "audio_sha256",
    ]);
    for token in &record.tokens {
        table.row(&token_row(token));
    }
    table.finish()
}

fn token_row(token: &TokenRecord) -> Vec<String> {
    let key = &token.key;
    vec![
        token.name.clone(),
        maybe(key.child.as_ref()),
        maybe(key.session),
        maybe(key.phase.as_ref()),
        maybe(key.cohort.as_ref()),
        maybe(key.condition.as_ref()),
        maybe(key.date),
        free_text(&key.word.to_string()),
        free_text(key.target.as_deref().unwrap_or_default()),
        free_text(key.position.as_deref().unwrap_or_default()),
        maybe(key.treated),
        key.attempt.to_string(),
        maybe(key.elicitation),
        maybe(key.age_months),
        key.use_.to_string(),
        token.link.to_string(),
        maybe(key.answer),
        maybe(key.clinician_score),
        format!("{:.3}", token.seconds),
        format!("{:.2}", token.level_lufs),
        token
            .snr_db
            .map(|snr| format!("{snr:.1}"))
            .unwrap_or_default(),
        format!("{:.0}", token.bandwidth_hz),
        free_text(&token.marks.join("; ")),
        token.audio_sha256.clone(),
    ]
}

/// The same of a shared record: days instead of dates, half-years instead of months.
fn write_shared_tokens(record: &RoundRecord) -> Vec<u8> {
    let mut table = Table::new(&[
        "token",
        "child",
        "session",
        "phase",
        "cohort",
        "condition",
        "day",
        "word",
        "treated",
        "attempt",
        "elicitation",
        "age_half_years",
        "use",
        "link",
        "answer",
        "clinician_score",
        "seconds",
        "level_lufs",
        "snr_db",
        "bandwidth_hz",
    ]);
    for token in &record.tokens {
        let key = &token.key;
        table.row(&[
            token.name.clone(),
            maybe(key.child.as_ref()),
            maybe(key.session),
            maybe(key.phase.as_ref()),
            maybe(key.cohort.as_ref()),
            maybe(key.condition.as_ref()),
            maybe(key.date.map(|date| (date - FIRST_DAY).get_days())),
            key.word.text(),
            maybe(key.treated),
            key.attempt.to_string(),
            maybe(key.elicitation),
            maybe(key.age_months.map(|months| months / AGE_STEP_MONTHS)),
            key.use_.to_string(),
            token.link.to_string(),
            maybe(key.answer),
            maybe(key.clinician_score),
            format!("{:.3}", token.seconds),
            format!("{:.2}", token.level_lufs),
            maybe(token.snr_db.map(|snr| format!("{snr:.1}"))),
            format!("{:.0}", token.bandwidth_hz),
        ]);
    }
    table.finish()
}

/// The known answers of check tokens, as `listeners --key` reads them.
pub fn write_key(record: &RoundRecord) -> Vec<u8> {
    let mut table = Table::new(&["item", "answer"]);
    for token in &record.tokens {
        if token.key.use_ == Use::Check
            && let Some(answer @ (KnownAnswer::Correct | KnownAnswer::Distorted)) = token.key.answer
        {
            table.row(&[token.name.clone(), answer.to_string()]);
        }
    }
    table.finish()
}

/// Who was kept, and why not.
pub fn write_panel(panel: &Panel, why: &dyn Fn(&str) -> String) -> Vec<u8> {
    let mut table = Table::new(&["listener", "kept", "weight", "why"]);
    for row in &panel.rows {
        table.row(&[
            row.listener.clone(),
            row.kept.to_string(),
            maybe(row.weight),
            why(&row.listener),
        ]);
    }
    table.finish()
}

/// Presentations that were set aside: never judged, never a 'distorted'.
pub fn write_set_aside(record: &RoundRecord) -> Vec<u8> {
    let mut table = Table::new(&[
        "token",
        "listener",
        "presentation",
        "sitting",
        "order",
        "reason",
    ]);
    for row in &record.presentations {
        let Some(reason) = row.aside else { continue };
        table.row(&[
            row.token.clone(),
            row.listener.to_string(),
            row.kind.to_string(),
            row.sitting.to_string(),
            row.order.to_string(),
            reason.to_string(),
        ]);
    }
    table.finish()
}

/// Words that were to be said and were not recorded.
pub fn write_missing(record: &RoundRecord) -> Vec<u8> {
    let mut table = Table::new(&["child", "session", "phase", "word", "reason"]);
    for row in &record.missing {
        table.row(&[
            row.child.clone(),
            row.session.to_string(),
            row.phase.clone(),
            free_text(&row.word),
            free_text(&row.reason),
        ]);
    }
    table.finish()
}

/// Words that were recorded and left out before anybody judged them.
pub fn write_excluded(record: &RoundRecord) -> Vec<u8> {
    let mut table = Table::new(&["child", "session", "phase", "word", "reason"]);
    for row in &record.excluded {
        table.row(&[
            row.child.clone(),
            row.session.to_string(),
            row.phase.clone(),
            free_text(&row.word),
            row.reason.to_string(),
        ]);
    }
    table.finish()
}

/// The listeners, by how far they came.
pub fn write_flow(record: &RoundRecord) -> Vec<u8> {
    let mut table = Table::new(&["listener", "kind", "came", "let_go"]);
    for row in &record.listeners {
        let came = serde_json::to_value(row.came)
            .ok()
            .and_then(|came| came.as_str().map(str::to_owned))
            .unwrap_or_default();
        let let_go = row.let_go.clone().unwrap_or_default();
        table.row(&[row.code.to_string(), row.kind.to_string(), came, let_go]);
    }
    table.finish()
}

/// What the listeners answered beside their judgements.
pub fn write_answers(record: &RoundRecord) -> Vec<u8> {
    let mut table = Table::new(&["listener", "question", "answer"]);
    for row in &record.answers {
        table.row(&[
            row.listener.to_string(),
            row.question.clone(),
            free_text(&row.answer),
        ]);
    }
    table.finish()
}

/// What the listeners said of their sound.
pub fn write_sound_checks(record: &RoundRecord) -> Vec<u8> {
    let mut table = Table::new(&[
        "listener",
        "device",
        "heard",
        "level_db",
        "first_sound_right",
        "first_sound_of",
        "first_sound_tries",
        "headphones_right",
        "headphones_of",
        "headphones_tries",
    ]);
    for row in &record.sound_checks {
        let counts = |told: Option<[u32; 3]>| match told {
            Some(counts) => counts.map(|count| count.to_string()),
            None => Default::default(),
        };
        let [right, of, tries] = counts(row.first_sound);
        let [phones_right, phones_of, phones_tries] = counts(row.headphones);
        table.row(&[
            row.listener.to_string(),
            row.device.clone(),
            row.heard.to_string(),
            maybe(row.level_db),
            right,
            of,
            tries,
            phones_right,
            phones_of,
            phones_tries,
        ]);
    }
    table.finish()
}

fn maybe<T: ToString>(value: Option<T>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

/// What a spreadsheet takes for the beginning of a formula.
const FORMULA: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];

/// Free text that a spreadsheet would take for a formula gets an apostrophe in front.
fn free_text(text: &str) -> String {
    if text.starts_with(FORMULA) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// A cell without the apostrophe that [`free_text`] put in front.
#[cfg(feature = "xlsx")]
pub(super) fn without_guard(cell: &str) -> &str {
    let bare = cell.strip_prefix('\'');
    bare.filter(|bare| bare.starts_with(FORMULA))
        .unwrap_or(cell)
}

/// A CSV in memory.
pub(super) struct Table(csv::Writer<Vec<u8>>);

impl Table {
    pub(super) fn new(header: &[&str]) -> Self {
        let writer = WriterBuilder::new()
            .terminator(Terminator::CRLF)
            .from_writer(Vec::new());
        let mut table = Self(writer);
        table.write(header);
        table
    }

    pub(super) fn row(&mut self, cells: &[String]) {
        self.write(cells);
    }

    fn write<T: AsRef<[u8]>>(&mut self, cells: &[T]) {
        // Rows are as long as the header and go into memory: there is nothing that can fail.
        let _ = self.0.write_record(cells);
    }

    pub(super) fn finish(self) -> Vec<u8> {
        self.0.into_inner().unwrap_or_default()
    }
}
