//! Looking through the tokens before anybody judges them: masked and in random order, each under a name that tells nothing.

use std::collections::BTreeMap;

use serde_json::json;

use super::AppError;
use super::Now;
use super::Person;
use super::Workspace;
use super::exclude as exclusions;
use super::files;
use super::log;
use super::secret;
use crate::audio;
use crate::audio::plain;
use crate::audio::quality;
use crate::seal::Digest;
use crate::store::TokenRow;
use crate::study::Exclusion;
use crate::study::Word;

/// What names the tokens and puts them in order for one run of the program: nobody can tell a child by either.
#[derive(Clone)]
pub struct Shuffle([u8; 32]);

impl Shuffle {
    /// A fresh one, from the operating system.
    pub fn drawn() -> Self {
        Self(secret::seed())
    }

    pub(super) fn name_of(&self, token: &TokenRow) -> String {
        let mut text = self.0.to_vec();
        text.extend(token.samples_sha256.as_bytes());
        Digest::of(&text).to_string().chars().take(24).collect()
    }
}

/// A token as it is reviewed: nothing here tells whose it is, or when it was recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Reviewed {
    /// Its random name, which also gives its place.
    pub name: String,
    /// The word.
    pub word: Word,
    /// The prepared sound's length in seconds.
    pub seconds: f64,
    /// How loud it was recorded, in LUFS.
    pub recorded_lufs: f64,
    /// The gain that it was given, in dB.
    pub gain_db: f64,
    /// Speech over noise in dB, where it can be told.
    pub snr_db: Option<f64>,
    /// The bandwidth in Hz.
    pub bandwidth_hz: f64,
    /// Where the word begins in the prepared sound, in milliseconds.
    pub onset_ms: f64,
    /// Remarks on its quality, a sentence each.
    pub marks: Vec<String>,
    /// Why it is left out, if it is.
    pub excluded: Option<Exclusion>,
    /// Whether somebody judged it: then it cannot be left out any more.
    pub judged: bool,
}

/// Remarks that are asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Filter {
    /// Every token.
    #[default]
    All,
    /// Those with any remark.
    Marked,
    /// Those with a remark of this kind.
    Kind(String),
    /// Those that are left out.
    Excluded,
}

/// Every token that passes a filter, in the order of the shuffle, and how many have a remark of each kind.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn reviewed(
    workspace: &Workspace,
    shuffle: &Shuffle,
    filter: &Filter,
) -> Result<(Vec<Reviewed>, BTreeMap<&'static str, usize>), AppError> {
    let mut tokens = workspace.store().read(|reading| {
        let judged = reading.judged_tokens()?;
        let tokens = reading.tokens()?.into_iter();
        let seen = tokens.map(|token| seen(shuffle, &token, judged.contains(&token.id)));
        seen.collect::<Result<Vec<_>, AppError>>()
    })?;
    tokens.sort_by(|one, other| one.name.cmp(&other.name));
    let mut kinds = BTreeMap::new();
    for token in &tokens {
        for kind in token.marks.iter().filter_map(|mark| quality::kind_of(mark)) {
            *kinds.entry(kind).or_default() += 1;
        }
    }
    tokens.retain(|token| match filter {
        Filter::All => true,
        Filter::Marked => !token.marks.is_empty(),
        Filter::Kind(kind) => token.marks.iter().any(|mark| mark.starts_with(kind)),
        Filter::Excluded => token.excluded.is_some(),
    });
    Ok((tokens, kinds))
}

/// What to listen for where a remark is made.
pub fn advice(mark: &str) -> &'static str {
    let found = quality::KINDS
        .iter()
        .find(|(kind, _)| mark.starts_with(kind));
    found.map_or("", |(_, advice)| advice)
}

/// The two sounds of a token.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sound {
    /// As it was recorded.
    Recorded,
    /// As listeners hear it.
    Prepared,
}

impl Sound {
    /// Its word in addresses and in the log.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Recorded => "recorded",
            Self::Prepared => "prepared",
        }
    }
}

/// Whether somebody begins to listen, or a browser asks for a further part of what it plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Play {
    /// It is noted in the log.
    Begun,
    /// It is not.
    GoesOn,
}

/// The sound of a token as a WAV file, without the tags of the file that it came in. That it is played, by this account, is
/// logged, and not which it is.
///
/// # Errors
/// [`AppError::Refused`] where there is no such token; [`AppError::File`] if its sound cannot be read.
pub fn sound(
    workspace: &Workspace,
    shuffle: &Shuffle,
    name: &str,
    sound: Sound,
    (play, account): (Play, &str),
    now: Now,
) -> Result<Vec<u8>, AppError> {
    let bytes = bytes_of(workspace, &found(workspace, shuffle, name)?, sound)?;
    if play == Play::Begun {
        let body = json!({ "account": account, "sound": sound.as_str() });
        workspace
            .store()
            .write(move |writing| log::append(writing, now, "recording played", &body))?;
    }
    Ok(bytes)
}

/// The outline of both sounds of a token, recorded and prepared: the lowest and the highest sample of each of `columns`
/// stretches.
///
/// # Errors
/// As [`sound`].
pub fn outlines(
    workspace: &Workspace,
    shuffle: &Shuffle,
    name: &str,
    columns: usize,
) -> Result<[Outline; 2], AppError> {
    let token = found(workspace, shuffle, name)?;
    let outline = |sound| -> Result<Outline, AppError> {
        let recording = decoded(&bytes_of(workspace, &token, sound)?)?;
        Ok(Outline {
            seconds: recording.seconds(),
            columns: plain::outline(&recording, columns),
        })
    };
    Ok([outline(Sound::Recorded)?, outline(Sound::Prepared)?])
}

