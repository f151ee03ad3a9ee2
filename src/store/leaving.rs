//! Listeners who leave before their time: let go by the sealed rules, or withdrawn by themselves.

use super::EnrolmentId;
use super::ListenerId;
use super::Reading;
use super::RoundTokenId;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use super::rows::parsed_if_any;
use crate::seal::Salt;
use crate::study::Judgement;
use crate::study::KnownAnswer;
use crate::study::ListenerCode;
use crate::study::PresentationId;
use crate::study::PresentationKind;

/// One judgement of a listener, as the rules may see it while she listens: there is no child,
/// session or phase here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeardRow {
    /// The presentation.
    pub presentation: PresentationId,
    /// The token, to pair a repeat with its first.
    pub token: RoundTokenId,
    /// What the presentation was for: main, check or repeat.
    pub kind: PresentationKind,
    /// The last revision.
    pub answer: Judgement,
    /// The known answer.
    pub known: Option<KnownAnswer>,
    /// From the end of the sound to the press, in milliseconds.
    pub rt_ms: Option<u32>,
}

/// A listener who withdrew.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WithdrawalTrace {
    /// Her code.
    pub listener: ListenerCode,
    /// When.
    pub withdrawn_ms: Option<i64>,
    /// What keeps the log's commitment to her code from being guessed.
    pub salt: Option<Salt>,
}

impl Reading<'_> {
    /// What a listener judged so far of main, check and repeated words, in the order of hearing.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn heard_by(&self, enrolment: EnrolmentId) -> Result<Vec<HeardRow>, StoreError> {
        self.all(
            "SELECT presentation.id, presentation.round_token_id, presentation.kind, last.answer,
                    token.answer AS known, last.rt_ms
             FROM presentation
             JOIN sitting ON sitting.id = presentation.sitting_id
             JOIN round_token ON round_token.id = presentation.round_token_id
             JOIN token ON token.id = round_token.token_id
             JOIN judgement AS last ON last.presentation_id = presentation.id
                  AND last.revision = (SELECT max(revision) FROM judgement
                                       WHERE presentation_id = presentation.id)
             WHERE sitting.enrolment_id = :enrolment AND presentation.state = 'judged'
               AND presentation.kind IN ('main', 'check', 'repeat')
             ORDER BY sitting.number, presentation.place",
            &[(":enrolment", &enrolment)],
            |row| {
                Ok(HeardRow {
                    presentation: PresentationId::new(column(row, "id")?),
                    token: column(row, "round_token_id")?,
                    kind: parsed(row, "presentation", "kind")?,
                    answer: parsed(row, "judgement", "answer")?,
                    known: parsed_if_any(row, "token", "known")?,
                    rt_ms: column(row, "rt_ms")?,
                })
            },
        )
    }

    /// How many places of a kind a listener may still judge. One that was given away may come late, but
    /// not of a speaker whom she knows, nor of a word that is out of use, nor a repeat of a word that
    /// she did not judge.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn may_still_judge(
        &self,
        enrolment: EnrolmentId,
        kind: PresentationKind,
    ) -> Result<u32, StoreError> {
        let count = self.first(
            "SELECT count(*) AS n FROM presentation
             JOIN sitting ON sitting.id = presentation.sitting_id
             JOIN enrolment ON enrolment.id = sitting.enrolment_id
             JOIN round_token ON round_token.id = presentation.round_token_id
             JOIN token ON token.id = round_token.token_id
             LEFT JOIN session ON session.id = token.session_id
             WHERE sitting.enrolment_id = :enrolment AND presentation.kind = :kind
               AND (presentation.state IN ('reserved', 'returned')
                    OR (presentation.state = 'dropped' AND presentation.voided = 0
                        AND token.id IN (SELECT token_id FROM in_use)
                        AND NOT EXISTS
                            (SELECT 1 FROM bar JOIN child ON child.id = bar.child_id
                             WHERE bar.listener_id = enrolment.listener_id
                               AND (child.id = session.child_id
                                    OR (token.session_id IS NULL AND child.code = token.speaker)))
                        AND (presentation.kind <> 'repeat' OR EXISTS
                             (SELECT 1 FROM presentation AS main
                              WHERE main.sitting_id = presentation.sitting_id
                                AND main.round_token_id = presentation.round_token_id
                                AND main.kind = 'main' AND main.state = 'judged'))))",
            &[(":enrolment", &enrolment), (":kind", &kind.as_str())],
            |row| column(row, "n"),
        )?;
        Ok(count.unwrap_or(0))
    }

    /// The listener who was given that receipt, and when she withdrew if she did.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn listener_with_receipt(
        &self,
        receipt: &str,
    ) -> Result<Option<(ListenerId, WithdrawalTrace)>, StoreError> {
        self.first(
            "SELECT listener.id, listener.code, listener.withdrawn_ms, listener.withdrawn_salt
             FROM enrolment JOIN listener ON listener.id = enrolment.listener_id
             WHERE enrolment.receipt = :receipt",
            &[(":receipt", &receipt)],
            |row| Ok((column(row, "id")?, withdrawal_from(row)?)),
        )
    }

    /// Every listener of whom anything is noted about a withdrawal.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn withdrawals(&self) -> Result<Vec<WithdrawalTrace>, StoreError> {
        self.all(
            "SELECT code, withdrawn_ms, withdrawn_salt FROM listener
             WHERE withdrawn_ms IS NOT NULL OR withdrawn_salt IS NOT NULL ORDER BY code",
            &[],
            withdrawal_from,
        )
    }
}

fn withdrawal_from(row: &rusqlite::Row<'_>) -> Result<WithdrawalTrace, StoreError> {
    let salt: Option<[u8; 16]> = column(row, "withdrawn_salt")?;
    Ok(WithdrawalTrace {
        listener: parsed(row, "listener", "code")?,
        withdrawn_ms: column(row, "withdrawn_ms")?,
        salt: salt.map(Salt::new),
    })
}

impl Writing<'_> {
    /// Lets a listener go: notes why, and drops every place that waits for her. Says which.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be written.
    pub fn let_go(
        &self,
        enrolment: EnrolmentId,
        why: &str,
        now_ms: i64,
    ) -> Result<Vec<PresentationId>, StoreError> {
        self.run(
            "UPDATE enrolment SET let_go_ms = :now, let_go_why = :why WHERE id = :enrolment",
            &[
                (":now", &now_ms),
                (":why", &why),
                (":enrolment", &enrolment),
            ],
        )?;
        self.all(
            "UPDATE presentation SET state = 'dropped'
             WHERE state IN ('reserved', 'returned') AND kind <> 'example'
               AND sitting_id IN (SELECT id FROM sitting WHERE enrolment_id = :enrolment)
             RETURNING id",
            &[(":enrolment", &enrolment)],
            |row| Ok(PresentationId::new(column(row, "id")?)),
        )
    }

    /// Notes that a listener withdrew: nothing of hers stands in any result from now on.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn withdraw_listener(
        &self,
        listener: ListenerId,
        salt: &Salt,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "UPDATE listener SET withdrawn_ms = :now, withdrawn_salt = :salt WHERE id = :listener",
            &[
                (":now", &now_ms),
                (":salt", salt.as_bytes()),
                (":listener", &listener),
            ],
        )?;
        Ok(())
    }
}
