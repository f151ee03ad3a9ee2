//! Why a listener's act could not be done. None of the sentences tells what is blinded.

use crate::app::AppError;
use crate::store::StoreError;

/// Why a listener's act could not be done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ListeningError {
    /// No link of this study holds that secret.
    #[error("this link is not known")]
    UnknownLink,
    /// The link was taken back.
    #[error("this link was taken back")]
    Revoked,
    /// The link has run out.
    #[error("this link has run out")]
    Expired,
    /// As many listeners came by the open link as it lets in.
    #[error("this link has let in as many listeners as it may")]
    UsedUp,
    /// No listener has that short code on this machine.
    #[error("this code is not known here")]
    UnknownCode,
    /// The listener withdrew.
    #[error("this listener withdrew")]
    Withdrawn,
    /// The browser is not known: its cookie is gone or was never given.
    #[error("this browser is not known here")]
    UnknownBrowser,
    /// The round takes no more judgements.
    #[error("this round is closed")]
    Closed,
    /// The round is paused; it goes on later.
    #[error("this round is paused")]
    Paused,
    /// The step is not the one that comes now.
    #[error("this step does not come now")]
    OutOfOrder,
    /// No presentation of this listener has that name now.
    #[error("there is nothing to hear under this address")]
    NotHere,
    /// This revision was recorded before with another answer; the first one was kept.
    #[error("another answer was recorded before; it was kept")]
    Conflict,
    /// The answer can be changed no more.
    #[error("this answer can no longer be changed; it was kept as it is")]
    Settled,
    /// A question has no answer, or none of its own choices.
    #[error("each question wants one of its answers; `I would rather not say` is one")]
    Unanswered,
    /// More replays than the plan allows.
    #[error("more replays were counted than this round allows")]
    TooManyReplays,
    /// The acts beneath failed.
    #[error(transparent)]
    App(#[from] AppError),
}

impl From<StoreError> for ListeningError {
    fn from(error: StoreError) -> Self {
        Self::App(error.into())
    }
}
