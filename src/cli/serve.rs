//! `fairhearing serve`: the pages, until it is told to stop.

use std::io::Write as _;
use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;

use super::server;
use crate::app::AppError;
use crate::app::Workspace;

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
}

impl Serve {
    /// Serves until asked to stop.
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = Workspace::open(&self.workspace)?;
        let running = server::start(&workspace, self.listen)?;
        // Nobody may be reading; that is no reason to stop.
        let _ = writeln!(
            std::io::stdout(),
            "listening on {}\nfor staff, once, on this machine: {}{}",
            running.address(),
            running.address(),
            running.desk_path(),
        );
        running.until_stopped()
    }
}
