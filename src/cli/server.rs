//! The server as commands start it.

use std::net::SocketAddr;

use tokio::runtime::Runtime;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

use crate::app::AppError;
use crate::app::Workspace;
use crate::web;
use crate::web::Demonstration;
use crate::web::Reached;
use crate::web::TlsFiles;

/// A server that answers while the command goes on.
pub(super) struct Running {
    runtime: Runtime,
    address: String,
    reached: Reached,
    stop: oneshot::Sender<()>,
    ended: JoinHandle<std::io::Result<()>>,
}

/// Where to listen, as it is written: `localhost` is this machine, and a port alone is one of it.
pub(super) fn address(written: &str) -> Result<SocketAddr, String> {
    let port = written.strip_prefix("localhost:").unwrap_or(written);
    let here = port
        .parse()
        .map(|port| SocketAddr::from(([127, 0, 0, 1], port)));
    here.or_else(|_| written.parse()).map_err(|_| {
        "write an address of this machine and a port, such as 127.0.0.1:8484".to_owned()
    })
}

/// Takes an address and answers on it. Where it listens is told by the system and added to `reached`.
pub(super) fn start(
    workspace: &Workspace,
    listen: SocketAddr,
    tls: Option<&TlsFiles>,
    reached: Reached,
    demonstration: Option<Demonstration>,
) -> Result<Running, AppError> {
    run(listen, tls, reached, |reached| {
        web::routes(workspace.clone(), reached, demonstration)
    })
}

/// The same for one laptop that is handed round; there are no staff's pages.
pub(super) fn start_for_one_laptop(
    workspace: &Workspace,
    listen: SocketAddr,
) -> Result<Running, AppError> {
    run(listen, None, Reached::default(), |reached| {
        web::routes_for_one_laptop(workspace.clone(), reached)
    })
}

fn run(
    listen: SocketAddr,
    tls: Option<&TlsFiles>,
    mut reached: Reached,
    routes: impl FnOnce(Reached) -> Result<web::Routes, AppError>,
) -> Result<Running, AppError> {
    for path in tls.iter().flat_map(|tls| [&tls.certificate, &tls.key]) {
        std::fs::File::open(path).map_err(|source| AppError::File {
            what: "cannot read",
            path: path.display().to_string(),
            source,
        })?;
    }
    let runtime = Runtime::new().map_err(failed(listen, "cannot start on"))?;
    let server = runtime
        .block_on(web::Server::bind(listen, tls))
        .map_err(failed(listen, "cannot listen on"))?;
    reached.listens = Some(server.address());
    reached.tls = tls.is_some();
    let routes = routes(reached.clone())?;
    let scheme = if reached.tls { "https" } else { "http" };
    let address = format!("{scheme}://{}", server.address());
    let (stop, told) = oneshot::channel();
    runtime.spawn(web::watch_for_sleep());
    let ended = runtime.spawn(server.run(routes, async {
        // A sender that is gone tells it too.
        let _ = told.await;
    }));
    Ok(Running {
        runtime,
        address,
        reached,
        stop,
        ended,
    })
}

impl Running {
    /// The address, such as `http://127.0.0.1:8484`.
    pub(super) fn address(&self) -> &str {
        &self.address
    }

    /// How it is reached, and where it really listens.
    pub(super) const fn reached(&self) -> &Reached {
        &self.reached
    }

    /// Lets every begun answer end, and ends.
    pub(super) fn stop(self) -> Result<(), AppError> {
        // It may have ended by itself.
        let _ = self.stop.send(());
        let ended = self
            .runtime
            .block_on(self.ended)
            .map_err(std::io::Error::other);
        ended
            .and_then(|ended| ended)
            .map_err(|source| AppError::File {
                what: "cannot go on listening on",
                path: self.address,
                source,
            })
    }

    /// Answers until the person at the keyboard, or the system, asks the program to end.
    pub(super) fn until_stopped(self) -> Result<(), AppError> {
        self.runtime.block_on(web::asked_to_stop());
        self.stop()
    }
}

fn failed(listen: SocketAddr, what: &'static str) -> impl FnOnce(std::io::Error) -> AppError {
    move |source| AppError::File {
        what,
        path: listen.to_string(),
        source,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn this_machine_can_be_called_by_its_name_or_left_out() {
        for written in ["127.0.0.1:80", "localhost:80", "80"] {
            assert_eq!(address(written).unwrap().to_string(), "127.0.0.1:80");
        }
        assert_eq!(address("[::1]:0").unwrap().to_string(), "[::1]:0");
        assert!(address("harbour").unwrap_err().contains("such as"));
        assert!(address("70000").is_err());
    }
}
