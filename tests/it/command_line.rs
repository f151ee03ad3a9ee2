//! Runs the built program as a person does: arguments, standard input, what it prints, how it ends.

use std::io::Write;
use std::process::Command;
use std::process::Output;
use std::process::Stdio;

use serde_json::Value;

/// The one JSON object that a command printed.
#[track_caller]
pub(crate) fn json(out: &Output) -> Value {
    assert!(out.status.success(), "{}", said(out));
    serde_json::from_slice(&out.stdout).unwrap()
}

/// What a command said on standard error.
pub(crate) fn said(out: &Output) -> String {
    String::from_utf8_lossy(&out.stderr).into_owned()
}

/// Runs a command with `input` on its standard input.
pub(crate) fn run(command: &str, arguments: &[&str], input: &str) -> Output {
    run_threads(command, arguments, input, "2")
}

/// The same on a number of threads.
pub(crate) fn run_threads(command: &str, arguments: &[&str], input: &str, threads: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_fairhearing"))
        .arg(command)
        .args(arguments)
        .env("RAYON_NUM_THREADS", threads)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let input = input.to_owned();
    // A command that refuses its arguments may never read what it is sent.
    let writing = std::thread::spawn(move || stdin.write_all(input.as_bytes()));
    let out = child.wait_with_output().unwrap();
    let _ = writing.join().unwrap();
    out
}
