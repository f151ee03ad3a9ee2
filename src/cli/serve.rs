//! `fairhearing serve`: the pages, until it is told to stop.

use std::io::Write as _;
use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;

use crate::app::AppError;
use crate::app::Workspace;
use crate::web;

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
        let routes =
            web::routes(workspace).map_err(|error| AppError::Unreadable(error.to_string()))?;
        let runtime = tokio::runtime::Runtime::new().map_err(self.failed("cannot start on"))?;
        runtime.block_on(async {
            let server = web::Server::bind(self.listen)
                .await
                .map_err(self.failed("cannot listen on"))?;
            // Nobody may be reading; that is no reason to stop.
            let _ = writeln!(
                std::io::stdout(),
                "listening on http://{}",
                server.address()
            );
            server
                .run(routes, web::asked_to_stop())
                .await
                .map_err(self.failed("cannot go on listening on"))
        })
    }

    fn failed(&self, what: &'static str) -> impl FnOnce(std::io::Error) -> AppError + use<> {
        let path = self.listen.to_string();
        move |source| AppError::File { what, path, source }
    }
}
