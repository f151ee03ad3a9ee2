//! What a round's listeners said, joined to what they could not know. Only the acts that hold an
//! unlocked round, and the screening of listeners (which looks at no child), ask for it.

use super::Reading;
use super::RoundId;
use super::RoundTokenId;
use super::StoreError;
use super::TokenId;
use super::rows::column;
use super::rows::parsed;
use super::rows::parsed_if_any;
use crate::study::Judgement;
use crate::study::ListenerCode;
use crate::study::PresentationKind;
use crate::study::SetAside;

/// One presentation that came to an end: the judgement that counts, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct ResultRow {
    /// The token in the round.
    pub token: RoundTokenId,
    /// Who listened.
    pub listener: ListenerCode,
    /// The sitting, counted from 1 for its listener.
    pub sitting: u32,
    /// What the presentation was for.
    pub kind: PresentationKind,
    /// Its place in the sitting, counted from 1.
    pub place: u32,
    /// The last revision.
    pub answer: Option<Judgement>,
    /// Why the listener set it aside.
    pub aside: Option<SetAside>,
    /// Whether it was given up, as its sound was cut short each time.
    pub given_up: bool,
    /// Revisions of the answer; more than one means that it was changed.
    pub revisions: u32,
    /// When the first answer came, where one did.
    pub answered_ms: Option<i64>,
    /// From the end of the sound to the press, in milliseconds.
    pub rt_ms: Option<u32>,
    /// The grain of the clock that measured it, in milliseconds.
    pub rt_grain_ms: Option<u32>,
    /// How often the word was played again.
    pub replays: Option<u32>,
    /// How often the word was cut short before, and came back.
    pub voided: u32,
    /// Whether the listener said, now or later, that she knows the speaker.
    pub known_speaker: bool,
}

/// What a listener said of herself and at the end, as JSON where it was said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SaidRow {
    /// Who.
    pub listener: ListenerCode,
    /// Whether she agreed as somebody of age, where the plan asks.
    pub assent: Option<String>,
    /// Her answers to the questions.
    pub answers: Option<String>,
    /// At the end.
    pub closing: Option<String>,
}

impl Reading<'_> {
    /// What the listeners of a round said beside their judgements, in the order of their links.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn said(&self, round: RoundId) -> Result<Vec<SaidRow>, StoreError> {
        self.all(
            "SELECT listener.code, enrolment.assent, enrolment.answers, enrolment.closing
             FROM enrolment JOIN listener ON listener.id = enrolment.listener_id
             WHERE enrolment.round_id = :round AND listener.withdrawn_ms IS NULL
             ORDER BY enrolment.number",
            &[(":round", &round)],
            |row| {
                Ok(SaidRow {
                    listener: parsed(row, "listener", "code")?,
                    assent: column(row, "assent")?,
                    answers: column(row, "answers")?,
                    closing: column(row, "closing")?,
                })
            },
        )
    }

    /// The share of main judgements `correct` of every scored token that an unlocked round played, in the order of the
    /// tokens: what links are spread over. Who seals a round sees none of it.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn unlocked_shares(&self) -> Result<Vec<(TokenId, f64)>, StoreError> {
        self.all(
            "SELECT round_token.token_id, avg(last.answer = 'correct') AS share
             FROM presentation
             JOIN round_token ON round_token.id = presentation.round_token_id
             JOIN round ON round.id = round_token.round_id
             JOIN judgement AS last ON last.presentation_id = presentation.id
                  AND last.revision = (SELECT max(revision) FROM judgement
                                       WHERE presentation_id = presentation.id)
             WHERE round.state = 'unlocked' AND round_token.stratum IS NOT NULL
               AND presentation.kind = 'main' AND presentation.state = 'judged'
             GROUP BY round_token.token_id ORDER BY round_token.token_id",
            &[],
            |row| Ok((column(row, "token_id")?, column(row, "share")?)),
        )
    }

    /// All ended presentations of a round by listener, sitting and place. A word that was cut short and did
    /// not come back is one of them; one that came back stands where it was judged.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn results(&self, round: RoundId) -> Result<Vec<ResultRow>, StoreError> {
        self.all(
            "SELECT presentation.round_token_id, listener.code, sitting.number AS sitting,
                    presentation.kind, presentation.place, presentation.aside,
                    presentation.state = 'dropped' AS given_up,
                    last.answer, coalesce(last.revision, 0) AS revisions, last.rt_ms,
                    last.rt_grain_ms, last.replays,
                    (SELECT min(received_ms) FROM judgement
                     WHERE presentation_id = presentation.id) AS answered_ms,
                    (SELECT count(*) FROM presentation AS earlier
                     WHERE earlier.round_token_id = presentation.round_token_id
                       AND earlier.kind = presentation.kind
                       AND earlier.state = 'dropped' AND earlier.voided > 0
                       AND earlier.sitting_id = presentation.sitting_id) AS voided,
                    bar.why IS 'known-speaker' AS known_speaker
             FROM presentation
             JOIN sitting ON sitting.id = presentation.sitting_id
             JOIN enrolment ON enrolment.id = sitting.enrolment_id
             JOIN listener ON listener.id = enrolment.listener_id
             JOIN round_token ON round_token.id = presentation.round_token_id
             JOIN token ON token.id = round_token.token_id
             LEFT JOIN session ON session.id = token.session_id
             LEFT JOIN bar ON bar.listener_id = listener.id AND bar.child_id = session.child_id
             LEFT JOIN judgement AS last ON last.presentation_id = presentation.id
                  AND last.revision = (SELECT max(revision) FROM judgement
                                       WHERE presentation_id = presentation.id)
             WHERE enrolment.round_id = :round
               AND (presentation.state IN ('judged', 'aside')
                    OR (presentation.state = 'dropped' AND presentation.voided > 0
                        AND NOT EXISTS
                            (SELECT 1 FROM presentation AS later
                             WHERE later.round_token_id = presentation.round_token_id
                               AND later.kind = presentation.kind
                               AND later.sitting_id = presentation.sitting_id
                               AND later.place > presentation.place)))
               AND listener.withdrawn_ms IS NULL
             ORDER BY enrolment.number, sitting.number, presentation.place",
            &[(":round", &round)],
            |row| {
                Ok(ResultRow {
                    token: column(row, "round_token_id")?,
                    listener: parsed(row, "listener", "code")?,
                    sitting: column(row, "sitting")?,
                    kind: parsed(row, "presentation", "kind")?,
                    place: column(row, "place")?,
                    answer: parsed_if_any(row, "judgement", "answer")?,
                    aside: parsed_if_any(row, "presentation", "aside")?,
                    given_up: column(row, "given_up")?,
                    revisions: column(row, "revisions")?,
                    answered_ms: column(row, "answered_ms")?,
                    rt_ms: column(row, "rt_ms")?,
                    rt_grain_ms: column(row, "rt_grain_ms")?,
                    replays: column(row, "replays")?,
                    voided: column(row, "voided")?,
                    known_speaker: column(row, "known_speaker")?,
                })
            },
        )
    }
}
