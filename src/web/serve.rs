//! The server: a bound address that runs until it is told to stop.

use std::future::Future;
use std::io;
use std::net::SocketAddr;

use axum::Router;
use tokio::net::TcpListener;

/// A bound address. Binding and running are two steps, so that the address can be told first.
pub struct Server {
    listener: TcpListener,
    address: SocketAddr,
}

impl Server {
    /// Takes an address; port 0 takes a free one.
    ///
    /// # Errors
    /// What the operating system says: the port is taken, the address is not this machine's.
    pub async fn bind(wanted: SocketAddr) -> io::Result<Self> {
        let listener = TcpListener::bind(wanted).await?;
        let address = listener.local_addr()?;
        Ok(Self { listener, address })
    }

    /// The address that was really taken.
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// Answers until `stop` is done, then lets every begun answer end.
    ///
    /// # Errors
    /// What the operating system says of the socket.
    pub async fn run(
        self,
        routes: Router,
        stop: impl Future<Output = ()> + Send + 'static,
    ) -> io::Result<()> {
        // The staff's pages ask who is at the other end.
        let service = routes.into_make_service_with_connect_info::<SocketAddr>();
        axum::serve(self.listener, service)
            .with_graceful_shutdown(stop)
            .await
    }
}

/// Done when the person at the keyboard, or the system, asks the program to end.
pub async fn asked_to_stop() {
    let keyboard = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    let system = async {
        match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(mut told) => {
                told.recv().await;
            }
            Err(_) => std::future::pending().await,
        }
    };
    #[cfg(not(unix))]
    let system = std::future::pending::<()>();
    tokio::select! {
        () = keyboard => {}
        () = system => {}
    }
}
