//! The web: HTTP and nothing else.

mod assets;
// The pages for staff.
mod desk;
mod error;
mod layers;
/// Hear and judge.
mod listener;
mod page;
mod range;
mod serve;

use crate::app::Workspace;
use axum::Json;
use axum::Router;
use axum::routing::get;

pub use desk::DeskRoute;
pub use desk::Door;
pub use desk::table as desk_table;
pub use error::WebError;
pub use page::Frame;
pub use page::html;
pub use serve::Server;
pub use serve::asked_to_stop;

pub use listener::TextsError;

/// Every route of the program, with the layers around them; everything else answers 404. `door` is that of the staff's
/// pages.
///
/// # Errors
/// [`TextsError`] if a language of the listener's page is not complete.
pub fn routes(workspace: Workspace, door: Door) -> Result<Router, TextsError> {
    let routes = Router::new()
        .merge(listener::routes(workspace.clone())?)
        .merge(desk::routes(workspace, door))
        .route("/health", get(health))
        .route("/assets/{hash}/{*name}", get(assets::asset))
        .fallback(|| async { WebError::NotFound })
        .method_not_allowed_fallback(|| async { WebError::NotFound });
    Ok(layers::around(routes))
}

async fn health() -> Json<serde_json::Value> {
    Json(serde_json::json!({ "status": "ok" }))
}
