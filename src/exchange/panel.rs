//! The panel after screening, and the known answers of check items.

use std::collections::BTreeMap;
use std::collections::HashMap;
use std::io::Read;

use super::sheet::Sheet;
use super::sheet::number_mend;
use super::tokens::truth_of;
use crate::study::Panel;
use crate::study::PanelRow;
use crate::study::Problems;

/// Reads who was kept: `listener` (or `rater`), `kept`, `weight`; an empty weight is no weight.
///
/// # Errors
/// All that is wrong, each with its line, its column and how to mend it.
pub fn read_panel(name: &str, source: impl Read) -> Result<Panel, Problems> {
    let mut sheet = Sheet::open(name, source)?;
    let listener = sheet.required(&["listener", "rater"]);
    let kept = sheet.required(&["kept"]);
    let weight = sheet.column(&["weight"]);
    let mut panel = Panel::default();
    let mut lines = HashMap::new();
    sheet.read_rows(|row, notes| {
        let Some(listener) = row.text(Some(listener)) else {
            notes.say(
                "listener",
                "is empty",
                "name the listener, or delete the row",
            );
            return;
        };
        if let Some(first) = lines.insert(listener.to_owned(), row.line) {
            notes.say(
                "listener",
                format!("`{listener}` was already in line {first}"),
                "keep one row a listener",
            );
            return;
        }
        let said = row.text(Some(kept));
        if said.is_none() {
            notes.say("kept", "is empty", "write true or false");
        }
        let kept = truth_of(said, "kept", notes);
        let weight = row.text(weight).and_then(|raw| {
            let weight = raw
                .parse::<f64>()
                .ok()
                .filter(|w| w.is_finite() && *w >= 0.0);
            if weight.is_none() {
                notes.say(
                    "weight",
                    format!("`{raw}` is no weight from 0 up"),
                    number_mend(raw),
                );
            }
            weight
        });
        panel.rows.push(PanelRow {
            listener: listener.to_owned(),
            kept: kept.unwrap_or(true),
            weight,
        });
    })?;
    Ok(panel)
}

/// Reads the known answers of check items: `item` (or `token`), `answer`.
///
/// # Errors
/// All that is wrong, each with its line, its column and how to mend it.
pub fn read_answer_key(
    name: &str,
    source: impl Read,
) -> Result<BTreeMap<String, String>, Problems> {
    let mut sheet = Sheet::open(name, source)?;
    let item = sheet.required(&["item", "token"]);
    let answer = sheet.required(&["answer"]);
    let mut answers = BTreeMap::new();
    sheet.read_rows(|row, notes| {
        let (Some(item), Some(answer)) = (row.text(Some(item)), row.text(Some(answer))) else {
            notes.say_row(
                "lacks the item or its answer",
                "give both, or delete the row",
            );
            return;
        };
        let before = answers.insert(item.to_owned(), answer.to_owned());
        if before.is_some_and(|before| before != answer) {
            notes.say(
                "answer",
                format!("`{item}` has two answers"),
                "keep the right one",
            );
        }
    })?;
    Ok(answers)
}
