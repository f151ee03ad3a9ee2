//! A child's page for whoever was given its link: read-only, without sound, until the link runs out or is taken back.

use askama::Template;
use axum::Router;
use axum::extract::Path;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::REFERRER_POLICY;
use axum::http::header::SET_COOKIE;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Response;
use axum::routing::get;
use axum_extra::extract::CookieJar;

use crate::app;
use crate::app::ChildOutcome;
use crate::app::Now;
use crate::app::Opened;
use crate::app::Workspace;
use crate::report::clinic;
use crate::report::clinic::ChildSheet;
use crate::study::ChildCode;
use crate::web::Frame;
use crate::web::WebError;
use crate::web::way::Way;

/// The cookie of a visit.
const VISIT: &str = "visit";

#[derive(Template)]
#[template(path = "clinic/shared.html")]
struct SharedPage {
    frame: Frame,
    child: ChildCode,
    /// Nothing where the child is shown no more.
    sheet: Option<ChildSheet>,
    age: Option<String>,
}

#[derive(Template)]
#[template(path = "clinic/over.html")]
struct OverPage {
    frame: Frame,
    title: &'static str,
    sentence: &'static str,
}

/// The one route of these pages.
pub(super) fn routes(workspace: Workspace) -> Router {
    Router::new()
        .route("/page/{secret}", get(shared))
        .with_state(workspace)
}

/// `GET /page/{secret}`.
async fn shared(
    State(workspace): State<Workspace>,
    Path(secret): Path<String>,
    way: Way,
    jar: CookieJar,
) -> Result<Response, WebError> {
    let visit = jar.get(VISIT).map(|cookie| cookie.value().to_owned());
    let path = format!("/page/{secret}");
    let opened = tokio::task::spawn_blocking(move || {
        app::open_shared_page(&workspace, &secret, visit.as_deref(), Now::read())
    })
    .await?
    .map_err(WebError::Act)?;
    match opened.ok_or(WebError::NotFound)? {
        Opened::Page {
            child,
            outcome,
            visit,
        } => {
            let mut answer = told(StatusCode::OK, &page(child, &outcome))?;
            let set = visit.and_then(|visit| cookie(&visit, &path, &way).parse().ok());
            if let Some(set) = set {
                answer.headers_mut().append(SET_COOKIE, set);
            }
            Ok(answer)
        }
        Opened::RanOut => told(
            StatusCode::GONE,
            &OverPage {
                frame: Frame::english(),
                title: "This link has run out",
                sentence: "It was good for some days only, so that the page does not lie about for ever. Please ask whoever gave it to you for a new one.",
            },
        ),
        Opened::TakenBack => told(
            StatusCode::GONE,
            &OverPage {
                frame: Frame::english(),
                title: "This link was taken back",
                sentence: "The page behind it is not shown any more. Please ask whoever gave it to you if you still need it.",
            },
        ),
    }
}

/// Sent back to this very page alone: by it, a page that is loaded again within the hour is one opening and not two. It
/// tells when the visit began, and nothing of who visits.
fn cookie(visit: &str, path: &str, way: &Way) -> String {
    let lasts = app::VISIT_MINUTES * 60;
    let secure = if way.safe { "; Secure" } else { "" };
    format!("{VISIT}={visit}; Path={path}; Max-Age={lasts}; HttpOnly; SameSite=Lax{secure}")
}

fn page(child: ChildCode, outcome: &ChildOutcome) -> SharedPage {
    let found = outcome.findings.as_ref();
    SharedPage {
        frame: Frame::english(),
        sheet: found.and_then(|found| clinic::child_sheet(found, child.as_str())),
        age: outcome
            .age
            .map(|(months, session)| clinic::age(months, session)),
        child,
    }
}

/// A page whose address holds a secret: no other site hears of it, and nobody keeps it.
fn told(status: StatusCode, page: &impl Template) -> Result<Response, WebError> {
    let headers = [(REFERRER_POLICY, "no-referrer")];
    Ok((status, headers, Html(page.render()?)).into_response())
}
