//! `seal`: seals a plan and opens its round.

use std::path::PathBuf;

use serde_json::json;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::report;

/// Seal a plan and open its round; prints its name, its seal and its listeners' links.
#[derive(clap::Args)]
pub(super) struct Seal {
    #[command(flatten)]
    common: Common,
    /// The plan of the round.
    #[arg(long, value_name = "TOML")]
    plan: PathBuf,
    /// The address under which listeners reach this machine.
    #[arg(long, value_name = "URL", default_value = "http://127.0.0.1:8484")]
    public_url: String,
}

impl Seal {
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let sealed = app::seal_round(&workspace, &self.plan, Now::read())?;
        let base = self.public_url.trim_end_matches('/');
        let links: Vec<_> = sealed
            .links
            .iter()
            .map(|link| {
                json!({
                    "number": link.number,
                    "listener": link.listener,
                    "url": format!("{base}{}", link.path),
                })
            })
            .collect();
        let said = json!({
            "round": sealed.round,
            "seal": sealed.seal,
            "receipt": sealed.receipt,
            "links": links,
            "known_answers": sealed.known_answers,
            "notices": sealed.notices,
        });
        self.common.say(&said, |_| {
            let list: Vec<_> = sealed
                .links
                .iter()
                .map(|link| format!("{:>4}  {base}{}", link.number, link.path))
                .collect();
            format!(
                "Round {} is sealed and open.\nseal     {}\nreceipt  {}\nKnown answers: {}.\n\
                 Deposit both elsewhere: they prove later that nothing was changed.\n\n\
                 Links, one a listener. They are shown this once.\n{}\n{}",
                sealed.round,
                sealed.seal,
                sealed.receipt,
                report::text::known_answers(sealed.known_answers),
                list.join("\n"),
                sealed
                    .notices
                    .iter()
                    .fold(String::new(), |text, notice| text + "\n" + notice + "\n"),
            )
        })
    }
}
