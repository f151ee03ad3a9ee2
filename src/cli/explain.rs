//! `explain`: why something was done otherwise than planned.

use serde_json::json;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::study::RoundName;

/// List what was done otherwise than planned in a round, or write down why: the reason stands in the log and in the report.
#[derive(clap::Args)]
pub(super) struct Explain {
    #[command(flatten)]
    common: Common,
    /// The round.
    #[arg(long, value_name = "NAME")]
    round: RoundName,
    /// The number of the event, as the list shows it.
    #[arg(long, value_name = "N", requires = "reason")]
    event: Option<u64>,
    /// Why it was done, in a sentence that names nobody: it cannot be taken back.
    #[arg(long, value_name = "TEXT", requires = "event")]
    reason: Option<String>,
}

impl Explain {
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        if let Some((event, reason)) = self.event.zip(self.reason.as_ref()) {
            app::explain_deviation(&workspace, &self.round, event, reason, None, Now::read())?;
        }
        let found = app::otherwise_than_planned(&workspace, &self.round)?;
        self.common.say(&json!({ "deviations": found }), |_| {
            if found.is_empty() {
                return format!("Round {} went as planned so far.\n", self.round);
            }
            let lines = found.iter().map(|one| format!("{}  {one}\n", one.event));
            lines.collect()
        })
    }
}
