//! A slip of paper for one listener: an address, its code for a camera, and nothing of the study.

use crate::web::qr;
use crate::web::texts::SlipTexts;
use crate::web::texts::fill;

/// One slip.
pub(super) struct Slip {
    /// The number of the link, so that the desk can tell who has which.
    pub(super) name: String,
    /// The address.
    pub(super) address: String,
    /// The address as a code; empty where it is too long for one.
    pub(super) picture: String,
    /// The sentence until when it opens; empty: as long as there is anything to hear.
    pub(super) until: String,
    /// Whether several listeners may use it.
    pub(super) is_open: bool,
}

impl Slip {
    pub(super) fn new(name: String, address: String, until: &str, words: &SlipTexts) -> Self {
        Self {
            picture: qr::svg(&address, &words.code).unwrap_or_default(),
            is_open: name.starts_with("open"),
            name,
            address,
            until: if until.is_empty() {
                String::new()
            } else {
                fill(&words.until, &[("day", &until)])
            },
        }
    }
}
