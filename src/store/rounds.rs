//! Rounds, their tokens, and how often each token was judged.

use super::ChildId;
use super::ListenerId;
use super::Reading;
use super::RoundId;
use super::RoundTokenId;
use super::SessionId;
use super::StoreError;
use super::TokenId;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use super::rows::parsed_if_any;
use crate::seal::Salt;
use crate::study::KnownAnswer;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::study::Use;
use crate::study::Word;

/// A round.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundRow {
    /// The row.
    pub id: RoundId,
    /// Its name.
    pub name: RoundName,
    /// How far it has come.
    pub state: RoundState,
    /// The plan as JSON.
    pub plan: String,
    /// The sealed document, canonical JSON.
    pub document: String,
    /// The seal: SHA-256 of the document, in hex.
    pub seal: String,
    /// The secret seed of its orders; revealed at close.
    pub seed: [u8; 32],
    /// The salt of what the sealed document says of children.
    pub salt: Salt,
    /// When it opened.
    pub opened_ms: Option<i64>,
    /// When it closed.
    pub closed_ms: Option<i64>,
    /// When it was unlocked.
    pub unlocked_ms: Option<i64>,
    /// Whether it is paused: nobody new begins, and no further word is handed out.
    pub paused: bool,
}

/// What every act of listening needs of a round; the sealed document is long, and not among it.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundBrief {
    /// The row.
    pub id: RoundId,
    /// How far it has come.
    pub state: RoundState,
    /// The plan as JSON.
    pub plan: String,
    /// The secret seed of its orders.
    pub seed: [u8; 32],
    /// Whether it is paused.
    pub paused: bool,
}

/// A token in a round, as the acts of listening need it.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundTokenRow {
    /// The row.
    pub id: RoundTokenId,
    /// The token.
    pub token: TokenId,
    /// Its name in the sealed document.
    pub number: u32,
    /// What it is for in this round.
    pub use_: Use,
    /// One child in one session, as a bare number; none for check tokens and the like.
    pub stratum: Option<u32>,
    /// Whether it is heard again only to tell this panel from earlier ones.
    pub link: bool,
    /// The salt of its commitment.
    pub salt: Salt,
    /// The word.
    pub word: Word,
    /// The known answer.
    pub answer: Option<KnownAnswer>,
    /// The sound under judgement, where the manifest gives one.
    pub target: Option<String>,
    /// The child who spoke, where she belongs to the study: of a word that is not scored too.
    pub child: Option<ChildId>,
    /// Its session.
    pub session: Option<SessionId>,
    /// The phase of that session.
    pub phase: Option<String>,
    /// SHA-256 of the prepared audio.
    pub audio_sha256: String,
    /// The length of the prepared audio in seconds.
    pub seconds: f64,
    /// The level of the prepared audio in LUFS.
    pub level_lufs: f64,
    /// Its true peak in dBTP.
    pub true_peak_dbtp: f64,
    /// Whether it is to be heard and counted: it was not excluded, and its child is not out of use.
    pub in_use: bool,
}

/// A token that is to be played in a round.
#[derive(Debug, Clone, Copy)]
pub struct NewRoundToken<'a> {
    /// The token.
    pub token: TokenId,
    /// Its name in the sealed document.
    pub number: u32,
    /// What it is for in this round.
    pub use_: Use,
    /// One child in one session, as a bare number.
    pub stratum: Option<u32>,
    /// Whether it is heard again only to tell this panel from earlier ones.
    pub link: bool,
    /// The salt of its commitment.
    pub salt: &'a Salt,
}

/// A scored token of a round as one listener stands to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    /// The token in the round.
    pub token: RoundTokenId,
    /// Judgements kept and places reserved, over all listeners who were neither let go nor withdrew.
    pub committed: u32,
    /// Whether this listener may still hear it.
    pub may_hear: bool,
}

const ROUNDS: &str = "SELECT id, name, state, plan, document, seal, seed, salt, opened_ms,
                             closed_ms, unlocked_ms, paused FROM round";

fn round_from(row: &rusqlite::Row<'_>) -> Result<RoundRow, StoreError> {
    Ok(RoundRow {
        id: column(row, "id")?,
        name: parsed(row, "round", "name")?,
        state: parsed(row, "round", "state")?,
        plan: column(row, "plan")?,
        document: column(row, "document")?,
        seal: column(row, "seal")?,
        seed: column(row, "seed")?,
        salt: Salt::new(column(row, "salt")?),
        opened_ms: column(row, "opened_ms")?,
        closed_ms: column(row, "closed_ms")?,
        unlocked_ms: column(row, "unlocked_ms")?,
        paused: column(row, "paused")?,
    })
}

