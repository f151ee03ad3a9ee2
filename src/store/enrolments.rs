//! Listeners, and what each did in a round before the first word.

use super::ChildId;
use super::EnrolmentId;
use super::ListenerId;
use super::OpenLinkId;
use super::Reading;
use super::RoundId;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use crate::seal::Salt;
use crate::study::AnswerSide;
use crate::study::ListenerCode;
use crate::study::ListenerKind;

/// A listener in a round.
#[derive(Debug, Clone, PartialEq)]
pub struct Enrolment {
    /// The row.
    pub id: EnrolmentId,
    /// The round.
    pub round: RoundId,
    /// Who listens.
    pub listener: ListenerId,
    /// Her random code.
    pub code: ListenerCode,
    /// Naive or expert.
    pub kind: ListenerKind,
    /// The number of her link, counted from 1.
    pub number: u32,
    /// On which side 'correct' stands for her.
    pub side: AnswerSide,
    /// The open link by which she came; none where she was invited herself.
    pub open_link: Option<OpenLinkId>,
    /// SHA-256 of the secret in her link, in hex.
    pub link_sha256: String,
    /// Until when the link holds.
    pub expires_ms: Option<i64>,
    /// When it was taken back.
    pub revoked_ms: Option<i64>,
    /// When it was first opened.
    pub opened_ms: Option<i64>,
    /// When she agreed.
    pub consented_ms: Option<i64>,
    /// As whom she agreed, `adult` or `minor`, where the plan asked.
    pub assent: Option<String>,
    /// When she answered the questions.
    pub answered_ms: Option<i64>,
    /// Her answers to the questions as JSON.
    pub answers: Option<String>,
    /// When she had read what to judge.
    pub instructed_ms: Option<i64>,
    /// Her closing answers as JSON.
    pub closing: Option<String>,
    /// When she finished.
    pub finished_ms: Option<i64>,
    /// The receipt she was given.
    pub receipt: Option<String>,
    /// When she was let go: by a sealed rule, or for her practice.
    pub let_go_ms: Option<i64>,
    /// Why: what the rule found.
    pub let_go_why: Option<String>,
    /// When she withdrew.
    pub withdrawn_ms: Option<i64>,
}

/// A listener to invite.
#[derive(Debug, Clone, PartialEq)]
pub struct NewEnrolment {
    /// Her random code.
    pub code: ListenerCode,
    /// Naive or expert.
    pub kind: ListenerKind,
    /// The number of her link, counted from 1.
    pub number: u32,
    /// On which side 'correct' stands for her.
    pub side: AnswerSide,
    /// SHA-256 of the secret in her link, in hex.
    pub link_sha256: String,
    /// Until when the link holds.
    pub expires_ms: Option<i64>,
    /// The open link by which she came.
    pub open_link: Option<OpenLinkId>,
}

/// What was noted of a listener before the first word, one step at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// The link was opened.
    Opened,
    /// She agreed to this version of the consent.
    Consented,
    /// She read what to judge.
    Instructed,
    /// Her closing answers as JSON.
    Closed,
    /// The receipt that she was given.
    Finished,
}

const ENROLMENTS: &str = "
    SELECT enrolment.id, enrolment.round_id, enrolment.listener_id, listener.code, listener.kind,
           enrolment.number, enrolment.side, enrolment.open_link_id, enrolment.link_sha256,
           enrolment.expires_ms, enrolment.revoked_ms, enrolment.let_go_ms, enrolment.let_go_why,
           listener.withdrawn_ms,
           enrolment.opened_ms, enrolment.consented_ms, enrolment.assent, enrolment.answered_ms,
           enrolment.answers,
           enrolment.instructed_ms, enrolment.closing, enrolment.finished_ms, enrolment.receipt
    FROM enrolment JOIN listener ON listener.id = enrolment.listener_id";

fn enrolment_from(row: &rusqlite::Row<'_>) -> Result<Enrolment, StoreError> {
    Ok(Enrolment {
        id: column(row, "id")?,
        round: column(row, "round_id")?,
        listener: column(row, "listener_id")?,
        code: parsed(row, "listener", "code")?,
        kind: parsed(row, "listener", "kind")?,
        number: column(row, "number")?,
        side: parsed(row, "enrolment", "side")?,
        open_link: column(row, "open_link_id")?,
        link_sha256: column(row, "link_sha256")?,
        expires_ms: column(row, "expires_ms")?,
        revoked_ms: column(row, "revoked_ms")?,
        opened_ms: column(row, "opened_ms")?,
        consented_ms: column(row, "consented_ms")?,
        assent: column(row, "assent")?,
        answered_ms: column(row, "answered_ms")?,
        answers: column(row, "answers")?,
        instructed_ms: column(row, "instructed_ms")?,
        closing: column(row, "closing")?,
        finished_ms: column(row, "finished_ms")?,
        receipt: column(row, "receipt")?,
        let_go_ms: column(row, "let_go_ms")?,
        let_go_why: column(row, "let_go_why")?,
        withdrawn_ms: column(row, "withdrawn_ms")?,
    })
}

