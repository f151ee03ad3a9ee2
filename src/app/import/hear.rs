//! Every recording of a manifest, decoded and prepared on all cores.

use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

use rayon::prelude::*;

use super::incoming::Incoming;
use super::incoming::Waiting;
use super::recordings::Recordings;
use super::recordings::Refusal;
use crate::app::AppError;
use crate::audio;
use crate::exchange::ManifestRow;
use crate::seal::Digest;
use crate::store::PreparedRow;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::key::TokenKey;

/// One row with its recording, prepared; the sounds themselves wait on the disk.
pub(super) struct Heard {
    pub(super) line: u64,
    pub(super) key: TokenKey,
    pub(super) waiting: Waiting,
    pub(super) original_sha256: String,
    pub(super) samples_sha256: String,
    pub(super) prepared: PreparedRow,
}

/// Decodes and prepares every recording, on all cores; the order of the rows is kept.
pub(super) fn prepare_all(
    manifest: &str,
    recordings: &dyn Recordings,
    rows: &[ManifestRow],
    level_lufs: f64,
    incoming: &Incoming,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Heard>, AppError> {
    let recorded: Vec<_> = rows.iter().filter(|row| row.key.file.is_some()).collect();
    let done = AtomicUsize::new(0);
    let outcomes: Vec<_> = recorded
        .par_iter()
        .map(|row| {
            let outcome = hear(recordings, row, level_lufs, incoming);
            progress(done.fetch_add(1, Ordering::Relaxed) + 1, recorded.len());
            outcome
        })
        .collect();
    let mut problems = Problems::default();
    let mut heard = Vec::with_capacity(outcomes.len());
    for (row, outcome) in recorded.iter().zip(outcomes) {
        match outcome {
            Ok(one) => heard.push(one),
            Err(Unheard::Refused(refusal)) => {
                problems.push(problem_in_row(manifest, row, &refusal));
            }
            Err(Unheard::Failed(error)) => return Err(error),
        }
    }
    Ok(problems.or(heard)?)
}

fn problem_in_row(manifest: &str, row: &ManifestRow, refusal: &Refusal) -> Problem {
    Problem::new(manifest, refusal.what.clone(), refusal.mend.clone())
        .at_line(row.line)
        .in_column("file")
}

/// The recording's fault, or the disk's.
enum Unheard {
    Refused(Refusal),
    Failed(AppError),
}

impl From<Refusal> for Unheard {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

fn hear(
    recordings: &dyn Recordings,
    row: &ManifestRow,
    level_lufs: f64,
    incoming: &Incoming,
) -> Result<Heard, Unheard> {
    let file = row.key.file.clone().unwrap_or_default();
    let bytes = recordings.bytes(&file)?;
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
        waiting: incoming
            .put(row.line, &bytes, &prepared)
            .map_err(Unheard::Failed)?,
        prepared: prepared_row(&prepared),
    })
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
