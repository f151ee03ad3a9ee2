//! The web: HTTP and nothing else.

mod assets;
// Times as pages write them.
mod clock;
// The pages for staff.
mod desk;
mod error;
mod layers;
/// Hear and judge.
mod listener;
mod page;
mod qr;
mod range;
mod reached;
mod serve;
// The way of a request.
mod way;

use std::sync::Arc;

use crate::app::Workspace;
use axum::Json;
use axum::Router;
use axum::routing::get;

pub use desk::Demonstration;
pub use desk::DeskRoute;
pub use desk::table as desk_table;
pub use desk::watch_for_sleep;
pub use error::WebError;
pub use page::Frame;
pub use page::html;
pub use reached::Openness;
pub use reached::Reached;
pub use serve::Server;
pub use serve::TlsFiles;
pub use serve::asked_to_stop;

pub use listener::TextsError;

/// Every route of the program, with the layers around them; everything else answers 404.
///
/// # Errors
/// [`TextsError`] if a language of the listener's page is not complete.
pub fn routes(
    workspace: Workspace,
    reached: Reached,
    demonstration: Option<Demonstration>,
) -> Result<Router, TextsError> {
    let reached = Arc::new(reached);
    let routes = Router::new()
        .merge(listener::routes(workspace.clone())?)
        .merge(desk::routes(
            workspace.clone(),
            Arc::clone(&reached),
            demonstration,
        ))
        .route("/health", get(health))
        .route("/assets/{hash}/{*name}", get(assets::asset))
        .fallback(|| async { WebError::NotFound })
        .method_not_allowed_fallback(|| async { WebError::NotFound });
    Ok(layers::around(routes, workspace, reached))
}

async fn health() -> Json<serde_json::Value> {
    Json(serde_json::json!({ "status": "ok" }))
}
