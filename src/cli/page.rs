//! `page`: a child's page behind a link that runs out, from the machine itself.

use serde_json::json;

use super::Common;
use super::links::only_here;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::app::SharedPage;
use crate::study::ChildCode;

/// A child's page behind a link, without sound and without signing in: share, list, take back.
#[derive(clap::Args)]
pub(super) struct Page {
    #[command(subcommand)]
    what: What,
}

#[derive(clap::Subcommand)]
enum What {
    Share(Share),
    List(List),
    TakeBack(TakeBack),
}

/// Make a link to a child's page; prints its address, which is kept nowhere.
#[derive(clap::Args)]
struct Share {
    #[command(flatten)]
    common: Common,
    /// The child's code.
    child: ChildCode,
    /// Days for which the link is good.
    #[arg(long, default_value_t = app::USUAL_DAYS)]
    days: u32,
    /// The address that `serve` prints for listeners or for this machine.
    #[arg(long, value_name = "URL", default_value = "http://127.0.0.1:8484")]
    address: String,
}

/// List the links that were made, with their numbers.
#[derive(clap::Args)]
struct List {
    #[command(flatten)]
    common: Common,
    /// Of this child alone.
    #[arg(long, value_name = "CODE")]
    child: Option<ChildCode>,
}

/// Take a link back; whoever opens it is told so.
#[derive(clap::Args)]
struct TakeBack {
    #[command(flatten)]
    common: Common,
    /// The number of the link, as `page list` shows it.
    number: u32,
}

impl Page {
    pub(super) fn run(self) -> Result<(), AppError> {
        match self.what {
            What::Share(command) => command.run(),
            What::List(command) => command.run(),
            What::TakeBack(command) => command.run(),
        }
    }
}

impl Share {
    fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let (page, secret) =
            app::share_page(&workspace, &self.child, self.days, None, Now::read())?;
        let url = format!("{}/page/{secret}", self.address.trim_end_matches('/'));
        self.common
            .say(&json!({ "page": page, "url": url }), |_| {
                format!(
                    "Link {} shows the page of {} for {} days, without sound, while `fairhearing serve` runs:\n{url}\n{}",
                    page.number, page.child, self.days,
                    only_here(&self.address)
                )
            })
    }
}

impl List {
    fn run(self) -> Result<(), AppError> {
        let pages = app::shared_pages(&self.common.open()?, self.child.as_ref())?;
        self.common.say(&json!({ "pages": pages }), |_| {
            let lines: Vec<String> = pages.iter().map(line).collect();
            if lines.is_empty() {
                "No link to a child's page was made yet.\n".to_owned()
            } else {
                format!("{}\n", lines.join("\n"))
            }
        })
    }
}

impl TakeBack {
    fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let page = app::take_back_page(&workspace, self.number, None, None, Now::read())?;
        self.common
            .say(&page, |page| format!("Took link {} back.\n", page.number))
    }
}

/// "3  C01  open".
fn line(page: &SharedPage) -> String {
    let state = match page.revoked_ms {
        Some(_) => "taken back",
        None if page.is_open(Now::read()) => "open",
        None => "ran out",
    };
    format!("{}  {}  {state}", page.number, page.child)
}
