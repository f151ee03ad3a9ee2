//! Whose page asks: of two listeners at one browser, the scripts and the forms of a page of the first get, tell and do
//! nothing in the name of the second.

use axum::extract::FromRequestParts;
use axum::extract::Query;
use axum::http::request::Parts;
use serde::Deserialize;

use super::cookie::Known;
use super::error::ListenerError;
use super::room::Room;
use crate::app::listening;

/// The header in which a script says whose page it is on: what stands for the listener in the browser's storage.
const TAG: &str = "listener-tag";

/// The same in the address of a form.
#[derive(Deserialize)]
struct Whose {
    whose: Option<String>,
}

/// The cookie of the listener whose page asks.
pub(super) struct OwnPage(pub(super) String);

impl FromRequestParts<Room> for OwnPage {
    type Rejection = ListenerError;

    async fn from_request_parts(parts: &mut Parts, room: &Room) -> Result<Self, ListenerError> {
        let Known(cookie) = Known::from_request_parts(parts, room).await?;
        let Some(claimed) = claimed(parts) else {
            return Ok(Self(cookie));
        };
        let holder = cookie.clone();
        let (tag, _) = room.act(move |ws, _| listening::tag(ws, &holder)).await?;
        if claimed == tag.as_bytes() {
            Ok(Self(cookie))
        } else {
            Err(ListenerError::NoListener)
        }
    }
}

fn claimed(parts: &Parts) -> Option<Vec<u8>> {
    let by_script = parts.headers.get(TAG).map(|tag| tag.as_bytes().to_vec());
    by_script.or_else(|| {
        let Query(address) = Query::<Whose>::try_from_uri(&parts.uri).ok()?;
        address.whose.map(String::into_bytes)
    })
}
