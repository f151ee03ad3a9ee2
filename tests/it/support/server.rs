//! The real program, serving a study in a process of its own.

use std::io::BufRead;
use std::io::BufReader;
use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;

/// `fairhearing serve` on a study's folder; it is killed when this is dropped.
pub(crate) struct Server {
    process: Child,
    /// Where it listens, such as `http://127.0.0.1:34567`.
    pub(crate) address: String,
}

impl Server {
    /// Serves on a free port.
    #[track_caller]
    pub(crate) fn start(folder: &Path) -> Self {
        Self::start_on(folder, "127.0.0.1:0")
    }

    /// Serves on this address.
    #[track_caller]
    pub(crate) fn start_on(folder: &Path, listen: &str) -> Self {
        let mut process = Command::new(env!("CARGO_BIN_EXE_fairhearing"))
            .args(["serve", "--listen", listen, "--workspace"])
            .arg(folder)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut first = String::new();
        let said = process.stdout.take().unwrap();
        BufReader::new(said).read_line(&mut first).unwrap();
        let address = first
            .trim()
            .strip_prefix("listening on ")
            .expect("the first line tells the address")
            .to_owned();
        Self { process, address }
    }

    /// The address without `http://`.
    pub(crate) fn host(&self) -> &str {
        self.address.trim_start_matches("http://")
    }

    /// Kills the process as a power cut would: no warning, no goodbye (SIGKILL).
    pub(crate) fn kill(&mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
