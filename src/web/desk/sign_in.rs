//! The door's pages: sign in, make the first account, set a new password.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use axum::response::Response;

use super::Desk;
use super::door;
use super::field::Field;
use super::form::Filled;
use crate::app::AppError;
use crate::app::Now;
use crate::app::accounts;
use crate::app::accounts::NewPassword;
use crate::app::accounts::OneTimeLink;
use crate::app::accounts::SignIn;
use crate::app::accounts::Stranger;
use crate::study::AccountName;
use crate::web::Frame;
use crate::web::WebError;
use crate::web::html;
use crate::web::way::Way;

/// What is asked of a new password, in a sentence.
pub(super) const PASSWORD_HINT: &str = "12 characters or more. Four or five words that nobody connects with you are easy to keep in mind.";

#[derive(Template)]
#[template(path = "desk/sign_in.html")]
struct SignInPage {
    frame: Frame,
    name: Field,
    password: Field,
    problem: &'static str,
    nobody_yet: bool,
}

#[derive(Template)]
#[template(path = "desk/first.html")]
struct FirstPage {
    frame: Frame,
    name: Field,
    password: Field,
    again: Field,
}

#[derive(Template)]
#[template(path = "desk/password.html")]
struct PasswordPage {
    frame: Frame,
    account: String,
    password: Field,
    again: Field,
}

/// `GET /desk/sign-in`.
pub(super) async fn page(State(desk): State<Desk>) -> Result<Response, WebError> {
    sign_in_page(&desk, "", "", StatusCode::OK).await
}

/// `POST /desk/sign-in`.
pub(super) async fn sign_in(
    State(desk): State<Desk>,
    way: Way,
    filled: Filled,
) -> Result<Response, WebError> {
    let name = filled.text("name").to_owned();
    let password = filled.text("password").to_owned();
    let tried = desk
        .try_act_on_password({
            let (name, from) = (name.clone(), way.from);
            move |workspace| accounts::sign_in(workspace, &name, &password, from, Now::read())
        })
        .await?;
    match tried.map_err(WebError::Act)? {
        SignIn::In(secret) => Ok(door::let_in(&secret, &way)),
        SignIn::Wrong => {
            tracing::warn!("a sign-in failed");
            let problem = "Name or password is wrong. Capital letters count in the password.";
            sign_in_page(&desk, &name, problem, StatusCode::UNPROCESSABLE_ENTITY).await
        }
        SignIn::HeldOff => {
            tracing::warn!("sign-ins are held off");
            let problem = "There were too many tries. Wait fifteen minutes, or set a new password on the machine \
                           itself: fairhearing account reset NAME.";
            sign_in_page(&desk, &name, problem, StatusCode::TOO_MANY_REQUESTS).await
        }
    }
}

/// `GET /desk/first/{secret}`: looking does not use the address up.
pub(super) async fn first_page(
    State(desk): State<Desk>,
    way: Way,
    Path(secret): Path<String>,
) -> Result<Response, WebError> {
    match opens(&desk, &way, secret).await? {
        OneTimeLink::First => Ok(html(&FirstPage::fresh())?.into_response()),
        OneTimeLink::Password(_) => Err(WebError::AddressSpent),
    }
}

/// `POST /desk/first/{secret}`: makes the first account and lets her in.
pub(super) async fn first(
    State(desk): State<Desk>,
    way: Way,
    Path(secret): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = FirstPage::fresh();
    page.name.value = filled.text("name").to_owned();
    let name = match AccountName::new(filled.text("name")) {
        Ok(name) => name,
        Err(wrong) => {
            page.name.error = wrong.to_string();
            return unprocessable(&page);
        }
    };
    let Some(password) = checked(&filled, &name, &mut page.password, &mut page.again) else {
        return unprocessable(&page);
    };
    let made = desk
        .try_act_on_password(move |workspace| {
            accounts::first_account(workspace, &secret, &name, &password, Now::read())
        })
        .await?;
    match made {
        Ok(cookie) => Ok(door::let_in(&cookie.ok_or(WebError::AddressSpent)?, &way)),
        Err(AppError::Refused(wrong)) => {
            page.name.error = wrong.to_string();
            unprocessable(&page)
        }
        Err(error) => Err(WebError::Act(error)),
    }
}

