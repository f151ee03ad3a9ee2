//! Links: more of them after the seal, some taken back, and a round that pauses.

mod invite;
mod pause;
mod revoke;

pub use invite::Invitation;
pub use invite::Invited;
pub(super) use invite::bar_commitment;
pub use invite::invite;
pub use invite::invite_by;
pub(super) use invite::next_number;
pub use pause::Paused;
pub use pause::pause;
pub use pause::pause_by;
pub use pause::resume;
pub use pause::resume_by;
pub use revoke::Revoked;
pub use revoke::WhichLink;
pub use revoke::revoke;
pub use revoke::revoke_by;

use serde_json::Value;
use serde_json::json;

use super::AppError;
use super::secret;
use crate::blinding;
use crate::blinding::Seed;
use crate::seal::Digest;
use crate::store::NewEnrolment;
use crate::store::NewOpenLink;
use crate::store::OpenLinkId;
use crate::study::ListenerCode;
use crate::study::ListenerKind;

/// Milliseconds of a day.
const DAY_MS: i64 = 24 * 60 * 60 * 1000;

/// A listener's personal link.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Link {
    /// Its number, counted from 1.
    pub number: u32,
    /// The listener's code.
    pub listener: ListenerCode,
    /// The path of the link on the server.
    pub path: String,
}

/// A link by which several listeners may come, each with a place of her own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenLink {
    /// Its number, counted from 1.
    pub number: u32,
    /// How many listeners may come by it.
    pub cap: u32,
    /// The path of the link on the server.
    pub path: String,
}

/// What a listener to be is made of.
#[derive(Clone, Copy)]
pub(super) struct NewListener {
    pub(super) number: u32,
    pub(super) kind: ListenerKind,
    pub(super) expires_ms: Option<i64>,
    pub(super) open_link: Option<OpenLinkId>,
}

/// A listener to be, with the secret in her link: it is kept nowhere.
pub(super) fn new_enrolment(
    new: NewListener,
    seed: &Seed,
) -> Result<(NewEnrolment, String), AppError> {
    let secret = secret::token();
    let code = ListenerCode::new(&secret::listener_code()).map_err(AppError::Refused)?;
    let enrolment = NewEnrolment {
        code,
        kind: new.kind,
        number: new.number,
        side: blinding::answer_side(u64::from(new.number), seed),
        link_sha256: secret::digest_of(&secret),
        expires_ms: new.expires_ms,
        open_link: new.open_link,
    };
    Ok((enrolment, secret))
}

/// What the seal or the log says of a listener.
pub(super) fn told_of(new: &NewEnrolment) -> Value {
    let mut told = json!({
        "number": new.number,
        "listener": new.code,
        "kind": new.kind,
        "side": new.side,
        "link_sha256": new.link_sha256,
    });
    if let (Some(expires_ms), Some(fields)) = (new.expires_ms, told.as_object_mut()) {
        fields.insert("expires_ms".to_owned(), json!(expires_ms));
    }
    told
}

/// The same of an open link.
pub(super) fn told_of_open(new: &NewOpenLink) -> Value {
    json!({
        "number": new.number,
        "kind": new.kind,
        "cap": new.cap,
        "link_sha256": new.link_sha256,
        "expires_ms": new.expires_ms,
    })
}

/// The path of a link with that secret.
pub(super) fn path_of(secret: &str) -> String {
    format!("/l/{secret}")
}

/// When a link that holds for so many days runs out.
pub(super) fn expiry(days: Option<u32>, from_ms: i64) -> Option<i64> {
    days.map(|days| from_ms + i64::from(days) * DAY_MS)
}

/// What stands for a link in the pages' storage, so that what waits there is sent in no other
/// listener's name: it tells nothing, and nobody can make it who does not hold the link.
pub(super) fn tag_of(link_sha256: &str) -> String {
    let digest = Digest::of(format!("fairhearing tag 1\n{link_sha256}").as_bytes()).to_string();
    digest.chars().take(20).collect()
}