impl Reading<'_> {
    /// The listeners of a round in the order of their links.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn enrolments(&self, round: RoundId) -> Result<Vec<Enrolment>, StoreError> {
        let sql =
            format!("{ENROLMENTS} WHERE enrolment.round_id = :round ORDER BY enrolment.number");
        self.all(&sql, &[(":round", &round)], enrolment_from)
    }

    /// The listener whose link holds the secret with that digest.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn enrolment_by_link(&self, link_sha256: &str) -> Result<Option<Enrolment>, StoreError> {
        let sql = format!("{ENROLMENTS} WHERE enrolment.link_sha256 = :link");
        self.first(&sql, &[(":link", &link_sha256)], enrolment_from)
    }

    /// The listener whose browser holds the cookie with that digest.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn enrolment_by_cookie(
        &self,
        cookie_sha256: &str,
    ) -> Result<Option<Enrolment>, StoreError> {
        let sql = format!(
            "{ENROLMENTS} JOIN visit ON visit.enrolment_id = enrolment.id
             WHERE visit.cookie_sha256 = :cookie"
        );
        self.first(&sql, &[(":cookie", &cookie_sha256)], enrolment_from)
    }

    /// The children whom a listener must not hear.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn bars(&self, listener: ListenerId) -> Result<Vec<ChildId>, StoreError> {
        self.all(
            "SELECT child_id FROM bar WHERE listener_id = :listener ORDER BY child_id",
            &[(":listener", &listener)],
            |row| column(row, "child_id"),
        )
    }
}

impl Writing<'_> {
    /// Adds a listener with her link to a round.
    ///
    /// # Errors
    /// [`StoreError`] if the code or the link is taken or a row cannot be written.
    pub fn add_enrolment(
        &self,
        round: RoundId,
        new: &NewEnrolment,
    ) -> Result<(EnrolmentId, ListenerId), StoreError> {
        let listener = self.insert(
            "INSERT INTO listener (code, kind) VALUES (:code, :kind)",
            &[(":code", &new.code.as_str()), (":kind", &new.kind.as_str())],
        )?;
        let enrolment = self.insert(
            "INSERT INTO enrolment (round_id, listener_id, number, side, link_sha256, expires_ms,
                                    open_link_id)
             VALUES (:round, :listener, :number, :side, :link, :expires, :open_link)",
            &[
                (":round", &round),
                (":listener", &listener),
                (":number", &new.number),
                (":side", &new.side.as_str()),
                (":link", &new.link_sha256),
                (":expires", &new.expires_ms),
                (":open_link", &new.open_link),
            ],
        )?;
        Ok((EnrolmentId(enrolment), ListenerId(listener)))
    }

    /// Bars a listener from a child; a bar that stands already stays as it is.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn bar(
        &self,
        listener: ListenerId,
        child: ChildId,
        why: &str,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO bar (listener_id, child_id, why, since_ms)
             VALUES (:listener, :child, :why, :now) ON CONFLICT DO NOTHING",
            &[
                (":listener", &listener),
                (":child", &child),
                (":why", &why),
                (":now", &now_ms),
            ],
        )?;
        Ok(())
    }

    /// Notes a browser of a listener by the digest of its cookie.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn add_visit(
        &self,
        enrolment: EnrolmentId,
        cookie_sha256: &str,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO visit (cookie_sha256, enrolment_id, begun_ms)
             VALUES (:cookie, :enrolment, :now)",
            &[
                (":cookie", &cookie_sha256),
                (":enrolment", &enrolment),
                (":now", &now_ms),
            ],
        )?;
        Ok(())
    }

    /// Notes whether she agreed as somebody of age.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn note_assent(&self, enrolment: EnrolmentId, assent: &str) -> Result<(), StoreError> {
        self.run(
            "UPDATE enrolment SET assent = :assent WHERE id = :id",
            &[(":assent", &assent), (":id", &enrolment)],
        )?;
        Ok(())
    }

    /// Notes the salt of the digest of her closing answers in the log.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn note_closing_salt(&self, enrolment: EnrolmentId, salt: &Salt) -> Result<(), StoreError> {
        self.run(
            "UPDATE enrolment SET closing_salt = :salt WHERE id = :id",
            &[(":salt", salt.as_bytes()), (":id", &enrolment)],
        )?;
        Ok(())
    }

    /// Notes her answers to the questions, with the salt of their digest in the log.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn note_answers(
        &self,
        enrolment: EnrolmentId,
        answers: &str,
        salt: &Salt,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "UPDATE enrolment SET answers = :answers, answers_salt = :salt, answered_ms = :now
             WHERE id = :id",
            &[
                (":answers", &answers),
                (":salt", salt.as_bytes()),
                (":now", &now_ms),
                (":id", &enrolment),
            ],
        )?;
        Ok(())
    }

    /// Notes a step; the first time of a step stands, what was said last stands.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn note_step(
        &self,
        enrolment: EnrolmentId,
        step: Step,
        said: &str,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let sql = match step {
            Step::Opened => {
                "UPDATE enrolment SET opened_ms = coalesce(opened_ms, :now)
                 WHERE id = :id AND :said = :said"
            }
            Step::Consented => {
                "UPDATE enrolment SET consented_ms = coalesce(consented_ms, :now),
                 consent_version = :said WHERE id = :id"
            }
            Step::Instructed => {
                "UPDATE enrolment SET instructed_ms = coalesce(instructed_ms, :now)
                 WHERE id = :id AND :said = :said"
            }
            Step::Closed => "UPDATE enrolment SET closing = :said WHERE id = :id AND :now = :now",
            Step::Finished => {
                "UPDATE enrolment SET finished_ms = coalesce(finished_ms, :now),
                 receipt = coalesce(receipt, :said) WHERE id = :id"
            }
        };
        self.run(
            sql,
            &[(":now", &now_ms), (":said", &said), (":id", &enrolment)],
        )?;
        Ok(())
    }
}
