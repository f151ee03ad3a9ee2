//! Tokens, what was made of their recordings, and the rows without a recording.

use super::Reading;
use super::SessionId;
use super::StoreError;
use super::TokenId;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use super::rows::parsed_if_any;
use crate::study::ChildCode;
use crate::study::Elicitation;
use crate::study::Judgement;
use crate::study::KnownAnswer;
use crate::study::Word;
use crate::study::key::TokenKey;

/// A token with its key and its prepared audio.
#[derive(Debug, Clone, PartialEq)]
pub struct TokenRow {
    /// The row.
    pub id: TokenId,
    /// Where the token comes from.
    pub key: TokenKey,
    /// SHA-256 of the recording as it came.
    pub original_sha256: String,
    /// SHA-256 of its decoded samples: the same audio under two labels shows here.
    pub samples_sha256: String,
    /// Why the researcher left it out, if she did.
    pub excluded: Option<String>,
    /// What was made of it.
    pub prepared: PreparedRow,
}

/// What was made of a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct PreparedRow {
    /// SHA-256 of the prepared file, which is named by it.
    pub sha256: String,
    /// Its length in seconds.
    pub seconds: f64,
    /// Where the speech begins, in milliseconds.
    pub onset_ms: f64,
    /// The level over the active speech, in LUFS.
    pub level_lufs: f64,
    /// The true peak, in dBTP.
    pub true_peak_dbtp: f64,
    /// The gain that was applied, in dB.
    pub gain_db: f64,
    /// Speech over noise in dB, where it can be told.
    pub snr_db: Option<f64>,
    /// The bandwidth in Hz.
    pub bandwidth_hz: f64,
    /// Samples at full scale in the recording.
    pub clipped_samples: u64,
    /// Remarks on its quality, a sentence each.
    pub marks: Vec<String>,
}

/// A token to add.
#[derive(Debug, Clone, PartialEq)]
pub struct NewToken {
    /// Its session, unless it is a check, practice, warm-up or example token.
    pub session: Option<SessionId>,
    /// Where it comes from.
    pub key: TokenKey,
    /// SHA-256 of the recording as it came.
    pub original_sha256: String,
    /// SHA-256 of its decoded samples.
    pub samples_sha256: String,
    /// What was made of it.
    pub prepared: PreparedRow,
}

/// A row of a manifest without a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct MissingRow {
    /// Its session.
    pub session: SessionId,
    /// The word that was to be said.
    pub word: Word,
    /// Whether the word was practised in treatment.
    pub treated: Option<bool>,
    /// Which try it was.
    pub attempt: u32,
    /// Why there is no recording.
    pub reason: String,
}

const TOKENS: &str = "
    SELECT token.id, token.word, token.target, token.position, token.treated, token.attempt,
           token.elicitation, token.use, token.answer, token.clinician_score, token.file,
           token.original_sha256, token.samples_sha256, token.excluded,
           CASE WHEN token.session_id IS NULL THEN token.speaker
                WHEN token.speaker IS NULL THEN child.code END AS child, child.cohort,
           session.ordinal AS session, session.phase, session.condition, session.date,
           session.age_months,
           prepared.sha256, prepared.seconds, prepared.onset_ms, prepared.level_lufs,
           prepared.true_peak_dbtp, prepared.gain_db, prepared.snr_db, prepared.bandwidth_hz,
           prepared.clipped_samples, prepared.marks
    FROM token
    JOIN prepared ON prepared.token_id = token.id
    LEFT JOIN session ON session.id = token.session_id
    LEFT JOIN child ON child.id = session.child_id";

fn token_from(row: &rusqlite::Row<'_>) -> Result<TokenRow, StoreError> {
    Ok(TokenRow {
        id: column(row, "id")?,
        key: TokenKey {
            child: parsed_if_any(row, "child", "child")?,
            session: column(row, "session")?,
            phase: parsed_if_any(row, "session", "phase")?,
            cohort: parsed_if_any(row, "child", "cohort")?,
            condition: parsed_if_any(row, "session", "condition")?,
            date: parsed_if_any(row, "session", "date")?,
            word: parsed(row, "token", "word")?,
            target: column(row, "target")?,
            position: column(row, "position")?,
            treated: column(row, "treated")?,
            attempt: column(row, "attempt")?,
            elicitation: parsed_if_any(row, "token", "elicitation")?,
            age_months: column(row, "age_months")?,
            use_: parsed(row, "token", "use")?,
            answer: parsed_if_any(row, "token", "answer")?,
            clinician_score: parsed_if_any(row, "token", "clinician_score")?,
            file: Some(column(row, "file")?),
        },
        original_sha256: column(row, "original_sha256")?,
        samples_sha256: column(row, "samples_sha256")?,
        excluded: column(row, "excluded")?,
        prepared: prepared_from(row)?,
    })
}

