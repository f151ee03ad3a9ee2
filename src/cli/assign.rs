//! `assign`: draws who is treated how and when, and seals the draw before treatment begins.

use std::path::PathBuf;

use super::Common;
use crate::app;
use crate::app::Again;
use crate::app::AppError;
use crate::app::Assigned;
use crate::app::Now;
use crate::report::sheet;

/// Draw who is treated how and when, and seal the draw with what will be compared; prints a sheet.
#[derive(clap::Args)]
pub(super) struct Assign {
    #[command(flatten)]
    common: Common,
    /// What is to be assigned, among what, and the contrast.
    #[arg(long, value_name = "TOML", required_unless_present = "show")]
    plan: Option<PathBuf>,
    /// Say how many draws there are and the smallest p they can give; draw nothing.
    #[arg(long)]
    preview: bool,
    /// Show the assignment that stands; draw nothing.
    #[arg(long, conflicts_with_all = ["plan", "preview", "again"])]
    show: bool,
    /// Draw once more although the study was assigned: it is logged, and stands in every report.
    #[arg(long, requires = "why", conflicts_with = "preview")]
    again: bool,
    /// Why it is drawn again.
    #[arg(long, value_name = "REASON", requires = "again")]
    why: Option<String>,
    /// A folder for the sheet to be printed (sheet.html), its text, and assignment.json for `outcome` and `series`.
    #[arg(long, value_name = "DIR", conflicts_with = "preview")]
    out: Option<PathBuf>,
}

impl Assign {
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let Some(plan) = &self.plan else {
            return self.say(&app::assigned(&workspace)?);
        };
        if self.preview {
            let previewed = app::preview(&workspace, plan)?;
            return self.common.say(&previewed, |found| {
                sheet::preview(&found.plan, &found.numbers)
            });
        }
        let again = match &self.why {
            Some(why) if self.again => Again::Because(why.clone()),
            _ => Again::No,
        };
        self.say(&app::assign(&workspace, plan, again, Now::read())?)
    }

    fn say(&self, assigned: &Assigned) -> Result<(), AppError> {
        if let Some(out) = &self.out {
            let page = sheet::page(&assigned.sheet)
                .map_err(|error| AppError::Unreadable(error.to_string()))?;
            let files = [
                (
                    "assignment.json",
                    app::write_assignment(&assigned.assignment),
                ),
                ("sheet.html", page.into_bytes()),
                ("sheet.txt", sheet::text(&assigned.sheet).into_bytes()),
            ];
            let files = files.map(|(name, content)| (name.to_owned(), content));
            app::write_folder(out, &files)?;
        }
        self.common.say(assigned, |assigned| {
            format!(
                "{}receipt  {}\nDeposit seal and receipt elsewhere: they prove later that nothing was changed.\n",
                sheet::text(&assigned.sheet),
                assigned.receipt
            )
        })
    }
}