impl Reading<'_> {
    /// The highest number that a listener of the round ever had, also one who was erased; 0 where there was none.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn last_number(&self, round: RoundId) -> Result<u32, StoreError> {
        let last = self.first(
            "SELECT last_number FROM round WHERE id = :id",
            &[(":id", &round)],
            |row| column(row, "last_number"),
        )?;
        Ok(last.unwrap_or(0))
    }

    /// The highest stream that a sitting of the round ever had, likewise.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn last_stream(&self, round: RoundId) -> Result<u64, StoreError> {
        let last = self.first(
            "SELECT last_stream FROM round WHERE id = :id",
            &[(":id", &round)],
            |row| column::<i64>(row, "last_stream"),
        )?;
        Ok(u64::try_from(last.unwrap_or(0)).unwrap_or(0))
    }

    /// All rounds, oldest first.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn rounds(&self) -> Result<Vec<RoundRow>, StoreError> {
        self.all(&format!("{ROUNDS} ORDER BY id"), &[], round_from)
    }

    /// The round of that name.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn round_named(&self, name: &RoundName) -> Result<Option<RoundRow>, StoreError> {
        self.first(
            &format!("{ROUNDS} WHERE name = :name"),
            &[(":name", &name.as_str())],
            round_from,
        )
    }

    /// The round with that id.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn round(&self, id: RoundId) -> Result<Option<RoundRow>, StoreError> {
        self.first(
            &format!("{ROUNDS} WHERE id = :id"),
            &[(":id", &id)],
            round_from,
        )
    }

    /// The round with that id, in brief.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn round_in_brief(&self, id: RoundId) -> Result<Option<RoundBrief>, StoreError> {
        self.first(
            "SELECT id, state, plan, seed, paused FROM round WHERE id = :id",
            &[(":id", &id)],
            |row| {
                Ok(RoundBrief {
                    id: column(row, "id")?,
                    state: parsed(row, "round", "state")?,
                    plan: column(row, "plan")?,
                    seed: column(row, "seed")?,
                    paused: column(row, "paused")?,
                })
            },
        )
    }

    /// The tokens of a round in the order of their sealed numbers.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn round_tokens(&self, round: RoundId) -> Result<Vec<RoundTokenRow>, StoreError> {
        self.all(
            "SELECT round_token.id, round_token.token_id, round_token.number, round_token.use,
                    round_token.stratum, round_token.link, round_token.salt, token.word, token.answer,
                    token.target, coalesce(session.child_id, speaker.id) AS child_id,
                    token.session_id, session.phase, prepared.sha256,
                    prepared.seconds, prepared.level_lufs, prepared.true_peak_dbtp,
                    token.id IN (SELECT token_id FROM in_use) AS in_use
             FROM round_token
             JOIN token ON token.id = round_token.token_id
             JOIN prepared ON prepared.token_id = token.id
             LEFT JOIN session ON session.id = token.session_id
             LEFT JOIN child AS speaker
                  ON token.session_id IS NULL AND speaker.code = token.speaker
             WHERE round_token.round_id = :round
             ORDER BY round_token.number",
            &[(":round", &round)],
            |row| {
                Ok(RoundTokenRow {
                    id: column(row, "id")?,
                    token: column(row, "token_id")?,
                    number: column(row, "number")?,
                    use_: parsed(row, "round_token", "use")?,
                    stratum: column(row, "stratum")?,
                    link: column(row, "link")?,
                    salt: Salt::new(column(row, "salt")?),
                    word: parsed(row, "token", "word")?,
                    answer: parsed_if_any(row, "token", "answer")?,
                    target: column(row, "target")?,
                    child: column(row, "child_id")?,
                    session: column(row, "session_id")?,
                    phase: column(row, "phase")?,
                    audio_sha256: column(row, "sha256")?,
                    seconds: column(row, "seconds")?,
                    level_lufs: column(row, "level_lufs")?,
                    true_peak_dbtp: column(row, "true_peak_dbtp")?,
                    in_use: column(row, "in_use")?,
                })
            },
        )
    }

    /// How one listener stands to every scored token of a round that is in use: how often it was judged or is
    /// reserved by anybody of her kind (an expert takes no place of a naive listener), and whether she may still
    /// hear it (it was never dealt to her, not even at a place that went back, and the child is not barred to her).
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn standings(
        &self,
        round: RoundId,
        listener: ListenerId,
    ) -> Result<Vec<Standing>, StoreError> {
        self.all(
            "SELECT round_token.id,
                    (SELECT count(*) FROM presentation
                     JOIN sitting ON sitting.id = presentation.sitting_id
                     JOIN enrolment ON enrolment.id = sitting.enrolment_id
                     JOIN listener ON listener.id = enrolment.listener_id
                     WHERE presentation.round_token_id = round_token.id
                       AND presentation.kind = 'main'
                       AND presentation.state IN ('reserved', 'judged')
                       AND enrolment.let_go_ms IS NULL
                       AND listener.withdrawn_ms IS NULL
                       AND listener.kind = (SELECT asking.kind FROM listener AS asking
                                            WHERE asking.id = :listener)) AS committed,
                    NOT EXISTS (SELECT 1 FROM presentation
                                JOIN sitting ON sitting.id = presentation.sitting_id
                                JOIN enrolment ON enrolment.id = sitting.enrolment_id
                                WHERE presentation.round_token_id = round_token.id
                                  AND enrolment.listener_id = :listener)
                    AND NOT EXISTS (SELECT 1 FROM bar
                                    WHERE bar.listener_id = :listener
                                      AND bar.child_id = session.child_id) AS may_hear
             FROM round_token
             JOIN token ON token.id = round_token.token_id
             JOIN session ON session.id = token.session_id
             WHERE round_token.round_id = :round AND round_token.stratum IS NOT NULL
               AND token.id IN (SELECT token_id FROM in_use)
             ORDER BY round_token.number",
            &[(":round", &round), (":listener", &listener)],
            |row| {
                Ok(Standing {
                    token: column(row, "id")?,
                    committed: column(row, "committed")?,
                    may_hear: column(row, "may_hear")?,
                })
            },
        )
    }
}

