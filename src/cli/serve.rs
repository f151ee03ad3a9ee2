//! `fairhearing serve`: the pages, until it is told to stop.

use std::io::Write as _;
use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;

use super::server;
use crate::app::AppError;
use crate::app::Workspace;
use crate::app::listening;

/// Serve the pages for listeners and staff.
#[derive(Args)]
pub(super) struct Serve {
    /// The study's folder.
    #[arg(long, value_name = "DIR", default_value = ".")]
    workspace: PathBuf,
    /// Where to listen; port 0 takes a free one. Only this machine can reach the default; put a
    /// proxy with TLS in front before you listen elsewhere.
    #[arg(long, value_name = "ADDR:PORT", default_value = "127.0.0.1:8484")]
    listen: SocketAddr,
    /// Serve one laptop that is handed round: each listener starts by a short code, the next one sees
    /// nothing of the last, and there are no staff's pages. No network is needed.
    #[arg(long)]
    one_laptop: bool,
}

impl Serve {
    /// Serves until asked to stop.
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = Workspace::open(&self.workspace)?;
        if self.one_laptop {
            return serve_one_laptop(&workspace, self.listen);
        }
        let running = server::start(&workspace, self.listen)?;
        let address = running.address();
        say(&format!(
            "listening on {address}\nfor staff, once, on this machine: {address}{}\n",
            running.desk_path().unwrap_or_default(),
        ));
        running.until_stopped()
    }
}

fn serve_one_laptop(workspace: &Workspace, listen: SocketAddr) -> Result<(), AppError> {
    if !listen.ip().is_loopback() {
        return Err(AppError::refused(
            format!("{listen} can be reached from other machines"),
            "one laptop answers itself alone: leave `--listen` out",
        ));
    }
    let codes = listening::codes(workspace)?;
    if codes.is_empty() {
        return Err(AppError::refused(
            "no round is open, so nobody has a code",
            "seal a plan first",
        ));
    }
    let running = server::start_for_one_laptop(workspace, listen)?;
    let address = running.address();
    let mut text = format!(
        "listening on {address}\nfor listeners, on this machine: {address}/start\n\n\
         Codes, one a listener. Write each on a slip of paper and hand it over with the laptop;\n\
         they open nothing elsewhere, and are the same when this is started again.\n"
    );
    for code in codes {
        let line = format!("{:>4}  {}  round {}\n", code.number, code.code, code.round);
        text.push_str(&line);
    }
    say(&text);
    running.until_stopped()
}

/// Nobody may be reading; that is no reason to stop.
fn say(text: &str) {
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(text.as_bytes());
    let _ = out.flush();
}
