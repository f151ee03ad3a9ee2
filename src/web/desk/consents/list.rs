//! All children with what their families agreed to.

use askama::Template;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::says;
use crate::app;
use crate::app::AppError;
use crate::app::Consented;
use crate::app::Now;
use crate::app::Person;
use crate::report::number;
use crate::study::ChildCode;
use crate::study::ChildLabel;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::field::Field;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::sign_in::unprocessable;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/consents/list.html")]
struct ListPage {
    frame: DeskFrame,
    children: Vec<Consented>,
    code: Field,
    label: Field,
}

/// `GET /desk/consents`.
pub(super) async fn page(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    html(&fresh(&desk, &person).await?)
}

/// `POST /desk/consents`: a child of whom nothing was recorded yet.
pub(super) async fn add(
    State(desk): State<Desk>,
    person: Person,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person).await?;
    filled.text("code").clone_into(&mut page.code.value);
    filled.text("label").clone_into(&mut page.label.value);
    let code = ChildCode::new(&page.code.value);
    let label = some_label(&page.label.value);
    let (code, label) = match (code, label) {
        (Ok(code), Ok(label)) => (code, label),
        (code, label) => {
            page.code.error = code
                .err()
                .map_or_else(String::new, |wrong| format!("{wrong}."));
            page.label.error = label
                .err()
                .map_or_else(String::new, |wrong| format!("{wrong}."));
            return unprocessable(&page);
        }
    };
    let added = desk
        .try_act(move |workspace| {
            app::add_child(workspace, &code, label.as_ref())?;
            Ok(code)
        })
        .await?;
    match added {
        Ok(_) => Ok(Redirect::to("/desk/consents").into_response()),
        Err(refused) => {
            page.code.error = format!("{refused}.");
            unprocessable(&page)
        }
    }
}

/// A label, or none where nothing was entered.
pub(super) fn some_label(raw: &str) -> Result<Option<ChildLabel>, AppError> {
    if raw.trim().is_empty() {
        return Ok(None);
    }
    let label = ChildLabel::new(raw).map_err(AppError::Refused)?;
    Ok(Some(label))
}

async fn fresh(desk: &Desk, person: &Person) -> Result<ListPage, WebError> {
    Ok(ListPage {
        frame: desk.frame(person, Section::Study).await?,
        children: desk
            .act(|workspace| app::consented(workspace, Now::read()))
            .await?,
        code: Field::text("code", "Code")
            .hint("Never a name, initials or a birth date; the code that recordings carry."),
        label: Field::text("label", "Label, if you want one").hint(
            "What you call the child here. It stays on these pages: no listener, export or log has it.",
        ),
    })
}

impl ListPage {
    fn lacking(&self) -> usize {
        self.children
            .iter()
            .filter(|one| one.lack.is_some())
            .count()
    }

    fn next(&self) -> &'static str {
        if self.children.is_empty() {
            "Add the children who will be recorded, and note what their families agreed to."
        } else if self.lacking() > 0 {
            "See to the children whose consent lacks something: their recordings cannot be sealed into a round."
        } else {
            "Nothing is lacking. Come back when a family says something new."
        }
    }
}

/// Who may hear the child.
fn scopes_of(one: &Consented) -> String {
    let scopes = one
        .child
        .consent
        .as_ref()
        .map(|consent| consent.scopes.to_string());
    match scopes {
        Some(scopes) if !scopes.is_empty() => scopes.replace(' ', ", "),
        _ => number::NONE.to_owned(),
    }
}

/// Until when the recordings may be kept.
fn kept_until(one: &Consented) -> String {
    let last = one
        .child
        .consent
        .as_ref()
        .and_then(|consent| consent.keep_until);
    last.map_or_else(|| number::NONE.to_owned(), |last| last.to_string())
}
