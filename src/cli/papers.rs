//! `papers`: what an ethics board and those who take part are given, made from the study.

use std::path::PathBuf;

use serde_json::json;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::folder;
use crate::report;
use crate::report::Paper;

/// Write a data sheet for an ethics board, and drafts of consent, assent and listener information, to be printed.
#[derive(clap::Args)]
pub(super) struct Papers {
    #[command(flatten)]
    common: Common,
    /// The folder; not there yet.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

impl Papers {
    pub(super) fn run(self) -> Result<(), AppError> {
        let facts = folder::paper_facts(&self.common.open()?, Now::read())?;
        let files = Paper::ALL.iter().map(|paper| {
            let page = report::paper(*paper, &facts)
                .map_err(|error| AppError::Unreadable(error.to_string()))?;
            Ok((format!("{}.html", paper.name()), page.into_bytes()))
        });
        let files = files.collect::<Result<Vec<_>, AppError>>()?;
        app::write_folder(&self.out, &files)?;
        let names: Vec<_> = files.iter().map(|(name, _)| name.as_str()).collect();
        self.common.say(&json!({ "files": names }), |_| {
            format!(
                "Wrote {} to {}. They are drafts: your ethics board’s forms and local rules come first.\n",
                names.join(", "),
                self.out.display()
            )
        })
    }
}
