//! One person at the desk: her role and children, a new password, the way out.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::Desk;
use super::form::Filled;
use super::frame::DeskFrame;
use super::frame::Section;
use super::people::RightsFields;
use super::people::show_link;
use super::sign_in::unprocessable;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::accounts;
use crate::app::accounts::Account;
use crate::study::AccountName;
use crate::web::WebError;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/person.html")]
struct PersonPage {
    frame: DeskFrame,
    account: Account,
    rights: RightsFields,
    problem: String,
}

/// `GET /desk/people/{code}`.
pub(super) async fn page(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
) -> Result<Response, WebError> {
    Ok(html(&fresh(&desk, &person, code).await?)?.into_response())
}

/// `POST /desk/people/{code}`: another role, or other children.
pub(super) async fn change(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person, code).await?;
    page.rights.choose(&filled);
    let name = page.account.name.clone();
    let changed = match page.rights.chosen() {
        Ok(rights) => {
            desk.try_act(move |ws| {
                accounts::change_rights(ws, &name, rights, Some(&person), Now::read())
            })
            .await?
        }
        Err(wrong) => Err(wrong),
    };
    match changed {
        Ok(_) => Ok(Redirect::to("/desk/people").into_response()),
        Err(wrong) => {
            page.rights.error = wrong.to_string();
            unprocessable(&page)
        }
    }
}

/// `POST /desk/people/{code}/link`: a one-time address that sets a new password.
pub(super) async fn link(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
) -> Result<Response, WebError> {
    let name = name_of(&desk, code).await?;
    let secret = desk
        .act({
            let (name, by) = (name.clone(), person.clone());
            move |workspace| accounts::offer_password_link(workspace, &name, Some(&by), Now::read())
        })
        .await?;
    show_link(&desk, &person, name, &secret).await
}

/// `POST /desk/people/{code}/sign-out`: out of every browser.
pub(super) async fn sign_out(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
) -> Result<Redirect, WebError> {
    desk.act(move |workspace| {
        accounts::sign_out_everywhere(workspace, &code, &person, Now::read())
    })
    .await?;
    Ok(Redirect::to("/desk/people"))
}

/// `POST /desk/people/{code}/remove`.
pub(super) async fn remove(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person, code).await?;
    let name = page.account.name.clone();
    let removed = desk
        .try_act(move |workspace| {
            accounts::remove_account(workspace, &name, Some(&person), Now::read())
        })
        .await?;
    match removed {
        Ok(()) => Ok(Redirect::to("/desk/people").into_response()),
        Err(wrong) => {
            page.problem = wrong.to_string();
            unprocessable(&page)
        }
    }
}

async fn fresh(desk: &Desk, person: &Person, code: String) -> Result<PersonPage, WebError> {
    let (account, rights) = desk
        .act(move |workspace| {
            let account = coded(workspace, &code)?;
            let rights = RightsFields::of(workspace, Some(&account))?;
            Ok((account, rights))
        })
        .await?;
    Ok(PersonPage {
        frame: desk.frame(person, Section::People).await?,
        account,
        rights,
        problem: String::new(),
    })
}

async fn name_of(desk: &Desk, code: String) -> Result<AccountName, WebError> {
    let account = desk.act(move |workspace| coded(workspace, &code)).await?;
    Ok(account.name)
}

fn coded(workspace: &Workspace, code: &str) -> Result<Account, AppError> {
    let mut all = accounts::accounts(workspace)?.into_iter();
    all.find(|account| account.code.as_str() == code)
        .ok_or_else(|| {
            AppError::refused(
                "there is no such account",
                "look at the list of people again",
            )
        })
}
