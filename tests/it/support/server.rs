//! The real program, serving a study in a process of its own.

use std::io::BufRead;
use std::io::BufReader;
use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;

use fairhearing::app::Workspace;

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

    /// Serves a study where nobody has an account yet, on a free port; gives the address that makes the first one.
    #[track_caller]
    pub(crate) fn start_new(folder: &Path) -> (Self, String) {
        let (server, mut said) = Self::begun(&["--listen", "127.0.0.1:0"], folder);
        let first = said
            .find(|line| line.contains("/desk/first/"))
            .expect("somebody must make the first account");
        let (_, first) = first.split_once(": ").unwrap();
        (server, first.to_owned())
    }

    /// Serves one laptop that is handed round; gives the codes too, in the order of the links.
    #[track_caller]
    pub(crate) fn start_for_one_laptop(folder: &Path) -> (Self, Vec<String>) {
        Self::start_for_one_laptop_on(folder, "127.0.0.1:0")
    }

    /// The same on this address.
    #[track_caller]
    pub(crate) fn start_for_one_laptop_on(folder: &Path, listen: &str) -> (Self, Vec<String>) {
        let (server, mut said) = Self::begun(&["--one-laptop", "--listen", listen], folder);
        let codes = fairhearing::app::listening::codes(&Workspace::open(folder).unwrap());
        let codes: Vec<_> = codes.unwrap().into_iter().map(|one| one.code).collect();
        for code in &codes {
            let line = said.find(|line| line.contains(code.as_str()));
            assert!(
                line.is_some(),
                "the codes are printed in the order of the links"
            );
        }
        (server, codes)
    }

    /// Serves a study and gives what is said after the address.
    #[track_caller]
    fn begun(how: &[&str], folder: &Path) -> (Self, impl Iterator<Item = String> + use<>) {
        let mut process = Command::new(env!("CARGO_BIN_EXE_fairhearing"))
            .arg("serve")
            .args(how)
            .arg("--workspace")
            .arg(folder)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let said = BufReader::new(process.stdout.take().unwrap()).lines();
        let mut said = said.map_while(Result::ok);
        let first = said.next().expect("the first line tells the address");
        let address = first.trim_start_matches("listening on ").to_owned();
        (Self { process, address }, said)
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
