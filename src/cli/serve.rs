//! `fairhearing serve`: the pages, until it is told to stop.

use std::io::IsTerminal as _;
use std::io::Write as _;
use std::net::IpAddr;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::Command;
use std::process::Stdio;

use clap::Args;

use super::server;
use super::server::Running;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::accounts;
use crate::app::listening;
use crate::web::Openness;
use crate::web::Reached;
use crate::web::TlsFiles;

/// Serve the pages for listeners and staff. The page `Reach` of the desk tells how other devices come to them.
#[derive(Args)]
pub(super) struct Serve {
    /// The study's folder.
    #[arg(long, value_name = "DIR", default_value = ".")]
    workspace: PathBuf,
    /// Where to listen; port 0 takes a free one. Only this machine can reach the default; 0.0.0.0 listens to all.
    #[arg(long, value_name = "ADDR:PORT", default_value = "127.0.0.1:8484", value_parser = server::address)]
    listen: SocketAddr,
    /// Serve one laptop that is handed round: each listener starts by a short code, the next one sees
    /// nothing of the last, and there are no staff's pages. No network is needed.
    #[arg(long, conflicts_with_all = ["public_url", "tls_cert", "trusted_proxy", "desk_from_outside"])]
    one_laptop: bool,
    /// The address that people are given, such as `https://rating.example`.
    #[arg(long, value_name = "URL")]
    public_url: Option<String>,
    /// A certificate in PEM, with those that vouch for it behind: the server then speaks HTTPS alone.
    #[arg(long, value_name = "PEM", requires = "tls_key")]
    tls_cert: Option<PathBuf>,
    /// The certificate's key in PEM.
    #[arg(long, value_name = "PEM", requires = "tls_cert")]
    tls_key: Option<PathBuf>,
    /// A proxy in front whose word counts on who is at the other end; may be given several times. It must set
    /// X-Forwarded-For and X-Forwarded-Proto itself.
    #[arg(long, value_name = "ADDR")]
    trusted_proxy: Vec<IpAddr>,
    /// Let staff reach the desk from beyond this machine too; over HTTPS alone.
    #[arg(long)]
    desk_from_outside: bool,
    /// Print the address of the first account without opening it in a browser.
    #[arg(long)]
    no_open: bool,
}

impl Serve {
    /// Serves until asked to stop.
    pub(super) fn run(self) -> Result<(), AppError> {
        let reached = self.reached()?;
        let workspace = Workspace::open(&self.workspace)?;
        if self.one_laptop {
            return serve_one_laptop(&workspace, self.listen);
        }
        let tls = self
            .tls_cert
            .zip(self.tls_key)
            .map(|(certificate, key)| TlsFiles { certificate, key });
        let running = server::start(&workspace, self.listen, tls.as_ref(), reached, None)?;
        let first_account = accounts::offer_first_link(&workspace, Now::read())?;
        // The first line is for scripts.
        say(&format!("listening on {}", running.address()));
        warn(running.reached());
        let desk = running.reached().address_for_staff();
        match first_account {
            Some(secret) => {
                let first = format!("{desk}/desk/first/{secret}");
                say(&format!("make the first account, once: {first}"));
                if !self.no_open && std::io::stdout().is_terminal() {
                    open_in_browser(&first);
                }
            }
            None => say(&format!("the desk: {desk}/desk")),
        }
        Running::until_stopped(running)
    }

    /// How the server is reached, as far as the options tell.
    fn reached(&self) -> Result<Reached, AppError> {
        let public_url = self
            .public_url
            .as_deref()
            .map(|url| url.trim_end_matches('/'));
        let is_address = |url: &&str| {
            ["http://", "https://"].iter().any(|scheme| {
                url.strip_prefix(scheme)
                    .is_some_and(|host| !host.is_empty())
            })
        };
        if let Some(url) = public_url.filter(|url| !is_address(url)) {
            return Err(AppError::refused(
                format!("{url} is no address of a page"),
                "write --public-url with https:// or http:// and the name that people use",
            ));
        }
        Ok(Reached {
            public_url: public_url.map(str::to_owned),
            trusted_proxies: self.trusted_proxy.clone(),
            desk_from_outside: self.desk_from_outside,
            ..Reached::default()
        })
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
    say(text.trim_end());
    running.until_stopped()
}

/// Warns on standard error of what would fail later, or is not safe.
fn warn(reached: &Reached) {
    if reached.openness() == Openness::Clear {
        eprintln!(
            "WARNING: other devices reach this server in the clear. Whoever is on the way can read links, hear the \
             children's voices and judge in a listener's name. Use --tls-cert and --tls-key, or a proxy with TLS and \
             --trusted-proxy."
        );
    }
    let one_outer = reached
        .listens
        .is_some_and(|at| !at.ip().is_loopback() && !at.ip().is_unspecified());
    if one_outer && !reached.desk_from_outside {
        eprintln!(
            "WARNING: the desk cannot be reached: it answers on this machine alone, and the server does not listen \
             there. Listen on 0.0.0.0, or let staff come from outside with --desk-from-outside and TLS."
        );
    }
    if reached.openness() != Openness::ThisMachine {
        eprintln!("While this machine sleeps or is switched off, listeners' links fail.");
    }
}

/// Opens an address in the person's browser, if the system has a way to; it stands on the terminal in any case.
fn open_in_browser(address: &str) {
    let opener: &[&str] = if cfg!(target_os = "macos") {
        &["open"]
    } else if cfg!(windows) {
        &["rundll32", "url.dll,FileProtocolHandler"]
    } else {
        &["xdg-open"]
    };
    if let Some((program, before)) = opener.split_first() {
        let _ = Command::new(program)
            .args(before)
            .arg(address)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
    }
}

/// Nobody may be reading; that is no reason to stop.
fn say(line: &str) {
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "{line}");
    let _ = out.flush();
}
