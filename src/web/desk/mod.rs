//! The pages for staff: the study, each round's progress, and the results of a round that is unlocked. Read-only, and on
//! this machine alone; for everybody else there is nothing here.

// What comes before the first recording.
mod before;
mod door;
mod field;
mod frame;
// Recordings come in through the page.
mod importing;
mod recordings;
mod refused;
// Tokens looked through before they are judged.
mod review;
mod rounds;
mod routes;
mod settings;
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
use crate::app::review::Shuffle;

/// What every handler of these pages shares.
#[derive(Clone)]
struct Desk {
    workspace: Workspace,
    door: Arc<Door>,
    jobs: importing::Jobs,
    shuffle: Shuffle,
}

impl Desk {
    /// Does an act where it may wait for the disk; what the asker can mend is handed back, to be said.
    async fn tried<T: Send + 'static>(
        &self,
        act: impl FnOnce(&Workspace) -> Result<T, AppError> + Send + 'static,
    ) -> Result<Result<T, AppError>, WebError> {
        let workspace = self.workspace.clone();
        let done = tokio::task::spawn_blocking(move || act(&workspace)).await?;
        match done {
            Err(error) if !error.is_the_askers() => Err(WebError::Act(error)),
            done => Ok(done),
        }
    }

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
        jobs: importing::Jobs::default(),
        shuffle: Shuffle::drawn(),
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
    let routes = Routes::default()
        .get("/desk", EVERYBODY, study::study)
        .get("/desk/settings", RESEARCHERS, settings::settings)
        .post("/desk/settings", RESEARCHERS, settings::change)
        .get("/desk/recordings", PREPARERS, recordings::recordings)
        .get("/desk/rounds", RESEARCHERS, rounds::rounds)
        .get("/desk/rounds/{round}", RESEARCHERS, rounds::round)
        .get("/desk/rounds/{round}/results", RESEARCHERS, rounds::results);
    before::routes(review::routes(importing::routes(routes)))
}

/// Every route behind the door, and who may use it.
pub fn table() -> Vec<DeskRoute> {
    inside().table
}
