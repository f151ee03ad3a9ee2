//! One's own account: another password, and the way out.

use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::response::IntoResponse;
use axum::response::Response;

use super::Desk;
use super::door;
use super::door::SessionSecret;
use super::field::Field;
use super::form::Filled;
use super::frame::DeskFrame;
use super::frame::Section;
use super::sign_in::checked;
use super::sign_in::new_password;
use super::sign_in::unprocessable;
use crate::app::Now;
use crate::app::Person;
use crate::app::accounts;
use crate::study::AccountName;
use crate::web::WebError;
use crate::web::html;
use crate::web::way::Way;

#[derive(Template)]
#[template(path = "desk/account.html")]
struct AccountPage {
    frame: DeskFrame,
    old: Field,
    password: Field,
    again: Field,
    changed: bool,
}

/// `GET /desk/account`.
pub(super) async fn page(State(desk): State<Desk>, person: Person) -> Result<Response, WebError> {
    Ok(html(&fresh(&desk, &person).await?)?.into_response())
}

/// `POST /desk/account`: another password; all other browsers are signed out.
pub(super) async fn change_password(
    State(desk): State<Desk>,
    person: Person,
    Extension(SessionSecret(session)): Extension<SessionSecret>,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person).await?;
    let name = AccountName::new(&person.name).map_err(|_| WebError::NotFound)?;
    let Some(password) = checked(&filled, &name, &mut page.password, &mut page.again) else {
        return unprocessable(&page);
    };
    let old = filled.text("old").to_owned();
    let changed = desk
        .try_act_on_password(move |workspace| {
            let now = Now::read();
            accounts::change_password(workspace, &person.code, &old, &password, &session, now)
        })
        .await?;
    if changed.map_err(WebError::Act)? {
        page.changed = true;
        Ok(html(&page)?.into_response())
    } else {
        "this is not the password of your account; enter it once more"
            .clone_into(&mut page.old.error);
        unprocessable(&page)
    }
}

/// `POST /desk/sign-out`.
pub(super) async fn sign_out(
    State(desk): State<Desk>,
    way: Way,
    Extension(SessionSecret(session)): Extension<SessionSecret>,
) -> Result<Response, WebError> {
    desk.act(move |workspace| accounts::sign_out(workspace, &session, Now::read()))
        .await?;
    Ok(door::let_out(&way))
}

/// `POST /desk/account/sign-out`: out of every browser, this one too.
pub(super) async fn sign_out_everywhere(
    State(desk): State<Desk>,
    way: Way,
    person: Person,
) -> Result<Response, WebError> {
    desk.act(move |workspace| {
        accounts::sign_out_everywhere(workspace, &person.code, &person, Now::read())
    })
    .await?;
    Ok(door::let_out(&way))
}

async fn fresh(desk: &Desk, person: &Person) -> Result<AccountPage, WebError> {
    let (password, again) = new_password();
    Ok(AccountPage {
        frame: desk.frame(person, Section::Account).await?,
        old: Field::password("old", "Your password now"),
        password,
        again,
        changed: false,
    })
}
