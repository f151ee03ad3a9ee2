//! `prepared.csv`: one row for each prepared file, in the columns of the command line's contract.

use serde::Serialize;

/// One prepared file and what was measured on it. Numbers are rounded to what they are good for.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PreparedFile {
    /// The recording, as it was named.
    pub file: String,
    /// The prepared file's name in the folder of prepared files.
    pub prepared: String,
    /// SHA-256 of the prepared file, in hexadecimal.
    pub sha256: String,
    /// Its length in seconds.
    pub seconds: f64,
    /// Where the word begins in it, in milliseconds.
    pub onset_ms: f64,
    /// Its K-weighted level, in LUFS.
    pub level_lufs: f64,
    /// Its true peak, in dBTP.
    pub true_peak_dbtp: f64,
    /// The gain that was applied, in decibels.
    pub gain_db: f64,
    /// Speech over noise in the recording, in decibels, where it can be told.
    pub snr_db: Option<f64>,
    /// Up to where the recording holds sound, in hertz.
    pub bandwidth_hz: f64,
    /// Samples at the end of the recorder's range.
    pub clipped_samples: usize,
    /// What is the matter with it, a sentence each.
    pub notes: Vec<String>,
}

const COLUMNS: [&str; 12] = [
    "file",
    "prepared",
    "sha256",
    "seconds",
    "onset_ms",
    "level_lufs",
    "true_peak_dbtp",
    "gain_db",
    "snr_db",
    "bandwidth_hz",
    "clipped_samples",
    "notes",
];

/// The rows as CSV (RFC 4180, UTF-8, one header row); notes stand in one cell, divided by `; `.
///
/// # Errors
/// The writer's own, which memory does not give.
pub fn write_prepared(files: &[PreparedFile]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS)?;
    for file in files {
        writer.write_record([
            text(&file.file),
            text(&file.prepared),
            file.sha256.clone(),
            format!("{:.3}", file.seconds),
            format!("{:.1}", file.onset_ms),
            format!("{:.2}", file.level_lufs),
            format!("{:.2}", file.true_peak_dbtp),
            format!("{:.2}", file.gain_db),
            file.snr_db
                .map(|snr_db| format!("{snr_db:.1}"))
                .unwrap_or_default(),
            format!("{:.0}", file.bandwidth_hz),
            file.clipped_samples.to_string(),
            text(&file.notes.join("; ")),
        ])?;
    }
    writer
        .into_inner()
        .map_err(|error| error.into_error().into())
}

/// A cell of text that no spreadsheet takes for a formula.
fn text(cell: &str) -> String {
    if cell.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{cell}")
    } else {
        cell.to_owned()
    }
}
