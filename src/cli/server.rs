//! The server as commands start it.

use std::net::SocketAddr;

use tokio::runtime::Runtime;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

use crate::app;
use crate::app::AppError;
use crate::app::Workspace;
use crate::web;

/// A server that answers while the command goes on.
pub(super) struct Running {
    runtime: Runtime,
    address: String,
    desk_path: Option<String>,
    stop: oneshot::Sender<()>,
    ended: JoinHandle<std::io::Result<()>>,
}

/// Takes an address and answers on it.
pub(super) fn start(workspace: &Workspace, listen: SocketAddr) -> Result<Running, AppError> {
    let secret = app::one_time_secret();
    let routes = web::routes(workspace.clone(), web::Door::new(&secret));
    let running = run(unbroken(routes)?, listen)?;
    Ok(Running {
        desk_path: Some(web::Door::path(&secret)),
        ..running
    })
}

/// The same for one laptop that is handed round; there are no staff's pages.
pub(super) fn start_for_one_laptop(
    workspace: &Workspace,
    listen: SocketAddr,
) -> Result<Running, AppError> {
    run(
        unbroken(web::routes_for_one_laptop(workspace.clone()))?,
        listen,
    )
}

fn unbroken(routes: Result<web::Routes, web::TextsError>) -> Result<web::Routes, AppError> {
    routes.map_err(|error| AppError::Unreadable(error.to_string()))
}

fn run(routes: web::Routes, listen: SocketAddr) -> Result<Running, AppError> {
    let runtime = Runtime::new().map_err(failed(listen, "cannot start on"))?;
    let server = runtime
        .block_on(web::Server::bind(listen))
        .map_err(failed(listen, "cannot listen on"))?;
    let address = format!("http://{}", server.address());
    let (stop, told) = oneshot::channel();
    let ended = runtime.spawn(server.run(routes, async {
        // A sender that is gone tells it too.
        let _ = told.await;
    }));
    Ok(Running {
        runtime,
        address,
        desk_path: None,
        stop,
        ended,
    })
}

impl Running {
    /// The address, such as `http://127.0.0.1:8484`.
    pub(super) fn address(&self) -> &str {
        &self.address
    }

    /// The one-time path of the staff's pages, where there are any.
    pub(super) fn desk_path(&self) -> Option<&str> {
        self.desk_path.as_deref()
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
