//! Prepare: recordings become tokens in a folder, all or none, without a study.

use std::collections::HashMap;
use std::collections::HashSet;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

use rayon::prelude::*;

use super::AppError;
use super::files;
use crate::audio;
use crate::audio::Prepared;
use crate::exchange;
use crate::exchange::PreparedFile;
use crate::study::Problem;
use crate::study::Problems;

/// The table that is written beside the prepared files.
const TABLE: &str = "prepared.csv";

/// Prepares recordings at `level_lufs` into a folder, with `prepared.csv` beside them; rows stand in
/// the order of `recordings`. `progress` hears how many of how many are prepared, from any thread.
///
/// # Errors
/// [`AppError::Input`] with everything that is wrong with the recordings or in the folder's way;
/// nothing is written then. [`AppError::File`] if the folder cannot be written.
pub fn prepare_files(
    recordings: &[PathBuf],
    folder: &Path,
    level_lufs: f64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<PreparedFile>, AppError> {
    check_once_each(recordings)?;
    let heard = hear_all(recordings, level_lufs, progress)?;
    let names = names(recordings);
    let rows = rows(recordings, &names, &heard);
    let table = exchange::write_prepared(&rows)
        .map_err(|error| AppError::Unreadable(format!("{TABLE}: {error}")))?;
    let contents = names
        .iter()
        .map(String::as_str)
        .zip(heard.iter().map(|heard| heard.prepared.wav.as_slice()))
        .chain([(TABLE, table.as_slice())]);
    let contents: Vec<(PathBuf, &[u8])> = contents
        .map(|(name, bytes)| (folder.join(name), bytes))
        .collect();
    check_nothing_is_lost(&contents)?;
    files::make_folder(folder)?;
    for (path, bytes) in &contents {
        files::write(path, bytes)?;
    }
    files::settle_folder(folder);
    Ok(rows)
}

/// One recording, prepared.
struct Heard {
    fingerprint: [u8; 32],
    prepared: Prepared,
}

fn check_once_each(recordings: &[PathBuf]) -> Result<(), Problems> {
    let mut seen = HashSet::new();
    let mut problems = Problems::default();
    for path in recordings {
        if !seen.insert(path.canonicalize().unwrap_or_else(|_| path.clone())) {
            problems.push(Problem::new(
                name_of(path),
                "is given twice",
                "name it once",
            ));
        }
    }
    problems.or(())
}

fn hear_all(
    recordings: &[PathBuf],
    level_lufs: f64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Heard>, Problems> {
    let done = AtomicUsize::new(0);
    let outcomes: Vec<Result<Heard, Problem>> = recordings
        .par_iter()
        .map(|path| {
            let outcome = hear(path, level_lufs);
            progress(done.fetch_add(1, Ordering::Relaxed) + 1, recordings.len());
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

fn hear(path: &Path, level_lufs: f64) -> Result<Heard, Problem> {
    let name = name_of(path);
    let bytes = read(path)?;
    let recording = audio::decode(&bytes)
        .map_err(|error| Problem::new(&name, error.to_string(), error.mend()))?;
    let prepared = audio::prepare(&recording, level_lufs)
        .map_err(|error| Problem::new(&name, error.to_string(), error.mend()))?;
    Ok(Heard {
        fingerprint: recording.fingerprint(),
        prepared,
    })
}

fn read(path: &Path) -> Result<Vec<u8>, Problem> {
    let name = name_of(path);
    let unreadable = |error: std::io::Error| {
        Problem::new(
            &name,
            format!("cannot be read ({error})"),
            "check its name and who may read it",
        )
    };
    let about = std::fs::metadata(path).map_err(unreadable)?;
    if about.is_dir() {
        return Err(Problem::new(
            name,
            "is a folder",
            "name the recordings in it",
        ));
    }
    if about.len() > audio::bounds::MOST_BYTES {
        return Err(Problem::new(
            name,
            format!(
                "is too large for one word ({} million bytes)",
                about.len() / 1_000_000
            ),
            "cut it into one file for each word",
        ));
    }
    std::fs::read(path).map_err(unreadable)
}

/// A name for each prepared file: the recording's own with `.wav`, numbered where two would be the
/// same (as they would be, too, on a system that does not tell `A` from `a`).
fn names(recordings: &[PathBuf]) -> Vec<String> {
    let mut taken: HashSet<String> = HashSet::from([TABLE.to_owned()]);
    recordings
        .iter()
        .map(|path| {
            let stem = path.file_stem().map_or_else(
                || "word".to_owned(),
                |stem| stem.to_string_lossy().into_owned(),
            );
            let numbered = (2..).map(|n| format!("{stem}-{n}.wav"));
            std::iter::once(format!("{stem}.wav"))
                .chain(numbered)
                .find(|name| taken.insert(name.to_lowercase()))
                .unwrap_or_default()
        })
        .collect()
}

fn rows(recordings: &[PathBuf], names: &[String], heard: &[Heard]) -> Vec<PreparedFile> {
    let mut first: HashMap<[u8; 32], String> = HashMap::new();
    let mut rows = Vec::with_capacity(heard.len());
    for ((path, name), one) in recordings.iter().zip(names).zip(heard) {
        let file = name_of(path);
        let Prepared { sha256, .. } = &one.prepared;
        let mut notes: Vec<String> = one.prepared.marks.iter().map(ToString::to_string).collect();
        if let Some(other) = first.get(&one.fingerprint) {
            notes.push(format!(
                "the same sound as {other}: a copy would fake agreement"
            ));
        }
        first.entry(one.fingerprint).or_insert_with(|| file.clone());
        rows.push(PreparedFile {
            file,
            prepared: name.clone(),
            sha256: sha256.clone(),
            seconds: one.prepared.seconds,
            onset_ms: one.prepared.onset_ms,
            level_lufs: one.prepared.level_lufs,
            true_peak_dbtp: one.prepared.true_peak_dbtp,
            gain_db: one.prepared.gain_db,
            snr_db: one.prepared.snr_db,
            bandwidth_hz: one.prepared.bandwidth_hz,
            clipped_samples: one.prepared.clipped_samples,
            notes,
        });
    }
    rows
}

/// Files that are in the way and say something else; the same bytes may be written again.
fn check_nothing_is_lost(contents: &[(PathBuf, &[u8])]) -> Result<(), Problems> {
    let mut problems = Problems::default();
    for (path, bytes) in contents {
        let in_the_way = match std::fs::read(path) {
            Ok(there) => there != *bytes,
            Err(error) => error.kind() != std::io::ErrorKind::NotFound,
        };
        if in_the_way {
            problems.push(Problem::new(
                name_of(path),
                "is there already and would be lost",
                "give an empty folder with --out",
            ));
        }
    }
    problems.or(())
}

fn name_of(path: &Path) -> String {
    path.display().to_string()
}