/// `GET /desk/password/{secret}`: looking does not use the address up.
pub(super) async fn password_page(
    State(desk): State<Desk>,
    way: Way,
    Path(secret): Path<String>,
) -> Result<Response, WebError> {
    match opens(&desk, &way, secret).await? {
        OneTimeLink::Password(name) => Ok(html(&PasswordPage::fresh(&name))?.into_response()),
        OneTimeLink::First => Err(WebError::AddressSpent),
    }
}

/// `POST /desk/password/{secret}`: sets the password and lets her in.
pub(super) async fn password(
    State(desk): State<Desk>,
    way: Way,
    Path(secret): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let OneTimeLink::Password(name) = opens(&desk, &way, secret.clone()).await? else {
        return Err(WebError::AddressSpent);
    };
    let mut page = PasswordPage::fresh(&name);
    let Some(password) = checked(&filled, &name, &mut page.password, &mut page.again) else {
        return unprocessable(&page);
    };
    let set = desk
        .try_act_on_password(move |workspace| {
            accounts::set_password_by_link(workspace, &secret, &password, Now::read())
        })
        .await?;
    let cookie = set.map_err(WebError::Act)?.ok_or(WebError::AddressSpent)?;
    Ok(door::let_in(&cookie, &way))
}

/// A new password that was entered twice; else what is wrong stands in the fields.
pub(super) fn checked(
    filled: &Filled,
    name: &AccountName,
    password: &mut Field,
    again: &mut Field,
) -> Option<NewPassword> {
    match NewPassword::new(filled.text("password"), name) {
        Err(wrong) => {
            password.error = wrong.to_string();
            None
        }
        Ok(_) if filled.text("password") != filled.text("again") => {
            "the two passwords are not alike; enter both once more".clone_into(&mut again.error);
            None
        }
        Ok(new) => Some(new),
    }
}

/// The two fields of a new password.
pub(super) fn new_password() -> (Field, Field) {
    (
        Field::new_password("password", "New password").hint(PASSWORD_HINT),
        Field::new_password("again", "The same once more"),
    )
}

/// A page with what is wrong in it.
pub(super) fn unprocessable(page: &impl Template) -> Result<Response, WebError> {
    Ok((StatusCode::UNPROCESSABLE_ENTITY, html(page)?).into_response())
}

impl FirstPage {
    fn fresh() -> Self {
        let (password, again) = new_password();
        Self {
            frame: Frame::english(),
            name: Field::text("name", "Your name here")
                .username()
                .hint("By it you sign in. It stays on this machine and out of the log."),
            password,
            again,
        }
    }
}

impl PasswordPage {
    fn fresh(account: &AccountName) -> Self {
        let (password, again) = new_password();
        Self {
            frame: Frame::english(),
            account: account.to_string(),
            password,
            again,
        }
    }
}

/// What a one-time address is for. One that is not good is told to the log, and whoever tries many is held off.
async fn opens(desk: &Desk, way: &Way, secret: String) -> Result<OneTimeLink, WebError> {
    let opened = desk
        .act(move |workspace| accounts::link_opens(workspace, &secret, Now::read()))
        .await?;
    if let Some(link) = opened {
        return Ok(link);
    }
    tracing::warn!("a one-time address was refused");
    let from = way.from;
    desk.act(move |workspace| {
        accounts::note_stranger(workspace, Stranger::Link, from, Now::read())
    })
    .await?;
    Err(WebError::AddressSpent)
}

async fn sign_in_page(
    desk: &Desk,
    name: &str,
    problem: &'static str,
    status: StatusCode,
) -> Result<Response, WebError> {
    let known = desk.act(accounts::accounts).await?;
    let page = SignInPage {
        frame: Frame::english(),
        name: Field::text("name", "Name").value(name).username(),
        password: Field::password("password", "Password"),
        problem,
        nobody_yet: !known.iter().any(|account| account.has_password),
    };
    Ok((status, html(&page)?).into_response())
}
