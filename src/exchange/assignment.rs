//! The assignment that was really drawn, as JSON.

use std::io::Read;

use crate::study::Assignment;
use crate::study::Problem;
use crate::study::Problems;

/// Reads how cases were assigned: see [`Assignment`] for the forms.
///
/// # Errors
/// The file cannot be read, is no JSON, or has none of the forms; with its line and how to mend it.
pub fn read_assignment(name: &str, mut source: impl Read) -> Result<Assignment, Problems> {
    let mut text = String::new();
    source.read_to_string(&mut text).map_err(|error| {
        Problem::new(name, format!("cannot be read ({error})"), "check the file")
    })?;
    serde_json::from_str(text.trim_start_matches('\u{feff}')).map_err(|error| {
        let problem = Problem::new(
            name,
            format!("is no assignment ({error})"),
            "write {\"design\": \"cohorts\"}, or start_points, phase_changes, alternating or word_sets with what was possible",
        );
        match u64::try_from(error.line()) {
            Ok(line) if line > 0 => problem.at_line(line).into(),
            _ => Problems::from(problem),
        }
    })
}

/// Writes what was drawn, as `outcome --assignment` and `series --assignment` read it.
pub fn write_assignment(assignment: &Assignment) -> Vec<u8> {
    // Names and numbers in maps of strings: there is nothing that can fail.
    let mut text = serde_json::to_vec_pretty(assignment).unwrap_or_default();
    text.push(b'\n');
    text
}
