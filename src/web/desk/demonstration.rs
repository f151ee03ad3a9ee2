//! A demonstration: an address that signs in without a password, on this machine alone.

use axum::extract::Path;
use axum::extract::State;
use axum::response::Response;

use super::Desk;
use super::door;
use crate::app;
use crate::app::Now;
use crate::app::accounts;
use crate::study::AccountName;
use crate::web::WebError;
use crate::web::way::Way;

/// The address of a demonstration. It lives as long as the process does, and is kept only as its digest.
pub struct Demonstration {
    secret_sha256: String,
    account: AccountName,
}

impl Demonstration {
    /// The address with this secret signs in the account of this name, which has no password.
    pub fn new(secret: &str, account: AccountName) -> Self {
        Self {
            secret_sha256: app::digest_of(secret),
            account,
        }
    }

    /// The path of the address.
    pub fn path(secret: &str) -> String {
        format!("/desk/demonstration/{secret}")
    }
}

/// `GET /desk/demonstration/{secret}`.
pub(super) async fn enter(
    State(desk): State<Desk>,
    way: Way,
    Path(secret): Path<String>,
) -> Result<Response, WebError> {
    let demonstration = desk.site.demonstration.as_ref();
    let known = demonstration
        .filter(|known| way.this_machine && known.secret_sha256 == app::digest_of(&secret))
        .ok_or(WebError::NotFound)?;
    let name = known.account.clone();
    let cookie = desk
        .act(move |workspace| accounts::sign_in_without_password(workspace, &name, Now::read()))
        .await?;
    Ok(door::let_in(&cookie, &way))
}
