//! Every recording of a manifest, decoded and prepared on all cores.

use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

use rayon::prelude::*;

use super::recordings::Recordings;
use super::recordings::Refusal;
use crate::audio;
use crate::exchange::ManifestRow;
use crate::seal::Digest;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::key::TokenKey;

/// One row with its recording, prepared.
pub(super) struct Heard {
    pub(super) line: u64,
    pub(super) key: TokenKey,
    pub(super) bytes: Vec<u8>,
    pub(super) original_sha256: String,
    pub(super) samples_sha256: String,
    pub(super) prepared: audio::Prepared,
}

/// Decodes and prepares every recording, on all cores; the order of the rows is kept.
pub(super) fn prepare_all(
    manifest: &str,
    recordings: &dyn Recordings,
    rows: &[ManifestRow],
    level_lufs: f64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Heard>, Problems> {
    let recorded: Vec<_> = rows.iter().filter(|row| row.key.file.is_some()).collect();
    let done = AtomicUsize::new(0);
    let outcomes: Vec<_> = recorded
        .par_iter()
        .map(|row| {
            let outcome = hear(recordings, row, level_lufs)
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

fn hear(recordings: &dyn Recordings, row: &ManifestRow, level_lufs: f64) -> Result<Heard, Refusal> {
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
        bytes,
        prepared,
    })
}
