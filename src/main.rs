//! Arguments in, exit code out.

use std::io;
use std::process::ExitCode;

use tracing_subscriber::EnvFilter;

fn main() -> ExitCode {
    start_the_log();
    fairhearing::cli::run(std::env::args_os())
}

/// Warnings and errors go to standard error; `FAIRHEARING_LOG=info` tells more.
fn start_the_log() {
    let filter = EnvFilter::try_from_env("FAIRHEARING_LOG")
        .unwrap_or_else(|_| EnvFilter::new("fairhearing=warn"));
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(io::stderr)
        .init();
}
