//! A test recording, measured before the first session: nothing of it is kept.

use super::AppError;
use super::Workspace;
use crate::audio;
use crate::audio::bounds;

/// What was measured of a test recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Tried {
    /// The kind of file and its coding.
    pub source: String,
    /// The sample rate in hertz.
    pub rate_hz: u32,
    /// How many channels it has.
    pub channels: usize,
    /// Its length in seconds.
    pub seconds: f64,
    /// How loud the word was recorded, in LUFS.
    pub recorded_lufs: f64,
    /// The gain that it would be given, in dB.
    pub gain_db: f64,
    /// Speech over noise in dB, where it can be told.
    pub snr_db: Option<f64>,
    /// The bandwidth in Hz.
    pub bandwidth_hz: f64,
    /// Remarks on its quality, a sentence each.
    pub marks: Vec<String>,
}

/// Measures a recording as an import would. Nothing is kept.
///
/// # Errors
/// [`AppError::Refused`] with what is wrong with the file, as an import would say it.
pub fn try_recording(workspace: &Workspace, bytes: &[u8]) -> Result<Tried, AppError> {
    if bytes.len() as u64 > bounds::MOST_BYTES {
        return Err(AppError::refused(
            "the file is too large for one word",
            "cut one word out of it",
        ));
    }
    let recording =
        audio::decode(bytes).map_err(|error| AppError::refused(error.to_string(), error.mend()))?;
    let level_lufs = workspace.settings()?.level_lufs;
    let prepared = audio::prepare(&recording, level_lufs)
        .map_err(|error| AppError::refused(error.to_string(), error.mend()))?;
    let source = recording.source();
    let coding = if source.coding == source.container {
        source.coding.to_owned()
    } else {
        format!("{} ({})", source.container, source.coding)
    };
    Ok(Tried {
        source: coding,
        rate_hz: recording.rate_hz(),
        channels: recording.channels().len(),
        seconds: recording.seconds(),
        recorded_lufs: prepared.level_lufs - prepared.gain_db,
        gain_db: prepared.gain_db,
        snr_db: prepared.snr_db,
        bandwidth_hz: prepared.bandwidth_hz,
        marks: prepared.marks.iter().map(ToString::to_string).collect(),
    })
}
