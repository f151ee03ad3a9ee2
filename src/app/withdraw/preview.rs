//! What would go if a child were erased, and which copies are out of reach.

use std::collections::BTreeSet;

use super::files;
use super::files::Found;
use super::is_hers;
use crate::app::AppError;
use crate::app::Workspace;
use crate::app::consent;
use crate::store::CopyRow;
use crate::store::ListenerId;
use crate::store::Reading;
use crate::store::TokenId;
use crate::study::ChildCode;
use crate::study::ListenerCode;
use crate::study::PresentationId;
use crate::study::PresentationKind;
use crate::study::RoundName;
use crate::study::RoundState;

/// What there is of a child.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Preview {
    /// Recordings, each with what was prepared of it.
    pub recordings: usize,
    /// Of them, words for checks, practice and examples: the rules that count checks see fewer.
    pub helpers: usize,
    /// Rows without a recording.
    pub missing: usize,
    /// Records of consents.
    pub consents: usize,
    /// The rounds in which she was or will be heard.
    pub rounds: Vec<Hearing>,
    /// Files and folders in the study's folder that go with her: exports and copies of recordings.
    pub removed_files: Vec<String>,
    /// Tables in the study's folder from which her rows go.
    pub changed_files: Vec<String>,
    /// Files in the study's folder that name her and are left for whoever wrote them.
    pub left_files: Vec<String>,
    /// Copies that left the study and are out of reach.
    pub copies: Vec<Copied>,
}

/// A round in which a child is heard.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Hearing {
    /// The round.
    pub round: RoundName,
    /// How far it has come.
    pub state: RoundState,
    /// Words of hers in it.
    pub words: usize,
    /// Judgements of them, repeats and checks among them.
    pub judgements: usize,
}

/// A copy that left the study.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Copied {
    /// `export`, `report` or `backup`.
    pub kind: String,
    /// Where it was put.
    pub place: String,
    /// When, RFC 3339 in UTC.
    pub made: String,
}

/// What there is of a child: nothing is changed.
///
/// # Errors
/// [`AppError::Refused`] if the study has no such child; [`AppError::File`] if the study's folder
/// cannot be read.
pub fn preview(workspace: &Workspace, code: &ChildCode) -> Result<Preview, AppError> {
    let traces = workspace
        .store()
        .read(|reading| Traces::of(reading, code))?;
    let found = files::found(workspace, &traces)?;
    workspace.store().read(|reading| {
        let Found {
            removed,
            changed,
            left,
        } = found;
        Ok(Preview {
            recordings: traces.tokens.len(),
            helpers: traces.helpers,
            missing: traces.missing,
            consents: traces.consents,
            rounds: hearings(reading, &traces.tokens)?,
            removed_files: files::shown(&removed),
            changed_files: files::shown(&changed),
            left_files: files::shown(&left),
            copies: copies(reading, workspace)?,
        })
    })
}

/// All by which a child is known in the study.
#[derive(Debug, Clone)]
pub(super) struct Traces {
    pub(super) code: ChildCode,
    pub(super) label: Option<String>,
    pub(super) tokens: BTreeSet<TokenId>,
    pub(super) helpers: usize,
    pub(super) missing: usize,
    pub(super) consents: usize,
    /// The names of her files in manifests.
    pub(super) names: BTreeSet<String>,
    /// SHA-256 of her recordings as they came.
    pub(super) originals: BTreeSet<String>,
    /// SHA-256 of what was prepared of them.
    pub(super) prepared: BTreeSet<String>,
    /// The seals of the rounds in which she is heard.
    pub(super) seals: BTreeSet<String>,
}

