//! How consent stands, child by child: for the desk alone.

use super::AppError;
use super::Child;
use super::Now;
use super::Workspace;
use super::consent;
use crate::study::Assent;

/// What stands in the way of keeping or playing a child's recordings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ConsentLack {
    /// No consent is noted.
    NotNoted,
    /// The child herself does not want it.
    Refused,
    /// Nobody may hear her: the consent was taken back, or holds no scope.
    NoScope,
    /// The day until which the recordings may be kept is past.
    Over,
}

/// A child, and what her consent lacks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Consented {
    /// The child.
    pub child: Child,
    /// What is lacking; `None` where all is well.
    pub lack: Option<ConsentLack>,
}

/// Every child of the study by code, with what her consent lacks on this day.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn consented(workspace: &Workspace, now: Now) -> Result<Vec<Consented>, AppError> {
    let today = consent::day(now)?;
    let children = consent::children(workspace)?.into_iter();
    Ok(children
        .map(|child| {
            let lack = match &child.consent {
                None => Some(ConsentLack::NotNoted),
                Some(consent) if consent.is_over(today) => Some(ConsentLack::Over),
                Some(consent) if consent.assent == Assent::Refused => Some(ConsentLack::Refused),
                Some(consent) if consent.scopes.is_empty() => Some(ConsentLack::NoScope),
                Some(_) => None,
            };
            Consented { child, lack }
        })
        .collect())
}
