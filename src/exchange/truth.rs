//! The true state of the sample recordings, for the simulated panel and for tests.

use std::collections::HashMap;
use std::io::Read;

use super::sheet::Sheet;
use crate::study::Problems;

/// How clear the judged sound of each file is, from 0 (distorted) to 1 (clear): columns `file`,
/// `quality`.
///
/// # Errors
/// All that is wrong, each with its line and how to mend it.
pub fn read_truth(name: &str, source: impl Read) -> Result<HashMap<String, f64>, Problems> {
    let mut sheet = Sheet::open(name, source)?;
    let file = sheet.required(&["file"]);
    let quality = sheet.required(&["quality"]);
    let mut truth = HashMap::new();
    sheet.read_rows(|row, notes| {
        let value = row
            .text(Some(quality))
            .and_then(|raw| raw.parse::<f64>().ok());
        match (row.text(Some(file)), value) {
            (Some(file), Some(quality)) if (0.0..=1.0).contains(&quality) => {
                truth.insert(file.to_owned(), quality);
            }
            _ => notes.say(
                "quality",
                "is no number from 0 to 1",
                "write one, such as 0.8",
            ),
        }
    })?;
    Ok(truth)
}
