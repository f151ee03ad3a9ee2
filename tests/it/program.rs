//! The program as people run it: arguments and standard input in; what it printed, and how it ended, out.

use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::process::Stdio;

use serde_json::Value;

/// What a run left behind.
pub(crate) struct Ran {
    pub(crate) status: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Ran {
    /// The one JSON object that it printed, after a run that went well.
    #[track_caller]
    pub(crate) fn json(&self) -> Value {
        assert_eq!(self.status, 0, "{}", self.err);
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}: {}", self.out))
    }

    /// What it complained of, after a run that was refused as the asker's fault.
    #[track_caller]
    pub(crate) fn refusal(&self) -> &str {
        assert_eq!(self.status, 2, "{}{}", self.out, self.err);
        assert!(self.out.is_empty(), "{}", self.out);
        &self.err
    }
}

/// Runs one command.
pub(crate) fn run(arguments: &[&str], standard_input: &str) -> Ran {
    run_on_threads("2", arguments, standard_input)
}

/// Runs one command on a number of threads.
pub(crate) fn run_on_threads(threads: &str, arguments: &[&str], standard_input: &str) -> Ran {
    let mut child = Command::new(env!("CARGO_BIN_EXE_fairhearing"))
        .args(arguments)
        .env("RAYON_NUM_THREADS", threads)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut stdin = child.stdin.take().expect("it has a standard input");
    let text = standard_input.to_owned();
    // A thread of its own, for the program may answer before it has read all; a closed pipe is no error.
    let writing = std::thread::spawn(move || {
        let _ = stdin.write_all(text.as_bytes());
    });
    let output = child.wait_with_output().expect("the program ends");
    writing.join().expect("the writer ends");
    Ran {
        status: output.status.code().unwrap_or(-1),
        out: String::from_utf8(output.stdout).expect("it prints UTF-8"),
        err: String::from_utf8(output.stderr).expect("it complains in UTF-8"),
    }
}

/// A file of the reference data, by name.
pub(crate) fn reference_file(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/data");
    folder.join(name).display().to_string()
}

/// A file with this text in a folder of its own, which goes when the value goes.
pub(crate) struct Written {
    folder: tempfile::TempDir,
}

impl Written {
    pub(crate) fn new(files: &[(&str, &str)]) -> Self {
        let folder = tempfile::tempdir().expect("a folder for a test");
        for (name, text) in files {
            std::fs::write(folder.path().join(name), text).expect("a file for a test");
        }
        Self { folder }
    }

    pub(crate) fn path(&self, name: &str) -> String {
        self.folder.path().join(name).display().to_string()
    }
}
