//! The pages for staff: the study, each round's progress, and the results of a round that is unlocked. Read-only, and on
//! this machine alone; for everybody else there is nothing here.

mod door;
mod field;
mod frame;
mod recordings;
mod rounds;
mod routes;
mod study;

use std::sync::Arc;

use axum::Router;
use axum::middleware::from_fn_with_state;
use axum::routing::get;

pub use door::Door;
pub use routes::DeskRoute;

use routes::EVERYBODY;
use routes::PREPARERS;
use routes::RESEARCHERS;
use routes::Routes;

use super::error::WebError;
use crate::app::AppError;
use crate::app::Workspace;

/// What every handler of these pages shares.
#[derive(Clone)]
struct Desk {
    workspace: Workspace,
    door: Arc<Door>,
}

impl Desk {
    /// Does an act where it may wait for the disk. What is not there is not found; all else is our fault.
    async fn act<T: Send + 'static>(
        &self,
        act: impl FnOnce(&Workspace) -> Result<T, AppError> + Send + 'static,
    ) -> Result<T, WebError> {
        let workspace = self.workspace.clone();
        let done = tokio::task::spawn_blocking(move || act(&workspace)).await?;
        done.map_err(|error| {
            if error.is_the_askers() {
                WebError::NotFound
            } else {
                WebError::Act(error)
            }
        })
    }
}

/// The routes of the staff's pages.
pub(super) fn routes(workspace: Workspace, door: Door) -> Router {
    let desk = Desk {
        workspace,
        door: Arc::new(door),
    };
    let inside = inside()
        .router
        .layer(from_fn_with_state(desk.clone(), door::known_only));
    Router::new()
        .route("/desk/open/{secret}", get(door::open))
        .merge(inside)
        .layer(axum::middleware::from_fn(door::this_machine_only))
        .with_state(desk)
}

/// Every page behind the door, with who may open it.
fn inside() -> Routes {
    Routes::default()
        .get("/desk", EVERYBODY, study::study)
        .get("/desk/recordings", PREPARERS, recordings::recordings)
        .get("/desk/rounds", RESEARCHERS, rounds::rounds)
        .get("/desk/rounds/{round}", RESEARCHERS, rounds::round)
        .get("/desk/rounds/{round}/results", RESEARCHERS, rounds::results)
}

/// Every route behind the door, and who may use it.
pub fn table() -> Vec<DeskRoute> {
    inside().table
}
