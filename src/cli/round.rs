//! `close` and `unlock`: a round's later life.

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::study::RoundName;

/// Close a round: no further judgement.
#[derive(clap::Args)]
pub(super) struct Close {
    #[command(flatten)]
    common: Common,
    /// The round.
    #[arg(long, value_name = "NAME")]
    round: RoundName,
}

impl Close {
    pub(super) fn run(self) -> Result<(), AppError> {
        let closed = app::close(&self.common.open()?, &self.round, Now::read())?;
        self.common.say(&closed, |closed| {
            format!(
                "Round {} is closed. Its results stay hidden until you unlock it.\nreceipt  {}\n",
                closed.round, closed.receipt
            )
        })
    }
}

/// Unlock a closed round: results may be seen from now on. It is logged.
#[derive(clap::Args)]
pub(super) struct Unlock {
    #[command(flatten)]
    common: Common,
    /// The round.
    #[arg(long, value_name = "NAME")]
    round: RoundName,
    /// Unlock although a masked analysis that was begun or planned is not finished.
    #[arg(long)]
    without_masked: bool,
}

impl Unlock {
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        if let Some(left) = app::masked_state(&workspace, &self.round)?.left_open()
            && !self.without_masked
        {
            return Err(AppError::refused(
                left,
                "finish it first, or unlock with --without-masked",
            ));
        }
        let unlocked = app::unlock(&workspace, &self.round, Now::read())?;
        self.common.say(&unlocked, |unlocked| {
            format!(
                "Round {} is unlocked: its results may be seen from now on.\nreceipt  {}\n",
                unlocked.round, unlocked.receipt
            )
        })
    }
}
