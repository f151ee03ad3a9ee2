//! `close` and `unlock`: a round's later life.

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Followed;
use crate::app::Now;
use crate::report::text::counted;
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
        let (workspace, now) = (self.common.open()?, Now::read());
        let closed = app::close(&workspace, &self.round, now)?;
        let followed = app::follow(&workspace, &self.round, now)?;
        self.common.say(&closed, |closed| {
            format!(
                "Round {} is closed. Its results stay hidden until you unlock it.\n{}receipt  {}\n",
                closed.round,
                what_is_missing(&followed),
                closed.receipt
            )
        })
    }
}

/// The judgements that a closed round lacks, in a line; nothing where it lacks none.
fn what_is_missing(followed: &Followed) -> String {
    if followed.judgements_short == 0 {
        return String::new();
    }
    format!(
        "{} have fewer judgements than the plan wanted; {} are missing in all, and none can come any more.\n",
        counted(followed.words_short, "word"),
        followed.judgements_short
    )
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
