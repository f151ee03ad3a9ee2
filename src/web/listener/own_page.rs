//! Whose page asks: of two listeners at one browser, the scripts on a page of the first get and tell nothing in
//! the name of the second.

use axum::extract::FromRequestParts;
use axum::http::request::Parts;

use super::cookie::Known;
use super::error::ListenerError;
use super::room::Room;
use crate::app::listening;

/// The header in which a page says whose it is: what stands for the listener in the browser's storage.
const TAG: &str = "listener-tag";

/// The cookie of the listener whose page asks.
pub(super) struct OwnPage(pub(super) String);

impl FromRequestParts<Room> for OwnPage {
    type Rejection = ListenerError;

    async fn from_request_parts(parts: &mut Parts, room: &Room) -> Result<Self, ListenerError> {
        let Known(cookie) = Known::from_request_parts(parts, room).await?;
        let Some(claimed) = parts.headers.get(TAG) else {
            return Ok(Self(cookie));
        };
        let holder = cookie.clone();
        let (tag, _) = room.act(move |ws, _| listening::tag(ws, &holder)).await?;
        if claimed.as_bytes() == tag.as_bytes() {
            Ok(Self(cookie))
        } else {
            Err(ListenerError::NoListener)
        }
    }
}
