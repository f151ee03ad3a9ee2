//! The web: HTTP and nothing else.

mod assets;
// A child's page behind a link.
mod clinic;
// Times as pages write them.
mod clock;
// The pages for staff.
mod desk;
mod error;
mod layers;
// What listeners hear and judge.
mod listener;
mod page;
mod qr;
mod range;
mod reached;
mod serve;
// The way of a request.
mod way;

use std::sync::Arc;

use axum::Json;
use axum::Router;
use axum::response::Redirect;
use axum::routing::get;

use crate::app::Workspace;

pub use desk::Demonstration;
pub use desk::DeskRoute;
pub use desk::table as desk_table;
pub use desk::watch_for_sleep;
pub use error::WebError;
pub use page::Frame;
pub use page::Unsent;
pub use page::html;
pub use page::standing;
pub use reached::Openness;
pub use reached::Reached;
pub use serve::Server;
pub use serve::TlsFiles;
pub use serve::asked_to_stop;

use listener::Served;
pub use listener::TextsError;
use way::Way;

/// All routes with the layers around them.
pub type Routes = Router;

/// Every route of the program, with the layers around them; everything else answers 404.
///
/// # Errors
/// [`TextsError`] if a language of the listener's page is not complete.
pub fn routes(
    workspace: Workspace,
    reached: Reached,
    demonstration: Option<Demonstration>,
) -> Result<Routes, TextsError> {
    let reached = Arc::new(reached);
    let listener = listener::routes(workspace.clone(), Served::Everywhere)?;
    let desk = desk::routes(workspace.clone(), Arc::clone(&reached), demonstration);
    let clinic = clinic::routes(workspace.clone());
    let home = Router::new().route("/", get(home));
    let routes = listener.merge(desk).merge(clinic).merge(home);
    Ok(with_the_rest(routes, workspace, &reached))
}

/// The same for one laptop that is handed round: listeners start by short codes, and nobody finds the staff's pages, whose
/// browser it may be.
///
/// # Errors
/// [`TextsError`] if a language of the listener's page is not complete.
pub fn routes_for_one_laptop(workspace: Workspace, reached: Reached) -> Result<Routes, TextsError> {
    let listener = listener::routes(workspace.clone(), Served::OneLaptop)?;
    Ok(with_the_rest(listener, workspace, &Arc::new(reached)))
}

fn with_the_rest(routes: Router, workspace: Workspace, reached: &Arc<Reached>) -> Router {
    let routes = routes
        .route("/health", get(health))
        .route("/assets/{hash}/{*name}", get(assets::asset))
        .fallback(|| async { WebError::NotFound })
        .method_not_allowed_fallback(|| async { WebError::NotFound });
    layers::around(routes, workspace, reached)
}

/// Who opens the bare address at this very machine is staff; to everybody else nothing is there.
async fn home(way: Way) -> Result<Redirect, WebError> {
    if way.this_machine {
        Ok(Redirect::to("/desk"))
    } else {
        Err(WebError::NotFound)
    }
}

async fn health() -> Json<serde_json::Value> {
    Json(serde_json::json!({ "status": "ok" }))
}
