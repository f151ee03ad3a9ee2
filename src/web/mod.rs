//! The web: HTTP and nothing else.

mod assets;
mod error;
mod layers;
mod page;
mod serve;

use axum::Json;
use axum::Router;
use axum::routing::get;

pub use error::WebError;
pub use page::Frame;
pub use page::html;
pub use serve::Server;
pub use serve::asked_to_stop;

/// Every route of the program, with the layers around them; everything else answers 404.
pub fn routes() -> Router {
    let routes = Router::new()
        .route("/health", get(health))
        .route("/assets/{hash}/{*name}", get(assets::asset))
        .fallback(|| async { WebError::NotFound })
        .method_not_allowed_fallback(|| async { WebError::NotFound });
    layers::around(routes)
}

async fn health() -> Json<serde_json::Value> {
    Json(serde_json::json!({ "status": "ok" }))
}
