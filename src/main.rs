//! Arguments in, exit code out.

fn main() -> std::process::ExitCode {
    fairhearing::cli::run(std::env::args_os())
}
