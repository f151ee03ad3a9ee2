//! The true state of the sample recordings, for the simulated panel and for tests.

use std::collections::HashMap;
use std::io::Read;

use super::sheet::Sheet;
use crate::study::Problems;

/// How likely an ordinary listener calls the judged sound of each file correct, from 0 to 1: columns
/// `file`, `p_correct_expected`.
///
/// # Errors
/// All that is wrong, each with its line and how to mend it.
pub fn read_truth(name: &str, source: impl Read) -> Result<HashMap<String, f64>, Problems> {
    let mut sheet = Sheet::open(name, source)?;
    let file = sheet.required(&["file"]);
    let likely = sheet.required(&["p_correct_expected"]);
    let mut truth = HashMap::new();
    sheet.read_rows(|row, notes| {
        let value = row
            .text(Some(likely))
            .and_then(|raw| raw.parse::<f64>().ok());
        match (row.text(Some(file)), value) {
            (Some(file), Some(likely)) if (0.0..=1.0).contains(&likely) => {
                truth.insert(file.to_owned(), likely);
            }
            _ => notes.say(
                "p_correct_expected",
                "is no number from 0 to 1",
                "write one, such as 0.8",
            ),
        }
    })?;
    Ok(truth)
}
