//! `backup` and `restore`.

use std::path::PathBuf;

use super::Common;
use super::output;
use crate::app;
use crate::app::AppError;
use crate::app::BackedUp;
use crate::app::Now;
use crate::report::text::counted;

/// Copy the whole study into a new folder, while listeners go on judging.
#[derive(clap::Args)]
pub(super) struct Backup {
    #[command(flatten)]
    common: Common,
    /// The folder; not there yet, and best on another disk. It holds voices: keep it as safe as the
    /// study.
    #[arg(value_name = "TO")]
    to: PathBuf,
}

/// Make a study from a backup, which is checked first.
#[derive(clap::Args)]
pub(super) struct Restore {
    /// The folder of the backup.
    #[arg(value_name = "FROM")]
    from: PathBuf,
    /// The folder of the study; not there yet.
    #[arg(value_name = "DIR")]
    dir: PathBuf,
    /// Print one JSON object.
    #[arg(long)]
    json: bool,
}

impl Backup {
    pub(super) fn run(self) -> Result<(), AppError> {
        let done = app::back_up(&self.common.open()?, &self.to, Now::read())?;
        self.common.say(&done, |done| {
            format!(
                "Backed up {} to {}.\nreceipt  {}\n",
                size(done),
                self.to.display(),
                done.receipt
            )
        })
    }
}

impl Restore {
    pub(super) fn run(self) -> Result<(), AppError> {
        let done = app::restore(&self.from, &self.dir)?;
        output::print(&done, self.json, |done| {
            format!(
                "Restored {} to {}; all is as it was written.\nreceipt  {}\n\
                 Whoever was withdrawn after this backup is in it again: withdraw them again.\n",
                size(done),
                self.dir.display(),
                done.receipt
            )
        })
    }
}

fn size(done: &BackedUp) -> String {
    let files = counted(done.files, "file");
    format!("{files}, {:.1} MB,", done.bytes as f64 / 1e6)
}
