//! The chained log: each event's digest covers the event and the digest before it.

use std::fmt;

use super::Canonical;
use super::Digest;
use super::ReceiptHead;
use super::canonical::write_string;

/// Something that happened, as the log keeps it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// Its place in the log, counted from 1 without gaps.
    pub seq: u64,
    /// When, in milliseconds since 1970-01-01 UTC.
    pub at_utc_ms: i64,
    /// What kind of event: `judgement`, `close`, ….
    pub kind: String,
    /// What it says. Nothing that identifies: commitments only.
    pub body: Canonical,
}

/// The digest of an event that follows `previous` ([`Digest::GENESIS`] for the first).
///
/// SHA-256 over six lines, the last without a line end, so that anybody can redo it by hand:
///
/// ```text
/// fairhearing event 1
/// previous digest
/// seq
/// at_utc_ms
/// kind, as a JSON string
/// body
/// ```
///
/// None of the first five can hold a line end, so no two events give the same lines.
pub fn link(previous: &Digest, event: &Event) -> Digest {
    let Event {
        seq,
        at_utc_ms,
        kind,
        body,
    } = event;
    let mut lines = format!("fairhearing event 1\n{previous}\n{seq}\n{at_utc_ms}\n");
    write_string(&mut lines, kind);
    Digest::of_all(&[lines.as_bytes(), b"\n", body.as_str().as_bytes()])
}

/// How far a log has come: how many events, and the digest of the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// Events so far.
    pub count: u64,
    /// The digest of the last one, or [`Digest::GENESIS`].
    pub digest: Digest,
}

impl Head {
    /// The head of a log without events.
    pub const EMPTY: Self = Self {
        count: 0,
        digest: Digest::GENESIS,
    };

    /// The head after one more event, which must carry `seq` = `count` + 1.
    #[must_use]
    pub fn after(&self, event: &Event) -> Self {
        Self {
            count: event.seq,
            digest: link(&self.digest, event),
        }
    }

    /// The short form for receipts and seal sheets.
    pub fn receipt(&self) -> ReceiptHead {
        ReceiptHead::of(self)
    }
}

impl fmt::Display for Head {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} events, SHA-256 {}", self.count, self.digest)
    }
}

/// How a log differs from what was written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ChainBreak {
    /// Events are missing, doubled or out of order.
    #[error(
        "the log has event {found} where event {expected} belongs: one was removed, added or moved"
    )]
    Order {
        /// The number that belongs here.
        expected: u64,
        /// The number that stands here.
        found: u64,
    },
    /// An event or its digest was changed, or one before it was exchanged.
    #[error("event {seq} of the log is not as it was written: its digest does not match")]
    Changed {
        /// The first event that does not match.
        seq: u64,
    },
    /// The log ends before an event that a receipt vouches for.
    #[error(
        "the log has {count} events, but a receipt was given at event {receipt}: the end is missing"
    )]
    Shortened {
        /// Events in the log.
        count: u64,
        /// Events when the receipt was given.
        receipt: u64,
    },
    /// The log was another one when the receipt was given.
    #[error("event {receipt} of the log is not the one for which the receipt was given")]
    OtherThanReceipt {
        /// Events when the receipt was given.
        receipt: u64,
    },
}

/// A log whose every link was found whole.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chain {
    digests: Vec<Digest>,
}

impl Chain {
    /// How far it has come.
    pub fn head(&self) -> Head {
        self.digests.last().map_or(Head::EMPTY, |digest| Head {
            count: self.digests.len() as u64,
            digest: *digest,
        })
    }

    /// The head as it was after `count` events.
    pub fn head_at(&self, count: u64) -> Option<Head> {
        let Some(before) = count.checked_sub(1) else {
            return Some(Head::EMPTY);
        };
        let digest = *self.digests.get(usize::try_from(before).ok()?)?;
        Some(Head { count, digest })
    }

    /// Whether this log goes on from the one for which a receipt was given.
    ///
    /// # Errors
    /// [`ChainBreak::Shortened`] where it ends before, [`ChainBreak::OtherThanReceipt`] where it
    /// was rewritten.
    pub fn holds(&self, receipt: &ReceiptHead) -> Result<(), ChainBreak> {
        let then = self.head_at(receipt.count()).ok_or(ChainBreak::Shortened {
            count: self.head().count,
            receipt: receipt.count(),
        })?;
        if receipt.matches(&then) {
            Ok(())
        } else {
            Err(ChainBreak::OtherThanReceipt {
                receipt: receipt.count(),
            })
        }
    }
}

/// Follows a log from its first event. `rows`: each event as stored, in stored order, with its
/// digest as stored (as text, so that a damaged digest is a finding too).
///
/// An end that is missing altogether shows only against a receipt: [`Chain::holds`].
///
/// # Errors
/// The first [`ChainBreak`] met.
pub fn verify_chain(rows: impl IntoIterator<Item = (Event, String)>) -> Result<Chain, ChainBreak> {
    let mut digests = Vec::new();
    let mut head = Head::EMPTY;
    for (event, stored) in rows {
        let expected = head.count + 1;
        if event.seq != expected {
            return Err(ChainBreak::Order {
                expected,
                found: event.seq,
            });
        }
        head = head.after(&event);
        if head.digest.to_string() != stored {
            return Err(ChainBreak::Changed { seq: event.seq });
        }
        digests.push(head.digest);
    }
    Ok(Chain { digests })
}