fn prepared_from(row: &rusqlite::Row<'_>) -> Result<PreparedRow, StoreError> {
    let marks: String = column(row, "marks")?;
    let clipped: i64 = column(row, "clipped_samples")?;
    Ok(PreparedRow {
        sha256: column(row, "sha256")?,
        seconds: column(row, "seconds")?,
        onset_ms: column(row, "onset_ms")?,
        level_lufs: column(row, "level_lufs")?,
        true_peak_dbtp: column(row, "true_peak_dbtp")?,
        gain_db: column(row, "gain_db")?,
        snr_db: column(row, "snr_db")?,
        bandwidth_hz: column(row, "bandwidth_hz")?,
        clipped_samples: u64::try_from(clipped).unwrap_or(0),
        marks: marks.lines().map(str::to_owned).collect(),
    })
}

impl Reading<'_> {
    /// All tokens, in the order in which they were imported.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn tokens(&self) -> Result<Vec<TokenRow>, StoreError> {
        self.all(&format!("{TOKENS} ORDER BY token.id"), &[], token_from)
    }

    /// All rows without a recording.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn missing(&self) -> Result<Vec<MissingRow>, StoreError> {
        self.all(
            "SELECT session_id, word, treated, attempt, reason FROM missing
             ORDER BY session_id, word, attempt",
            &[],
            |row| {
                Ok(MissingRow {
                    session: column(row, "session_id")?,
                    word: parsed(row, "missing", "word")?,
                    treated: column(row, "treated")?,
                    attempt: column(row, "attempt")?,
                    reason: column(row, "reason")?,
                })
            },
        )
    }

    /// The level to which the study's tokens were brought, once there is one.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn study_level_lufs(&self) -> Result<Option<f64>, StoreError> {
        let level = self.first("SELECT level_lufs FROM study", &[], |row| {
            column(row, "level_lufs")
        })?;
        Ok(level.flatten())
    }
}

impl Writing<'_> {
    /// Notes that the study was made.
    ///
    /// # Errors
    /// [`StoreError`] if the file holds a study already.
    pub fn make_study(&self, made_ms: i64) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO study (id, made_ms) VALUES (1, :made)",
            &[(":made", &made_ms)],
        )?;
        Ok(())
    }

    /// Fixes the study's level.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn fix_level(&self, level_lufs: f64) -> Result<(), StoreError> {
        self.run(
            "UPDATE study SET level_lufs = :level",
            &[(":level", &level_lufs)],
        )?;
        Ok(())
    }

    /// Adds a token with what was made of its recording.
    ///
    /// # Errors
    /// [`StoreError`] if the same samples are there already or the row cannot be written.
    pub fn add_token(&self, token: &NewToken) -> Result<TokenId, StoreError> {
        let key = &token.key;
        let speaker = key.child.as_ref().filter(|_| token.session.is_none());
        let id = self.insert(
            "INSERT INTO token (session_id, speaker, word, target, position, treated, attempt,
                                elicitation, use, answer, clinician_score, file,
                                original_sha256, samples_sha256)
             VALUES (:session, :speaker, :word, :target, :position, :treated, :attempt,
                     :elicitation, :use, :answer, :score, :file, :original, :samples)",
            &[
                (":session", &token.session),
                (":speaker", &speaker.map(ChildCode::as_str)),
                (":word", &key.word.to_string()),
                (":target", &key.target),
                (":position", &key.position),
                (":treated", &key.treated),
                (":attempt", &key.attempt),
                (":elicitation", &key.elicitation.map(Elicitation::as_str)),
                (":use", &key.use_.as_str()),
                (":answer", &key.answer.map(KnownAnswer::as_str)),
                (":score", &key.clinician_score.map(Judgement::as_str)),
                (":file", &key.file.as_deref().unwrap_or_default()),
                (":original", &token.original_sha256),
                (":samples", &token.samples_sha256),
            ],
        )?;
        self.add_prepared(TokenId(id), &token.prepared)?;
        Ok(TokenId(id))
    }

    fn add_prepared(&self, token: TokenId, prepared: &PreparedRow) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO prepared (token_id, sha256, seconds, onset_ms, level_lufs, true_peak_dbtp,
                                   gain_db, snr_db, bandwidth_hz, clipped_samples, marks)
             VALUES (:token, :sha256, :seconds, :onset, :level, :peak, :gain, :snr, :bandwidth,
                     :clipped, :marks)",
            &[
                (":token", &token),
                (":sha256", &prepared.sha256),
                (":seconds", &prepared.seconds),
                (":onset", &prepared.onset_ms),
                (":level", &prepared.level_lufs),
                (":peak", &prepared.true_peak_dbtp),
                (":gain", &prepared.gain_db),
                (":snr", &prepared.snr_db),
                (":bandwidth", &prepared.bandwidth_hz),
                (
                    ":clipped",
                    &i64::try_from(prepared.clipped_samples).unwrap_or(i64::MAX),
                ),
                (":marks", &prepared.marks.join("\n")),
            ],
        )?;
        Ok(())
    }

    /// Adds a row without a recording.
    ///
    /// # Errors
    /// [`StoreError`] if it is there already or cannot be written.
    pub fn add_missing(&self, missing: &MissingRow) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO missing (session_id, word, treated, attempt, reason)
             VALUES (:session, :word, :treated, :attempt, :reason)",
            &[
                (":session", &missing.session),
                (":word", &missing.word.to_string()),
                (":treated", &missing.treated),
                (":attempt", &missing.attempt),
                (":reason", &missing.reason),
            ],
        )?;
        Ok(())
    }
}
