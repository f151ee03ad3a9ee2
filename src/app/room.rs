//! Whether the recordings of one phase could be told from those of another by the room alone.

use super::AppError;
use super::Workspace;
use crate::analysis;
use crate::analysis::Compared;
use crate::analysis::PhaseRecording;

/// Noise, bandwidth, level and length of the scored words that are not left out, by phase.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read; [`AppError::Input`] if its settings cannot.
pub fn compare_phases(workspace: &Workspace) -> Result<Vec<Compared>, AppError> {
    let phases = workspace.settings()?.phases;
    let tokens = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.tokens()?))?;
    let scored = tokens
        .into_iter()
        .filter(|token| token.key.use_ == crate::study::Use::Scored && token.excluded.is_none());
    let recorded: Vec<PhaseRecording> = scored
        .filter_map(|token| {
            Some(PhaseRecording {
                child: token.key.child?,
                phase: token.key.phase?,
                snr_db: token.prepared.snr_db,
                bandwidth_hz: token.prepared.bandwidth_hz,
                recorded_lufs: token.prepared.level_lufs - token.prepared.gain_db,
                seconds: token.prepared.seconds,
            })
        })
        .collect();
    Ok(analysis::compare_phases(&recorded, &phases))
}
