//! `invite`, `revoke`, `pause` and `resume`: a round's links while it is open.

use serde_json::Value;
use serde_json::json;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Invitation;
use crate::app::Invited;
use crate::app::Link;
use crate::app::Now;
use crate::app::OpenLink;
use crate::app::Paused;
use crate::app::WhichLink;
use crate::study::ChildCode;
use crate::study::ListenerKind;
use crate::study::RoundName;

/// Invite further listeners to an open round. The report says that the plan did not name them.
#[derive(clap::Args)]
#[group(id = "how_many", required = true, multiple = true, args = ["listeners", "open"])]
pub(super) struct Invite {
    #[command(flatten)]
    common: Common,
    /// The round.
    #[arg(long, value_name = "NAME")]
    round: RoundName,
    /// How many personal links to make.
    #[arg(long, value_name = "N", default_value_t = 0)]
    listeners: u32,
    /// Make an open link for so many listeners.
    #[arg(long, value_name = "N")]
    open: Option<u32>,
    /// Naive or expert; else as the plan says.
    #[arg(long, value_name = "KIND")]
    kind: Option<ListenerKind>,
    /// A child whom none of them must hear, as they know it. May be repeated.
    #[arg(long = "bar", value_name = "CHILD")]
    bars: Vec<ChildCode>,
    /// Days in which a link must be used for the first time; else as the plan says.
    #[arg(long, value_name = "N")]
    days: Option<u32>,
    #[command(flatten)]
    shown: Shown,
}

/// How links are printed.
#[derive(clap::Args)]
pub(super) struct Shown {
    /// The address under which listeners reach this machine.
    #[arg(long, value_name = "URL", default_value = "http://127.0.0.1:8484")]
    public_url: String,
}

impl Shown {
    fn address(&self, path: &str) -> String {
        format!("{}{path}", self.public_url.trim_end_matches('/'))
    }

    /// Personal links as JSON.
    pub(super) fn links(&self, links: &[Link]) -> Value {
        let links = links.iter();
        links
            .map(|link| {
                json!({
                    "number": link.number,
                    "listener": link.listener,
                    "url": self.address(&link.path),
                })
            })
            .collect()
    }

    /// An open link as JSON.
    pub(super) fn open_link(&self, link: Option<&OpenLink>) -> Value {
        link.map_or(Value::Null, |link| {
            json!({
                "number": link.number,
                "cap": link.cap,
                "url": self.address(&link.path),
            })
        })
    }

    /// All of them to be read.
    pub(super) fn text(&self, links: &[Link], open_link: Option<&OpenLink>) -> String {
        let mut text = String::new();
        if !links.is_empty() {
            text.push_str("\nLinks, one a listener. They are shown this once.\n");
        }
        for link in links {
            let line = format!("{:>4}  {}\n", link.number, self.address(&link.path));
            text.push_str(&line);
        }
        if let Some(link) = open_link {
            let address = self.address(&link.path);
            let line = format!(
                "\nAn open link for {} listeners. It is shown this once.\n      {address}\n",
                link.cap
            );
            text.push_str(&line);
        }
        text + &only_here(&self.public_url)
    }
}

/// What to do with addresses that open on this machine alone; nothing where others reach them.
pub(super) fn only_here(url: &str) -> String {
    let host = url.split_once("://").map_or(url, |(_, host)| host);
    let here = ["127.", "localhost", "[::1]"];
    if here.iter().any(|begin| host.starts_with(begin)) {
        format!(
            "\nThese addresses open on this machine alone. For other devices write in the place of\n{url} \
             the address under which they reach it; the desk's page Reach tells how.\n"
        )
    } else {
        String::new()
    }
}

impl Invite {
    pub(super) fn run(self) -> Result<(), AppError> {
        let wanted = Invitation {
            listeners: self.listeners,
            open: self.open,
            kind: self.kind,
            bars: self.bars,
            days: self.days,
        };
        let workspace = self.common.open()?;
        let Invited {
            round,
            links,
            open_link,
            receipt,
        } = app::invite(&workspace, &self.round, &wanted, Now::read())?;
        let said = json!({
            "round": round,
            "links": self.shown.links(&links),
            "open_link": self.shown.open_link(open_link.as_ref()),
            "receipt": receipt,
        });
        self.common.say(&said, |_| {
            let links = self.shown.text(&links, open_link.as_ref());
            format!(
                "Round {round} has more listeners than its seal names; the report will say so.\n\
                 receipt  {receipt}\n{links}"
            )
        })
    }
}

/// Take a link back: nobody comes by it any more. What was judged by it stays.
#[derive(clap::Args)]
#[group(id = "which", required = true, multiple = false, args = ["link", "open_link"])]
pub(super) struct Revoke {
    #[command(flatten)]
    common: Common,
    /// The round.
    #[arg(long, value_name = "NAME")]
    round: RoundName,
    /// The number of a personal link.
    #[arg(long, value_name = "N")]
    link: Option<u32>,
    /// The number of an open link. Who came by it keeps her own link.
    #[arg(long, value_name = "N")]
    open_link: Option<u32>,
}

impl Revoke {
    pub(super) fn run(self) -> Result<(), AppError> {
        let which = match (self.link, self.open_link) {
            (Some(number), _) => WhichLink::Personal(number),
            (None, number) => WhichLink::Open(number.unwrap_or(0)),
        };
        let revoked = app::revoke(&self.common.open()?, &self.round, which, Now::read())?;
        self.common.say(&revoked, |revoked| {
            format!(
                "The link is taken back. What was judged by it is kept.\nreceipt  {}\n",
                revoked.receipt
            )
        })
    }
}

/// Pause an open round: nobody new begins, and no further word is handed out.
#[derive(clap::Args)]
pub(super) struct Pause {
    #[command(flatten)]
    common: Common,
    /// The round.
    #[arg(long, value_name = "NAME")]
    round: RoundName,
}

impl Pause {
    pub(super) fn run(self) -> Result<(), AppError> {
        let paused = app::pause(&self.common.open()?, &self.round, Now::read())?;
        self.common.say(&paused, |Paused { round, receipt, .. }| {
            format!(
                "Round {round} is paused. Listeners are told to come back later; what they sent \
                 is kept.\nreceipt  {receipt}\n"
            )
        })
    }
}

/// Let a paused round go on.
#[derive(clap::Args)]
pub(super) struct Resume {
    #[command(flatten)]
    common: Common,
    /// The round.
    #[arg(long, value_name = "NAME")]
    round: RoundName,
}

impl Resume {
    pub(super) fn run(self) -> Result<(), AppError> {
        let resumed = app::resume(&self.common.open()?, &self.round, Now::read())?;
        self.common.say(&resumed, |Paused { round, receipt, .. }| {
            format!("Round {round} goes on.\nreceipt  {receipt}\n")
        })
    }
}
