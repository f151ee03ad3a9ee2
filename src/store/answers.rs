//! Known answers by further people, and why one person may be enough.

use super::Reading;
use super::StoreError;
use super::TokenId;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use crate::seal::Salt;
use crate::study::JudgeCode;
use crate::study::KnownAnswer;

/// What one further person says of a word whose answer is to be known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownAnswerRow {
    /// The token.
    pub token: TokenId,
    /// SHA-256 of its decoded samples.
    pub samples_sha256: String,
    /// Who says so.
    pub judge: JudgeCode,
    /// What the word is.
    pub answer: KnownAnswer,
    /// When it was said.
    pub given_ms: i64,
    /// The salt of its digest in the log.
    pub salt: Salt,
}

/// Why the answer of a word counts though one person alone gave it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SingleJudgeRow {
    /// The token.
    pub token: TokenId,
    /// SHA-256 of its decoded samples.
    pub samples_sha256: String,
    /// Why nobody else could be asked.
    pub reason: String,
    /// When it was noted.
    pub noted_ms: i64,
    /// The salt of its digest in the log.
    pub salt: Salt,
}

impl Reading<'_> {
    /// What further people say, by token and in the order in which they said it.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn known_answers(&self) -> Result<Vec<KnownAnswerRow>, StoreError> {
        self.all(
            "SELECT known_answer.token_id, token.samples_sha256, known_answer.judge,
                    known_answer.answer, known_answer.given_ms, known_answer.salt
             FROM known_answer JOIN token ON token.id = known_answer.token_id
             ORDER BY known_answer.token_id, known_answer.id",
            &[],
            |row| {
                Ok(KnownAnswerRow {
                    token: column(row, "token_id")?,
                    samples_sha256: column(row, "samples_sha256")?,
                    judge: parsed(row, "known_answer", "judge")?,
                    answer: parsed(row, "known_answer", "answer")?,
                    given_ms: column(row, "given_ms")?,
                    salt: Salt::new(column(row, "salt")?),
                })
            },
        )
    }

    /// The words of which one person's answer is to be enough.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn single_judges(&self) -> Result<Vec<SingleJudgeRow>, StoreError> {
        self.all(
            "SELECT single_judge.token_id, token.samples_sha256, single_judge.reason,
                    single_judge.noted_ms, single_judge.salt
             FROM single_judge JOIN token ON token.id = single_judge.token_id
             ORDER BY single_judge.token_id",
            &[],
            |row| {
                Ok(SingleJudgeRow {
                    token: column(row, "token_id")?,
                    samples_sha256: column(row, "samples_sha256")?,
                    reason: column(row, "reason")?,
                    noted_ms: column(row, "noted_ms")?,
                    salt: Salt::new(column(row, "salt")?),
                })
            },
        )
    }

    /// Whether a token was sealed with any round.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn was_sealed(&self, token: TokenId) -> Result<bool, StoreError> {
        let found = self.first(
            "SELECT 1 AS found FROM round_token WHERE token_id = :token",
            &[(":token", &token)],
            |row| column::<i64>(row, "found"),
        )?;
        Ok(found.is_some())
    }
}

impl Writing<'_> {
    /// Notes what a further person says; it takes the place of what the same one said before.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn note_answer(&self, row: &KnownAnswerRow) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO known_answer (token_id, judge, answer, given_ms, salt)
             VALUES (:token, :judge, :answer, :given, :salt)
             ON CONFLICT (token_id, judge) DO UPDATE
             SET answer = :answer, given_ms = :given, salt = :salt",
            &[
                (":token", &row.token),
                (":judge", &row.judge.as_str()),
                (":answer", &row.answer.as_str()),
                (":given", &row.given_ms),
                (":salt", row.salt.as_bytes()),
            ],
        )?;
        Ok(())
    }

    /// Corrects the answer that a word was imported with.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn correct_answer(&self, token: TokenId, answer: KnownAnswer) -> Result<(), StoreError> {
        self.run(
            "UPDATE token SET answer = :answer WHERE id = :token",
            &[(":answer", &answer.as_str()), (":token", &token)],
        )?;
        Ok(())
    }

    /// Notes why one person's answer is to be enough.
    ///
    /// # Errors
    /// [`StoreError`] if it was noted before or the row cannot be written.
    pub fn note_single_judge(&self, row: &SingleJudgeRow) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO single_judge (token_id, reason, noted_ms, salt)
             VALUES (:token, :reason, :noted, :salt)",
            &[
                (":token", &row.token),
                (":reason", &row.reason),
                (":noted", &row.noted_ms),
                (":salt", row.salt.as_bytes()),
            ],
        )?;
        Ok(())
    }
}
