//! `exclude` and `include`: words are left out before anybody judged them, and taken in again.

use serde_json::json;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::report::text::columns;
use crate::report::text::counted;
use crate::study::Exclusion;

/// Leave words out before anybody judged them; without a word, list those that are left out.
#[derive(clap::Args)]
pub(super) struct Exclude {
    #[command(flatten)]
    common: Common,
    /// The recordings, as the manifest named them.
    #[arg(value_name = "FILE", requires = "reason")]
    words: Vec<String>,
    /// Why: noise, overlap, wrong-word, clinician-voice, says-a-name, cut-off, technical, not-part.
    #[arg(long, value_name = "REASON", requires = "words")]
    reason: Option<Exclusion>,
}

/// Take excluded words in again.
#[derive(clap::Args)]
pub(super) struct Include {
    #[command(flatten)]
    common: Common,
    /// The recordings, as the manifest named them.
    #[arg(value_name = "FILE", required = true)]
    words: Vec<String>,
}

impl Exclude {
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        if let Some(reason) = self.reason {
            app::exclude(&workspace, &self.words, reason, Now::read())?;
        }
        let said = json!({"excluded": app::excluded(&workspace)?});
        self.common.say(&said, |said| {
            let cell = |row: &serde_json::Value, field: &str| {
                let text = row.get(field).and_then(serde_json::Value::as_str);
                text.unwrap_or_default().to_owned()
            };
            let rows = said.get("excluded").and_then(serde_json::Value::as_array);
            let rows: Vec<_> = rows
                .into_iter()
                .flatten()
                .map(|row| vec![cell(row, "file"), cell(row, "reason")])
                .collect();
            format!(
                "{}{} left out.\n",
                columns(&rows),
                counted(rows.len(), "word")
            )
        })
    }
}

impl Include {
    pub(super) fn run(self) -> Result<(), AppError> {
        app::include(&self.common.open()?, &self.words, Now::read())?;
        self.common.say(&json!({"included": self.words}), |_| {
            format!("{} taken in again.\n", counted(self.words.len(), "word"))
        })
    }
}
