//! What an import writes into the store, in one transaction.

use std::collections::HashMap;
use std::collections::HashSet;

use super::Imported;
use crate::app::AppError;
use crate::app::Now;
use crate::app::log;
use crate::exchange::ManifestRow;
use crate::store::ChildId;
use crate::store::MissingRow;
use crate::store::NewToken;
use crate::store::PreparedRow;
use crate::store::SessionId;
use crate::store::SessionRow;
use crate::store::StoreError;
use crate::store::Writing;
use crate::study::ChildCode;
use crate::study::Cohort;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::Use;
use crate::study::key::TokenKey;

/// A recording that is new.
pub(super) struct Entry {
    pub(super) line: u64,
    pub(super) key: TokenKey,
    pub(super) original_sha256: String,
    pub(super) samples_sha256: String,
    pub(super) prepared: PreparedRow,
}

/// What goes into the store in one transaction.
pub(super) struct Entries {
    pub(super) tokens: Vec<Entry>,
    pub(super) missing: Vec<ManifestRow>,
    pub(super) level_lufs: f64,
    pub(super) manifest: String,
}

impl Entries {
    pub(super) fn write(
        self,
        writing: &Writing<'_>,
        mut imported: Imported,
        now: Now,
    ) -> Result<Imported, AppError> {
        writing.fix_level(self.level_lufs)?;
        let mut sessions = Sessions::read(writing)?;
        self.contradictions(&sessions).or(())?;
        for token in &self.tokens {
            let session = match (&token.key.use_, token.key.session) {
                (use_, Some(_)) if use_.is_scored() => Some(sessions.of(writing, &token.key)?),
                _ => None,
            };
            writing.add_token(&NewToken {
                session,
                key: token.key.clone(),
                original_sha256: token.original_sha256.clone(),
                samples_sha256: token.samples_sha256.clone(),
                prepared: token.prepared.clone(),
            })?;
        }
        let known = writing.missing()?;
        for row in &self.missing {
            let missing = MissingRow {
                session: sessions.of(writing, &row.key)?,
                word: row.key.word.clone(),
                treated: row.key.treated,
                attempt: row.key.attempt,
                reason: row.reason.clone().unwrap_or_default(),
            };
            let place = |row: &MissingRow| (row.session, row.word.clone(), row.attempt);
            if known.iter().all(|other| place(other) != place(&missing)) {
                writing.add_missing(&missing)?;
                imported.missing += 1;
            }
        }
        if imported.added + imported.missing > 0 {
            log::append(
                writing,
                now,
                "import",
                &serde_json::json!({
                    "tokens": imported.added,
                    "missing": imported.missing,
                }),
            )?;
        }
        Ok(imported)
    }
}

impl Entries {
    /// Every row that an earlier import contradicts.
    fn contradictions(&self, sessions: &Sessions) -> Problems {
        let tokens = self.tokens.iter().map(|token| (token.line, &token.key));
        let missing = self.missing.iter().map(|row| (row.line, &row.key));
        let mut problems = Problems::default();
        for (line, key) in tokens
            .chain(missing)
            .filter(|(_, key)| key.use_.is_scored())
        {
            for column in sessions.contradicted(key) {
                problems.push(
                    Problem::new(
                        self.manifest.as_str(),
                        "an earlier import says otherwise",
                        "write what it was, or number another session",
                    )
                    .at_line(line)
                    .in_column(column),
                );
            }
        }
        problems
    }
}

/// Cohort and whether she is a peer, of a child of whom something was recorded.
type Described = (Option<Cohort>, bool);

/// The sessions that are in the store, added to as rows ask for more.
struct Sessions {
    children: HashMap<ChildCode, (ChildId, Option<Described>)>,
    sessions: HashMap<(ChildId, u32), SessionRow>,
}

impl Sessions {
    fn read(writing: &Writing<'_>) -> Result<Self, StoreError> {
        let children = writing.children()?;
        let sessions = writing.sessions()?;
        let recorded: HashSet<_> = sessions.iter().map(|session| session.child).collect();
        Ok(Self {
            children: children
                .into_iter()
                .map(|child| {
                    let known = recorded.contains(&child.id);
                    let told = known.then_some((child.cohort, child.peer));
                    (child.code, (child.id, told))
                })
                .collect(),
            sessions: sessions
                .into_iter()
                .map(|session| ((session.child, session.ordinal), session))
                .collect(),
        })
    }

    /// The columns in which a scored row contradicts what is in the store.
    fn contradicted(&self, key: &TokenKey) -> Vec<&'static str> {
        let known = key.child.as_ref().and_then(|code| self.children.get(code));
        let Some((child, Some((cohort, peer)))) = known else {
            return Vec::new();
        };
        let mut columns = Vec::new();
        columns.extend((*cohort != key.cohort).then_some("cohort"));
        columns.extend((*peer != (key.use_ == Use::Peer)).then_some("use"));
        let session = key
            .session
            .and_then(|ordinal| self.sessions.get(&(*child, ordinal)));
        if let Some(session) = session {
            columns.extend((Some(&session.phase) != key.phase.as_ref()).then_some("phase"));
            columns.extend((session.condition != key.condition).then_some("condition"));
            columns.extend((session.date != key.date).then_some("date"));
            columns.extend((session.age_months != key.age_months).then_some("age_months"));
        }
        columns
    }

    /// The session of a scored row; a child or a session that is new is added.
    fn of(&mut self, writing: &Writing<'_>, key: &TokenKey) -> Result<SessionId, AppError> {
        let (Some(code), Some(ordinal), Some(phase)) = (&key.child, key.session, &key.phase) else {
            return Err(AppError::Unreadable(
                "a scored row without its session".to_owned(),
            ));
        };
        let peer = key.use_ == Use::Peer;
        let child = match self.children.get(code) {
            Some((id, Some(_))) => *id,
            Some((id, None)) => {
                writing.describe_child(*id, key.cohort.as_ref(), peer)?;
                *id
            }
            None => writing.add_child(code, key.cohort.as_ref(), peer)?,
        };
        self.children
            .insert(code.clone(), (child, Some((key.cohort.clone(), peer))));
        if let Some(session) = self.sessions.get(&(child, ordinal)) {
            return Ok(session.id);
        }
        let mut session = SessionRow {
            id: SessionId::default(),
            child,
            ordinal,
            phase: phase.clone(),
            condition: key.condition.clone(),
            date: key.date,
            age_months: key.age_months,
        };
        session.id = writing.add_session(&session)?;
        let id = session.id;
        self.sessions.insert((child, ordinal), session);
        Ok(id)
    }
}