/// The outline of a sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// Its length in seconds.
    pub seconds: f64,
    /// The lowest and the highest sample of stretches of equal length; full scale is 1.
    pub columns: Vec<(f64, f64)>,
}

/// Whose a token is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unmasked {
    /// What is known of it, each with its name.
    pub known: Vec<(&'static str, String)>,
}

/// Tells whose a token is. That this account asked is logged, and not of which.
///
/// # Errors
/// [`AppError::Refused`] where there is no such token; [`AppError::Store`] if it cannot be logged: nothing is told then.
pub fn unmask(
    workspace: &Workspace,
    shuffle: &Shuffle,
    name: &str,
    account: &str,
    now: Now,
) -> Result<Unmasked, AppError> {
    let token = found(workspace, shuffle, name)?;
    let body = json!({ "account": account });
    workspace
        .store()
        .write(move |writing| log::append(writing, now, "recording unmasked", &body))?;
    let key = token.key;
    let text = |value: Option<String>| value.unwrap_or_default();
    let known = [
        ("Child", text(key.child.map(|child| child.to_string()))),
        (
            "Session",
            text(key.session.map(|session| session.to_string())),
        ),
        ("Phase", text(key.phase.map(|phase| phase.to_string()))),
        ("Attempt", key.attempt.to_string()),
        ("Recorded on", text(key.date.map(|date| date.to_string()))),
        ("For", key.use_.to_string()),
        ("File", text(key.file)),
    ];
    Ok(Unmasked {
        known: known
            .into_iter()
            .filter(|(_, value)| !value.is_empty())
            .collect(),
    })
}

/// Leaves a recording out, before anybody judged it. The refusal tells nothing of whose it is.
///
/// # Errors
/// [`AppError::Refused`] where there is no such token, and once somebody judged it.
pub fn exclude(
    workspace: &Workspace,
    shuffle: &Shuffle,
    name: &str,
    reason: Exclusion,
    by: &Person,
    now: Now,
) -> Result<(), AppError> {
    let words = [found(workspace, shuffle, name)?.prepared.sha256];
    exclusions::exclude_by(workspace, &words, reason, by, now).map_err(|error| {
        masked(
            error,
            "this recording was judged already",
            "keep it: a recording may be left out only before anybody judged it",
        )
    })
}

/// Takes a recording in again that was left out.
///
/// # Errors
/// [`AppError::Refused`] where there is no such token, and for one that is not left out.
pub fn include(
    workspace: &Workspace,
    shuffle: &Shuffle,
    name: &str,
    by: &Person,
    now: Now,
) -> Result<(), AppError> {
    let words = [found(workspace, shuffle, name)?.prepared.sha256];
    exclusions::include_by(workspace, &words, by, now).map_err(|error| {
        masked(
            error,
            "this recording is not left out",
            "open it again: somebody took it in before you",
        )
    })
}

/// A refusal without the name of the file, which could tell the child.
fn masked(error: AppError, what: &str, mend: &str) -> AppError {
    match error {
        AppError::Refused(_) => AppError::refused(what, mend),
        error => error,
    }
}

fn tokens(workspace: &Workspace) -> Result<Vec<TokenRow>, AppError> {
    workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.tokens()?))
}

fn found(workspace: &Workspace, shuffle: &Shuffle, name: &str) -> Result<TokenRow, AppError> {
    let mut tokens = tokens(workspace)?.into_iter();
    let found = tokens.find(|token| shuffle.name_of(token) == name);
    found.ok_or_else(|| {
        AppError::refused(
            "this recording goes by another name now",
            "open the list of recordings again",
        )
    })
}

fn seen(shuffle: &Shuffle, token: &TokenRow, judged: bool) -> Result<Reviewed, AppError> {
    let prepared = &token.prepared;
    let excluded = token.excluded.as_deref().map(str::parse).transpose();
    Ok(Reviewed {
        name: shuffle.name_of(token),
        word: token.key.word.clone(),
        seconds: prepared.seconds,
        recorded_lufs: prepared.level_lufs - prepared.gain_db,
        gain_db: prepared.gain_db,
        snr_db: prepared.snr_db,
        bandwidth_hz: prepared.bandwidth_hz,
        onset_ms: prepared.onset_ms,
        marks: prepared.marks.clone(),
        excluded: excluded.map_err(AppError::Refused)?,
        judged,
    })
}

fn bytes_of(workspace: &Workspace, token: &TokenRow, sound: Sound) -> Result<Vec<u8>, AppError> {
    match sound {
        Sound::Prepared => files::read(&workspace.prepared(&token.prepared.sha256)),
        Sound::Recorded => {
            let bytes = files::read(&workspace.original(&token.original_sha256))?;
            plain::as_recorded(&decoded(&bytes)?)
                .map_err(|error| AppError::Unreadable(error.to_string()))
        }
    }
}

fn decoded(bytes: &[u8]) -> Result<audio::Recording, AppError> {
    audio::decode(bytes).map_err(|error| AppError::Unreadable(error.to_string()))
}
