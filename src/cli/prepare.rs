//! `prepare`: recordings as listeners would hear them, without a study.

use std::fmt::Write;
use std::path::PathBuf;

use serde_json::Value;
use serde_json::json;

use super::output;
use super::progress;
use crate::app;
use crate::app::AppError;
use crate::app::PreparedFile;

/// Prepare recordings of words: one rate, one level, trimmed, nothing but the sound.
#[derive(clap::Args)]
pub(super) struct Prepare {
    /// Recordings: WAV, FLAC, MP3, M4A, AIFF or Ogg Vorbis, one word each.
    #[arg(required = true, value_name = "AUDIO")]
    recordings: Vec<PathBuf>,
    /// The folder for the prepared files and prepared.csv; it is made if it is not there.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// The level of every word, in LUFS.
    #[arg(long, value_name = "LUFS", default_value_t = app::DEFAULT_LEVEL_LUFS, allow_negative_numbers = true)]
    level: f64,
    /// Print one JSON object.
    #[arg(long)]
    json: bool,
}

impl Prepare {
    pub(super) fn run(self) -> Result<(), AppError> {
        let bar = progress::preparing();
        let prepared = app::prepare_files(&self.recordings, &self.out, self.level, &|done, of| {
            progress::show(&bar, done, of);
        });
        bar.finish_and_clear();
        let prepared = prepared?;
        let object = json!({ "files": prepared.iter().map(as_json).collect::<Vec<_>>() });
        output::print(&object, self.json, |_| {
            as_text(&prepared, &self.out.display().to_string())
        })
    }
}

fn as_json(file: &PreparedFile) -> Value {
    let mut object = json!(file);
    let mut reasons = serde_json::Map::new();
    if file.snr_db.is_none() {
        let why = "the room's noise cannot be told from the word";
        reasons.insert("snr_db".to_owned(), why.into());
    }
    if let Some(fields) = object.as_object_mut() {
        fields.insert("reasons".to_owned(), reasons.into());
    }
    object
}

fn as_text(files: &[PreparedFile], folder: &str) -> String {
    let widest = files
        .iter()
        .map(|file| file.prepared.chars().count())
        .max()
        .unwrap_or(0);
    let mut text = format!(
        "{:widest$}  seconds  onset ms  gain dB  SNR dB  up to kHz  notes\n",
        "prepared"
    );
    for file in files {
        let snr_db = file
            .snr_db
            .map_or("-".to_owned(), |snr_db| format!("{snr_db:.0}"));
        // Writing to a String cannot fail.
        let _ = writeln!(
            text,
            "{:widest$}  {:7.2}  {:8.0}  {:7.1}  {snr_db:>6}  {:9.1}  {}",
            file.prepared,
            file.seconds,
            file.onset_ms,
            file.gain_db,
            file.bandwidth_hz / 1000.0,
            file.notes.join("; ")
        );
    }
    let _ = writeln!(
        text,
        "\n{} prepared in {folder}, with prepared.csv",
        files.len()
    );
    text
}