impl Writing<'_> {
    /// Puts another text and salt in the place of a plan that named a child who is erased.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn replace_plan(&self, round: RoundId, plan: &str, salt: &Salt) -> Result<(), StoreError> {
        self.run(
            "UPDATE round SET plan = :plan, salt = :salt WHERE id = :round",
            &[
                (":plan", &plan),
                (":salt", salt.as_bytes()),
                (":round", &round),
            ],
        )?;
        Ok(())
    }

    /// Adds a sealed, open round; the id in `round` is not looked at.
    ///
    /// # Errors
    /// [`StoreError`] if the name is taken or the row cannot be written.
    pub fn add_round(&self, round: &RoundRow) -> Result<RoundId, StoreError> {
        self.insert(
            "INSERT INTO round (name, state, plan, document, seal, seed, salt, opened_ms)
             VALUES (:name, :state, :plan, :document, :seal, :seed, :salt, :opened)",
            &[
                (":name", &round.name.as_str()),
                (":state", &round.state.as_str()),
                (":plan", &round.plan),
                (":document", &round.document),
                (":seal", &round.seal),
                (":seed", &round.seed),
                (":salt", round.salt.as_bytes()),
                (":opened", &round.opened_ms),
            ],
        )
        .map(RoundId)
    }

    /// Adds a token to a round.
    ///
    /// # Errors
    /// [`StoreError`] if it is there already or the row cannot be written.
    pub fn add_round_token(
        &self,
        round: RoundId,
        new: &NewRoundToken<'_>,
    ) -> Result<RoundTokenId, StoreError> {
        self.insert(
            "INSERT INTO round_token (round_id, token_id, number, use, stratum, link, salt)
             VALUES (:round, :token, :number, :use, :stratum, :link, :salt)",
            &[
                (":round", &round),
                (":token", &new.token),
                (":number", &new.number),
                (":use", &new.use_.as_str()),
                (":stratum", &new.stratum),
                (":link", &new.link),
                (":salt", new.salt.as_bytes()),
            ],
        )
        .map(RoundTokenId)
    }

    /// Moves a round on: closed or unlocked, at that time.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn move_round(
        &self,
        round: RoundId,
        to: RoundState,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "UPDATE round
             SET state = :state,
                 closed_ms = CASE WHEN :state = 'closed' THEN :now ELSE closed_ms END,
                 unlocked_ms = CASE WHEN :state = 'unlocked' THEN :now ELSE unlocked_ms END
             WHERE id = :round",
            &[
                (":state", &to.as_str()),
                (":now", &now_ms),
                (":round", &round),
            ],
        )?;
        Ok(())
    }
}
