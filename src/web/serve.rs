//! The server: a bound address that runs until it is told to stop, with TLS of its own or without.

use std::future::Future;
use std::io;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

use axum::Router;
use axum_server::Handle;
use axum_server::tls_rustls::RustlsConfig;
use tokio::net::TcpListener;

/// How long a begun answer may take once the server is told to stop, where it ends TLS itself.
const LAST_ANSWERS: Duration = Duration::from_secs(10);

/// The files of a certificate, in PEM: the chain, and its key.
#[derive(Debug, Clone)]
pub struct TlsFiles {
    /// The certificate, with those that vouch for it behind.
    pub certificate: PathBuf,
    /// Its key.
    pub key: PathBuf,
}

/// A bound address. Binding and running are two steps, so that the address can be told first.
pub struct Server {
    listener: TcpListener,
    address: SocketAddr,
    tls: Option<RustlsConfig>,
}

impl Server {
    /// Takes an address; port 0 takes a free one. With `tls` the server speaks HTTPS alone.
    ///
    /// # Errors
    /// What the operating system says: the port is taken, the address is not this machine's, a file cannot be read; or
    /// that the files hold no certificate with its key.
    pub async fn bind(wanted: SocketAddr, tls: Option<&TlsFiles>) -> io::Result<Self> {
        let tls = match tls {
            Some(files) => Some(RustlsConfig::from_pem_file(&files.certificate, &files.key).await?),
            None => None,
        };
        let listener = TcpListener::bind(wanted).await?;
        let address = listener.local_addr()?;
        Ok(Self {
            listener,
            address,
            tls,
        })
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
        // Who is at the other end decides what may be reached.
        let service = routes.into_make_service_with_connect_info::<SocketAddr>();
        let Some(tls) = self.tls else {
            return axum::serve(self.listener, service)
                .with_graceful_shutdown(stop)
                .await;
        };
        let handle = Handle::<SocketAddr>::new();
        tokio::spawn({
            let handle = handle.clone();
            async move {
                stop.await;
                handle.graceful_shutdown(Some(LAST_ANSWERS));
            }
        });
        axum_server::from_tcp_rustls(self.listener.into_std()?, tls)?
            .handle(handle)
            .serve(service)
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
