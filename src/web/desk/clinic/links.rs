//! Links to a child's page: made, listed, taken back, by the researcher or by a clinician who treats her.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::Hers;
use crate::app;
use crate::app::Now;
use crate::app::Person;
use crate::app::SharedPage;
use crate::study::ChildCode;
use crate::web::WebError;
use crate::web::clock;
use crate::web::desk::Desk;
use crate::web::desk::field::Field;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::refused::Refused;

#[derive(Template)]
#[template(path = "clinic/links.html")]
struct LinksPage {
    frame: DeskFrame,
    child: ChildCode,
    now: Now,
    pages: Vec<SharedPage>,
    days: Field,
    /// The address of a link that was just made; it is shown this once.
    fresh: Option<String>,
    /// Whether only this machine can open it.
    only_here: bool,
}

/// `GET /desk/children/{child}/links`.
pub(super) async fn links(
    State(desk): State<Desk>,
    Hers { person, child }: Hers,
) -> Result<Response, WebError> {
    shown(&desk, &person, child, None, String::new()).await
}

/// `POST /desk/children/{child}/links`: makes one, and shows its address once.
pub(super) async fn make(
    State(desk): State<Desk>,
    Hers { person, child }: Hers,
    filled: Filled,
) -> Result<Response, WebError> {
    let Ok(days) = filled.text("days").trim().parse::<u32>() else {
        let wrong = "Write a number of days".to_owned();
        return shown(&desk, &person, child, None, wrong).await;
    };
    let (wanted, by) = (child.clone(), person.clone());
    let made = desk
        .try_act(move |workspace| app::share_page(workspace, &wanted, days, Some(&by), Now::read()))
        .await?;
    match made {
        Ok((_, secret)) => shown(&desk, &person, child, Some(secret), String::new()).await,
        Err(wrong) => shown(&desk, &person, child, None, wrong.to_string()).await,
    }
}

/// `POST /desk/children/{child}/links/{number}/revoke`.
pub(super) async fn revoke(
    State(desk): State<Desk>,
    Hers { person, child }: Hers,
    Path((_, number)): Path<(String, String)>,
) -> Result<Response, WebError> {
    let number: u32 = number.parse().map_err(|_| WebError::NotFound)?;
    let back = format!("/desk/children/{child}/links");
    let mut refused = Refused::leading(desk.frame(&person, Section::Study).await?, &back);
    let done = desk
        .try_act(move |workspace| {
            app::take_back_page(workspace, number, Some(&child), Some(&person), Now::read())
        })
        .await?;
    if let Err(wrong) = &done {
        refused.add(wrong);
    }
    refused.or(Redirect::to(&back))
}

async fn shown(
    desk: &Desk,
    person: &Person,
    child: ChildCode,
    secret: Option<String>,
    problem: String,
) -> Result<Response, WebError> {
    let wanted = child.clone();
    let pages = desk
        .act(move |workspace| {
            app::check_child(workspace, &wanted)?;
            app::shared_pages(workspace, Some(&wanted))
        })
        .await?;
    let reached = &desk.site.reached;
    let base = reached.address_for_listeners();
    let status = if problem.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = LinksPage {
        frame: desk.frame(person, Section::Study).await?,
        only_here: base.is_none(),
        fresh: secret.map(|secret| {
            let base = base.unwrap_or_else(|| reached.address_here());
            format!("{base}/page/{secret}")
        }),
        now: Now::read(),
        days: days_field(problem),
        child,
        pages,
    };
    Ok((status, Html(page.render()?)).into_response())
}

impl LinksPage {
    fn state(&self, page: &SharedPage) -> String {
        match page.revoked_ms {
            Some(ms) => format!("taken back {}", day(ms)),
            None if page.is_open(self.now) => format!("open until {}", day(page.expires_ms)),
            None => format!("ran out {}", day(page.expires_ms)),
        }
    }
}

fn days_field(problem: String) -> Field {
    let mut field = Field::text("days", "Days until it runs out")
        .hint("From 1 to 90; 14 is usual.")
        .value(&app::USUAL_DAYS.to_string());
    field.error = problem;
    field
}

/// A moment in UTC, to the minute.
fn day(ms: i64) -> String {
    let whole = clock::day_and_time(Now::at_ms(ms));
    format!("{} UTC", whole.get(..16).unwrap_or(&whole))
}
