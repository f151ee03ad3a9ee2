//! `verify`: whether the study is as it was written.

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Verified;
use crate::report::text::counted;

/// Hold the study against its log, its seals and its audio; status 1 if anything was changed.
#[derive(clap::Args)]
pub(super) struct Verify {
    #[command(flatten)]
    common: Common,
    /// A receipt, of a listener or of the seal sheet: the log must go on from it. May be repeated.
    #[arg(long = "receipt", value_name = "RECEIPT")]
    receipts: Vec<String>,
}

impl Verify {
    pub(super) fn run(self) -> Result<(), AppError> {
        let verified = app::verify(&self.common.open()?, &self.receipts)?;
        self.common.say(&verified, text)?;
        match verified.findings.len() {
            0 => Ok(()),
            n => Err(AppError::Altered(n)),
        }
    }
}

fn text(verified: &Verified) -> String {
    let Verified {
        events,
        rounds,
        judgements,
        audio_files,
        receipt,
        findings,
        ..
    } = verified;
    let looked_at = format!(
        "{}, {}, {}, {}.\n",
        counted(usize::try_from(*events).unwrap_or(usize::MAX), "event"),
        counted(*rounds, "round"),
        counted(*judgements, "judgement"),
        counted(*audio_files, "audio file"),
    );
    if findings.is_empty() {
        format!("{looked_at}All is as it was written.\nreceipt  {receipt}\n")
    } else {
        format!("{looked_at}{}\n", findings.join("\n"))
    }
}
