//! A list of files with their SHA-256, in the form that `sha256sum --check` reads.

use crate::study::Problem;
use crate::study::Problems;

/// Digits of a digest.
const DIGITS: usize = 64;

/// The list: one line a file, its digest and its path.
pub fn write_hashes(rows: &[(String, String)]) -> String {
    rows.iter().fold(String::new(), |list, (path, sha256)| {
        list + sha256 + "  " + path + "\n"
    })
}

/// Reads such a list: path and digest of each file.
///
/// # Errors
/// Every line that is none.
pub fn read_hashes(name: &str, list: &[u8]) -> Result<Vec<(String, String)>, Problems> {
    let mut problems = Problems::default();
    let mut rows = Vec::new();
    for (number, line) in (1..).zip(String::from_utf8_lossy(list).lines()) {
        let read = line
            .split_once("  ")
            .filter(|(sha256, path)| sha256.len() == DIGITS && !path.is_empty());
        if let Some((sha256, path)) = read {
            rows.push((path.to_owned(), sha256.to_owned()));
        } else {
            let problem = Problem::new(
                name,
                "is no line of this list",
                "take the list as it was written",
            );
            problems.push(problem.at_line(number));
        }
    }
    problems.or(rows)
}
