//! Import: a manifest and a folder of recordings become tokens, all or none.

use std::collections::HashMap;
use std::path::Component;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

use rayon::prelude::*;

use super::AppError;
use super::Now;
use super::Workspace;
use super::files;
use super::log;
use crate::audio;
use crate::exchange;
use crate::exchange::ManifestRow;
use crate::seal::Digest;
use crate::store::ChildId;
use crate::store::MissingRow;
use crate::store::NewToken;
use crate::store::PreparedRow;
use crate::store::SessionId;
use crate::store::SessionRow;
use crate::store::StoreError;
use crate::store::TokenRow;
use crate::store::Writing;
use crate::study::ChildCode;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::Use;
use crate::study::key::TokenKey;

/// What an import did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Imported {
    /// Tokens that are new.
    pub added: usize,
    /// Rows whose token was there already.
    pub known: usize,
    /// Rows without a recording that are new.
    pub missing: usize,
}

/// Imports the recordings that a manifest names, from a folder. `progress` hears how many of how
/// many are prepared, from any thread.
///
/// # Errors
/// [`AppError::Input`] with everything that is wrong in the manifest and the files; nothing is
/// imported then. [`AppError::File`] or [`AppError::Store`] if the workspace cannot be written;
/// nothing is imported then either.
pub fn import(
    workspace: &Workspace,
    manifest: &Path,
    folder: &Path,
    now: Now,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Imported, AppError> {
    let settings = workspace.settings()?;
    let name = manifest.display().to_string();
    let rows = exchange::read_manifest(&name, files::read(manifest)?.as_slice(), &settings)?;
    check_level(workspace, settings.level_lufs)?;
    let heard = prepare_all(&name, folder, &rows, settings.level_lufs, progress)?;
    let before = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.tokens()?))?;
    let fresh = compare(&name, &heard, &before)?;
    let stored = store_files(workspace, &heard, &fresh)?;
    let counts = Imported {
        added: fresh.len(),
        known: heard.len() - fresh.len(),
        missing: 0,
    };
    let plan = Entries {
        tokens: heard
            .into_iter()
            .enumerate()
            .filter(|(place, _)| fresh.contains(place))
            .map(|(_, heard)| heard)
            .collect(),
        missing: rows
            .into_iter()
            .filter(|row| row.key.file.is_none())
            .collect(),
        level_lufs: settings.level_lufs,
        manifest: name,
    };
    let written = workspace
        .store()
        .write(move |writing| plan.write(writing, counts, now));
    if written.is_err() {
        stored.take_back();
    }
    written
}

/// One row with its recording, prepared.
struct Heard {
    line: u64,
    key: TokenKey,
    bytes: Vec<u8>,
    original_sha256: String,
    samples_sha256: String,
    prepared: audio::Prepared,
}

fn check_level(workspace: &Workspace, level_lufs: f64) -> Result<(), AppError> {
    let fixed = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.study_level_lufs()?))?;
    match fixed {
        Some(fixed) if (fixed - level_lufs).abs() > 1e-9 => Err(AppError::refused(
            format!(
                "study.toml says `level_lufs = {level_lufs}`, but words were already prepared at {fixed}"
            ),
            format!("write `level_lufs = {fixed}` again: words at two levels cannot be compared"),
        )),
        _ => Ok(()),
    }
}

