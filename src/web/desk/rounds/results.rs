//! The report of an unlocked round.

use axum::extract::Path;
use axum::extract::State;
use axum::http::header::CONTENT_SECURITY_POLICY;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Response;

use crate::app;
use crate::report;
use crate::study::RoundName;
use crate::web::WebError;
use crate::web::desk::Desk;

/// `GET /desk/rounds/{round}/results`: the report, once the round is unlocked.
pub(super) async fn results(
    State(desk): State<Desk>,
    Path(round): Path<String>,
) -> Result<Response, WebError> {
    let name = RoundName::new(&round).map_err(|_| WebError::NotFound)?;
    let findings = desk
        .act(move |workspace| app::findings(workspace, &app::unlocked(workspace, &name)?))
        .await?;
    let page = report::page(&findings.round)?;
    // The page carries its style in it: its own policy lets that in and nothing else.
    let policy = format!("{}; frame-ancestors 'none'", report::policy());
    Ok(([(CONTENT_SECURITY_POLICY, policy)], Html(page)).into_response())
}