impl Traces {
    pub(super) fn of(reading: &Reading<'_>, code: &ChildCode) -> Result<Self, AppError> {
        let tokens: Vec<_> = reading
            .tokens()?
            .into_iter()
            .filter(|token| is_hers(token, code))
            .collect();
        let child = match consent::child_of(reading, code) {
            Ok(child) => Some(child),
            Err(refusal) if tokens.is_empty() && !consent::is_drawn(reading, code)? => {
                return Err(refusal);
            }
            Err(_) => None,
        };
        let sessions: BTreeSet<_> = reading
            .sessions()?
            .into_iter()
            .filter(|session| Some(session.child) == child)
            .map(|session| session.id)
            .collect();
        let missing = reading.missing()?;
        let consents = reading.consents()?;
        let ids: BTreeSet<_> = tokens.iter().map(|token| token.id).collect();
        let mut seals = BTreeSet::new();
        for round in reading.rounds()? {
            let played = reading.round_tokens(round.id)?;
            if played.iter().any(|token| ids.contains(&token.token)) {
                seals.insert(round.seal);
            }
        }
        let label = reading.child_labels()?.into_iter();
        Ok(Self {
            label: label
                .filter(|(of, _)| of == code)
                .map(|(_, label)| label.to_string())
                .next(),
            helpers: tokens
                .iter()
                .filter(|token| !token.key.use_.is_scored())
                .count(),
            missing: missing
                .iter()
                .filter(|row| sessions.contains(&row.session))
                .count(),
            consents: consents.iter().filter(|row| row.code == *code).count(),
            names: tokens
                .iter()
                .filter_map(|token| token.key.file.clone())
                .collect(),
            originals: tokens
                .iter()
                .map(|token| token.original_sha256.clone())
                .collect(),
            prepared: tokens
                .iter()
                .map(|token| token.prepared.sha256.clone())
                .collect(),
            tokens: ids,
            seals,
            code: code.clone(),
        })
    }
}

fn hearings(reading: &Reading<'_>, tokens: &BTreeSet<TokenId>) -> Result<Vec<Hearing>, AppError> {
    let mut found = Vec::new();
    for round in reading.rounds()? {
        let played = reading.round_tokens(round.id)?;
        let hers: BTreeSet<_> = played
            .iter()
            .filter(|token| tokens.contains(&token.token))
            .map(|token| token.id)
            .collect();
        if hers.is_empty() {
            continue;
        }
        let results = reading.results(round.id)?;
        let judged = results.iter().filter(|row| {
            hers.contains(&row.token)
                && row.answer.is_some()
                && row.kind != PresentationKind::Example
        });
        found.push(Hearing {
            round: round.name,
            state: round.state,
            words: hers.len(),
            judgements: judged.count(),
        });
    }
    Ok(found)
}

/// What there is of a listener.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct ListenerPreview {
    /// Her sittings, in all rounds.
    pub sittings: usize,
    /// Her judgements, all revisions.
    pub judgements: usize,
    /// Copies that left the study and are out of reach.
    pub copies: Vec<Copied>,
}

/// What there is of a listener: nothing is changed.
///
/// # Errors
/// [`AppError::Refused`] if the study has no such listener.
pub fn preview_listener(
    workspace: &Workspace,
    code: &ListenerCode,
) -> Result<ListenerPreview, AppError> {
    workspace.store().read(|reading| {
        let traces = ListenerTraces::of(reading, code)?;
        Ok(ListenerPreview {
            sittings: traces.sittings,
            judgements: traces.judgements,
            copies: copies(reading, workspace)?,
        })
    })
}

/// All that a listener left in the study.
pub(super) struct ListenerTraces {
    pub(super) listener: ListenerId,
    pub(super) sittings: usize,
    pub(super) places: BTreeSet<PresentationId>,
    pub(super) judgements: usize,
}

impl ListenerTraces {
    pub(super) fn of(reading: &Reading<'_>, code: &ListenerCode) -> Result<Self, AppError> {
        let listener = reading.listener_with(code.as_str())?.ok_or_else(|| {
            AppError::refused(
                format!("the study has no listener {code}"),
                "check the code",
            )
        })?;
        let sittings: BTreeSet<_> = reading
            .sittings()?
            .into_iter()
            .filter(|sitting| sitting.listener == code.as_str())
            .map(|sitting| sitting.id)
            .collect();
        let places: BTreeSet<_> = reading
            .presentations()?
            .into_iter()
            .filter(|place| sittings.contains(&place.sitting))
            .map(|place| place.id)
            .collect();
        let judgements = reading.judgements()?;
        let hers = judgements
            .iter()
            .filter(|row| places.contains(&row.presentation));
        Ok(Self {
            listener,
            sittings: sittings.len(),
            judgements: hers.count(),
            places,
        })
    }
}

/// The copies outside the study's folder: those inside are found by looking.
pub(super) fn copies(
    reading: &Reading<'_>,
    workspace: &Workspace,
) -> Result<Vec<Copied>, AppError> {
    let inside = files::whole_path(workspace.folder());
    reading
        .copies()?
        .into_iter()
        .filter(|copy| !std::path::Path::new(&copy.place).starts_with(&inside))
        .map(Copied::of)
        .collect()
}

impl Copied {
    pub(in crate::app) fn of(copy: CopyRow) -> Result<Self, AppError> {
        let made = jiff::Timestamp::from_millisecond(copy.made_ms)
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
        Ok(Self {
            kind: copy.kind,
            place: copy.place,
            made: made.to_string(),
        })
    }
}