/// Decodes and prepares every recording, on all cores; the order of the rows is kept.
fn prepare_all(
    manifest: &str,
    folder: &Path,
    rows: &[ManifestRow],
    level_lufs: f64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Heard>, Problems> {
    let recorded: Vec<_> = rows.iter().filter(|row| row.key.file.is_some()).collect();
    let done = AtomicUsize::new(0);
    let outcomes: Vec<_> = recorded
        .par_iter()
        .map(|row| {
            let outcome = hear(folder, row, level_lufs)
                .map_err(|problem| problem_in_row(manifest, row, &problem));
            progress(done.fetch_add(1, Ordering::Relaxed) + 1, recorded.len());
            outcome
        })
        .collect();
    let mut problems = Problems::default();
    let mut heard = Vec::with_capacity(outcomes.len());
    for outcome in outcomes {
        match outcome {
            Ok(one) => heard.push(one),
            Err(problem) => problems.push(problem),
        }
    }
    problems.or(heard)
}

fn problem_in_row(manifest: &str, row: &ManifestRow, refusal: &Refusal) -> Problem {
    Problem::new(manifest, refusal.what.clone(), refusal.mend.clone())
        .at_line(row.line)
        .in_column("file")
}

/// Why one recording cannot be taken.
struct Refusal {
    what: String,
    mend: String,
}

fn hear(folder: &Path, row: &ManifestRow, level_lufs: f64) -> Result<Heard, Refusal> {
    let file = row.key.file.clone().unwrap_or_default();
    let path = inside(folder, &file).ok_or_else(|| Refusal {
        what: format!("`{file}` leads out of the folder of recordings"),
        mend: "name the file as it lies inside the folder".to_owned(),
    })?;
    let bytes = std::fs::read(&path).map_err(|error| Refusal {
        what: format!("{} cannot be read ({error})", path.display()),
        mend: "check the name, and that --audio names the folder that holds it".to_owned(),
    })?;
    let refuse = |error: &audio::DecodeError| Refusal {
        what: format!("{file}: {error}"),
        mend: error.mend().to_owned(),
    };
    let recording = audio::decode(&bytes).map_err(|error| refuse(&error))?;
    let prepared = audio::prepare(&recording, level_lufs).map_err(|error| Refusal {
        what: format!("{file}: {error}"),
        mend: "listen to it, and record the word again or leave it out".to_owned(),
    })?;
    Ok(Heard {
        line: row.line,
        key: row.key.clone(),
        original_sha256: Digest::of(&bytes).to_string(),
        samples_sha256: data_encoding::HEXLOWER.encode(&recording.fingerprint()),
        bytes,
        prepared,
    })
}

/// The path of a file inside a folder, unless its name climbs out of it.
fn inside(folder: &Path, file: &str) -> Option<PathBuf> {
    let named = Path::new(file);
    let stays = named
        .components()
        .all(|step| matches!(step, Component::Normal(_) | Component::CurDir));
    stays.then(|| folder.join(named))
}

/// Holds what was heard against itself and against the store: the places of what is new.
fn compare(manifest: &str, heard: &[Heard], before: &[TokenRow]) -> Result<Vec<usize>, Problems> {
    let known_audio: HashMap<_, _> = before
        .iter()
        .map(|token| (token.samples_sha256.as_str(), token))
        .collect();
    let known_words: HashMap<_, _> = before
        .iter()
        .filter(|token| token.key.use_.is_scored())
        .map(|token| (place_of(&token.key), token))
        .collect();
    let mut lines: HashMap<&str, u64> = HashMap::new();
    let mut problems = Problems::default();
    let mut fresh = Vec::new();
    for (place, one) in heard.iter().enumerate() {
        let mut say = |what: String, mend: &str| {
            let problem = Problem::new(manifest, what, mend);
            problems.push(problem.at_line(one.line).in_column("file"));
        };
        if let Some(line) = lines.insert(&one.samples_sha256, one.line) {
            say(
                format!("the recording is the same as in line {line}: one sound under two labels"),
                "keep the row to which it belongs: a copy would fake agreement",
            );
            continue;
        }
        match known_audio.get(one.samples_sha256.as_str()) {
            Some(token) if same_labels(&token.key, &one.key) => {}
            Some(_) => say(
                "the recording was imported before under other labels".to_owned(),
                "keep the labels it has: a copy would fake agreement",
            ),
            None if one.key.use_.is_scored() && known_words.contains_key(&place_of(&one.key)) => {
                say(
                    "this child's word of that session and attempt was imported before with another recording"
                        .to_owned(),
                    "number it as a further attempt, or leave it out",
                );
            }
            None => fresh.push(place),
        }
    }
    problems.or(fresh)
}

/// The place of a scored word in the study: no two recordings may claim it.
fn place_of(key: &TokenKey) -> (Option<ChildCode>, Option<u32>, String, u32) {
    (key.child.clone(), key.session, key.word.text(), key.attempt)
}

/// Whether two rows say the same of a recording; what the file is called does not matter.
fn same_labels(one: &TokenKey, other: &TokenKey) -> bool {
    let nameless = |key: &TokenKey| TokenKey {
        file: None,
        ..key.clone()
    };
    let mut one = nameless(one);
    if one.session.is_none() {
        // A check word's phase and the like are not kept: only what the token is for.
        one = TokenKey {
            phase: other.phase.clone(),
            cohort: other.cohort.clone(),
            condition: other.condition.clone(),
            date: other.date,
            session: other.session,
            age_months: other.age_months,
            ..one
        };
    }
    one == nameless(other)
}

/// The files that an import has written, to be taken back if the store refuses.
struct Stored(Vec<PathBuf>);

impl Stored {
    fn take_back(&self) {
        for path in &self.0 {
            // A file that stays behind is named by its content and harms nothing.
            let _ = std::fs::remove_file(path);
        }
    }
}

fn store_files(
    workspace: &Workspace,
    heard: &[Heard],
    fresh: &[usize],
) -> Result<Stored, AppError> {
    let mut stored = Stored(Vec::new());
    for one in fresh.iter().filter_map(|place| heard.get(*place)) {
        for (path, content) in [
            (
                workspace.original(&one.original_sha256),
                one.bytes.as_slice(),
            ),
            (
                workspace.prepared(&one.prepared.sha256),
                one.prepared.wav.as_slice(),
            ),
        ] {
            if path.exists() {
                continue;
            }
            if let Err(error) = files::write(&path, content) {
                stored.take_back();
                return Err(error);
            }
            stored.0.push(path);
        }
    }
    for folder in stored.0.iter().filter_map(|path| path.parent()).take(2) {
        files::settle_folder(folder);
    }
    Ok(stored)
}

/// What goes into the store in one transaction.
struct Entries {
    tokens: Vec<Heard>,
    missing: Vec<ManifestRow>,
    level_lufs: f64,
    manifest: String,
}

impl Entries {
    fn write(
        self,
        writing: &Writing<'_>,
        mut counts: Imported,
        now: Now,
    ) -> Result<Imported, AppError> {
        writing.fix_level(self.level_lufs)?;
        let mut sessions = Sessions::read(writing)?;
        for token in &self.tokens {
            let session = match (&token.key.use_, token.key.session) {
                (use_, Some(_)) if use_.is_scored() => {
                    Some(sessions.of(writing, &self.manifest, token.line, &token.key)?)
                }
                _ => None,
            };
            writing.add_token(&NewToken {
                session,
                key: token.key.clone(),
                original_sha256: token.original_sha256.clone(),
                samples_sha256: token.samples_sha256.clone(),
                prepared: prepared_row(&token.prepared),
            })?;
        }
        let known = writing.missing()?;
        for row in &self.missing {
            let missing = MissingRow {
                session: sessions.of(writing, &self.manifest, row.line, &row.key)?,
                word: row.key.word.clone(),
                treated: row.key.treated,
                attempt: row.key.attempt,
                reason: row.reason.clone().unwrap_or_default(),
            };
            let place = |row: &MissingRow| (row.session, row.word.clone(), row.attempt);
            if known.iter().all(|other| place(other) != place(&missing)) {
                writing.add_missing(&missing)?;
                counts.missing += 1;
            }
        }
        if counts.added + counts.missing > 0 {
            log::append(
                writing,
                now,
                "import",
                &serde_json::json!({
                    "tokens": counts.added,
                    "missing": counts.missing,
                }),
            )?;
        }
        Ok(counts)
    }
}

/// The sessions that are in the store, added to as rows ask for more.
struct Sessions {
    children: HashMap<ChildCode, (ChildId, Option<crate::study::Cohort>, bool)>,
    sessions: HashMap<(ChildId, u32), SessionRow>,
}

impl Sessions {
    fn read(writing: &Writing<'_>) -> Result<Self, StoreError> {
        let children = writing.children()?;
        let sessions = writing.sessions()?;
        Ok(Self {
            children: children
                .into_iter()
                .map(|child| (child.code, (child.id, child.cohort, child.peer)))
                .collect(),
            sessions: sessions
                .into_iter()
                .map(|session| ((session.child, session.ordinal), session))
                .collect(),
        })
    }

    /// The session of a scored row; a child or a session that is new is added.
    fn of(
        &mut self,
        writing: &Writing<'_>,
        manifest: &str,
        line: u64,
        key: &TokenKey,
    ) -> Result<SessionId, AppError> {
        let (Some(code), Some(ordinal), Some(phase)) = (&key.child, key.session, &key.phase) else {
            return Err(AppError::Unreadable(
                "a scored row without its session".to_owned(),
            ));
        };
        let contradicts = |column: &str| {
            Problem::new(
                manifest,
                "an earlier import says otherwise",
                "write what it was, or number another session",
            )
            .at_line(line)
            .in_column(column)
        };
        let peer = key.use_ == Use::Peer;
        let child = if let Some((id, cohort, was_peer)) = self.children.get(code) {
            if *cohort != key.cohort {
                return Err(contradicts("cohort").into());
            }
            if *was_peer != peer {
                return Err(contradicts("use").into());
            }
            *id
        } else {
            let id = writing.add_child(code, key.cohort.as_ref(), peer)?;
            self.children
                .insert(code.clone(), (id, key.cohort.clone(), peer));
            id
        };
        if let Some(session) = self.sessions.get(&(child, ordinal)) {
            for (column, differs) in [
                ("phase", session.phase != *phase),
                ("condition", session.condition != key.condition),
                ("date", session.date != key.date),
                ("age_months", session.age_months != key.age_months),
            ] {
                if differs {
                    return Err(contradicts(column).into());
                }
            }
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

fn prepared_row(prepared: &audio::Prepared) -> PreparedRow {
    PreparedRow {
        sha256: prepared.sha256.clone(),
        seconds: prepared.seconds,
        onset_ms: prepared.onset_ms,
        level_lufs: prepared.level_lufs,
        true_peak_dbtp: prepared.true_peak_dbtp,
        gain_db: prepared.gain_db,
        snr_db: prepared.snr_db,
        bandwidth_hz: prepared.bandwidth_hz,
        clipped_samples: prepared.clipped_samples as u64,
        marks: prepared.marks.iter().map(ToString::to_string).collect(),
    }
}
