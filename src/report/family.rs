//! What a family is given when their child leaves a study. It names nobody.

use askama::Template;

use super::page::style_alone;

/// The style of the page, in it once.
const STYLE: &str = include_str!("../../templates/report/family.css");

/// What was done with the recordings of a child.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FamilyReceipt {
    day: String,
    /// Recordings that were erased; `None` where they are kept and in no result.
    erased: Option<usize>,
    copies: Vec<(String, String)>,
    log: String,
}

impl FamilyReceipt {
    /// The recordings are kept and used no more. `at_ms`: when, since 1970 in UTC; `log`: where the
    /// study's log stood just after.
    pub fn stopped(at_ms: i64, log: &str) -> Self {
        Self {
            day: day(at_ms),
            erased: None,
            copies: Vec::new(),
            log: log.to_owned(),
        }
    }

    /// The recordings are gone. `copies`: kind and time of those that are out of reach.
    pub fn erased(at_ms: i64, recordings: usize, copies: Vec<(String, String)>, log: &str) -> Self {
        Self {
            day: day(at_ms),
            erased: Some(recordings),
            copies,
            log: log.to_owned(),
        }
    }

    /// The kind of a copy as a family would say it, with its day.
    fn said(kind: &str, made: &str) -> String {
        let what = match kind {
            "backup" => "a safety copy of the study",
            _ => "tables of results, without any sound",
        };
        format!("{what}, made on {}", made.get(..10).unwrap_or(made))
    }
}

/// The receipt as one page to print: its own style inside, nothing from elsewhere.
///
/// # Errors
/// [`askama::Error`] if the template fails.
pub fn family_receipt(receipt: &FamilyReceipt) -> askama::Result<String> {
    Page {
        receipt,
        style: STYLE,
    }
    .render()
}

/// The policy under which the page asks to be shown: its own style, nothing else.
pub fn family_policy() -> String {
    style_alone(STYLE)
}

/// The day in UTC of a moment since 1970.
pub(super) fn day(at_ms: i64) -> String {
    jiff::Timestamp::from_millisecond(at_ms)
        .map(|moment| jiff::tz::Offset::UTC.to_datetime(moment).date().to_string())
        .unwrap_or_default()
}

#[derive(Template)]
#[template(path = "report/family.html")]
struct Page<'a> {
    receipt: &'a FamilyReceipt,
    style: &'static str,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_receipt_says_what_was_done_and_names_the_copies() {
        let copies = vec![("backup".to_owned(), "2025-06-01T08:00:00Z".to_owned())];
        let erased = FamilyReceipt::erased(1_748_851_200_000, 24, copies, "9-ABCD");
        let page = family_receipt(&erased).unwrap();
        for said in [
            "2025-06-02",
            "24 recordings",
            "a safety copy of the study, made on 2025-06-01",
            "9-ABCD",
        ] {
            assert!(page.contains(said), "{said} is not in {page}");
        }
        let stopped = family_receipt(&FamilyReceipt::stopped(0, "9-ABCD")).unwrap();
        assert!(stopped.contains("kept"), "{stopped}");
        assert!(!stopped.contains("erased"), "{stopped}");
    }
}
