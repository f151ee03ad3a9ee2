//! What a command prints.

use std::io::ErrorKind;
use std::io::Write;

use crate::app::AppError;

/// Prints `finding` as one JSON object, or `text` of it to be read; a closed pipe is no error.
pub(super) fn print<T: serde::Serialize>(
    finding: &T,
    json: bool,
    text: impl FnOnce(&T) -> String,
) -> Result<(), AppError> {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let written = if json {
        serde_json::to_writer(&mut out, finding)
            .map_err(std::io::Error::from)
            .and_then(|()| out.write_all(b"\n"))
    } else {
        out.write_all(text(finding).as_bytes())
    };
    match written.and_then(|()| out.flush()) {
        Err(source) if source.kind() != ErrorKind::BrokenPipe => Err(AppError::File {
            what: "cannot write to",
            path: "standard output".to_owned(),
            source,
        }),
        _ => Ok(()),
    }
}

/// Prints a line of talk to somebody who looks on; a closed pipe is no error.
pub(super) fn say(text: &str) {
    // Nobody may be reading.
    let _ = writeln!(std::io::stdout(), "{text}");
}
