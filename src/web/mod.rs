//! The web: HTTP and nothing else.

mod assets;
// The pages for staff.
mod desk;
mod error;
mod layers;
/// Hear and judge.
mod listener;
mod near;
mod page;
mod serve;

use crate::app::Workspace;
use axum::Json;
use axum::Router;
use axum::routing::get;

pub use desk::Door;
pub use error::WebError;
pub use page::Frame;
pub use page::html;
pub use serve::Server;
pub use serve::asked_to_stop;

use listener::Served;
pub use listener::TextsError;

/// All routes with the layers around them.
pub type Routes = Router;

/// Every route of the program, with the layers around them; everything else answers 404. `door` is that of the staff's
/// pages.
///
/// # Errors
/// [`TextsError`] if a language of the listener's page is not complete.
pub fn routes(workspace: Workspace, door: Door) -> Result<Routes, TextsError> {
    let listener = listener::routes(workspace.clone(), Served::Everywhere)?;
    Ok(with_the_rest(listener.merge(desk::routes(workspace, door))))
}

/// The same for one laptop that is handed round: listeners start by short codes, and nobody finds the staff's pages, whose
/// browser it may be.
///
/// # Errors
/// [`TextsError`] if a language of the listener's page is not complete.
pub fn routes_for_one_laptop(workspace: Workspace) -> Result<Routes, TextsError> {
    Ok(with_the_rest(listener::routes(
        workspace,
        Served::OneLaptop,
    )?))
}

fn with_the_rest(routes: Router) -> Router {
    let routes = routes
        .route("/health", get(health))
        .route("/assets/{hash}/{*name}", get(assets::asset))
        .fallback(|| async { WebError::NotFound })
        .method_not_allowed_fallback(|| async { WebError::NotFound });
    layers::around(routes)
}

async fn health() -> Json<serde_json::Value> {
    Json(serde_json::json!({ "status": "ok" }))
}
