//! The pages for staff: the study, its recordings, its rounds, the people and the log. On this machine alone, or beyond
//! it over a safe way; for everybody else there is nothing here.

mod account;
mod address;
// Known answers by two accounts.
mod answers;
mod audit;
mod backup;
// What comes before the first recording.
mod before;
mod child;
// What a clinician decides from.
mod clinic;
// What families agreed to.
mod consents;
mod demonstration;
mod design;
mod door;
// Who is treated how and when is drawn.
mod drawing;
mod field;
mod form;
mod frame;
mod fresh_links;
// Recordings come in through the page.
mod importing;
mod invitations;
// Somebody leaves the study.
mod leaving;
// For an ethics board.
mod papers;
mod people;
mod person_page;
mod picture;
mod reach;
mod recordings;
mod refused;
// Tokens looked through before they are judged.
mod review;
mod rounds;
mod routes;
mod settings;
mod sign_in;
mod site;
mod study;

use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::from_fn;
use axum::middleware::from_fn_with_state;
use axum::routing::get;

pub use demonstration::Demonstration;
pub use routes::DeskRoute;
pub use site::watch_for_sleep;

pub(super) use site::Site;

use super::error::WebError;
use super::languages::Languages;
use super::reached::Reached;
use crate::app::AppError;
use crate::app::Workspace;
use crate::app::review::Shuffle;
use routes::EVERYBODY;
use routes::PREPARERS;
use routes::RESEARCHERS;
use routes::Routes;

/// What every handler of these pages shares.
#[derive(Clone)]
struct Desk {
    workspace: Workspace,
    site: Arc<Site>,
    jobs: importing::Jobs,
    shuffle: Shuffle,
    languages: Arc<Languages>,
}

impl Desk {
    /// Does an act where it may wait for the disk. What is not there is not found; all else is our fault.
    async fn act<T: Send + 'static>(
        &self,
        act: impl FnOnce(&Workspace) -> Result<T, AppError> + Send + 'static,
    ) -> Result<T, WebError> {
        let done = self.try_act(act).await?;
        done.map_err(|_| WebError::NotFound)
    }

    /// The same for an act that may be refused: inside stands the refusal, which is for whoever asked.
    async fn try_act<T: Send + 'static>(
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

    /// The same for an act that hashes a password: only so many at once, however many ask.
    async fn try_act_on_password<T: Send + 'static>(
        &self,
        act: impl FnOnce(&Workspace) -> Result<T, AppError> + Send + 'static,
    ) -> Result<Result<T, AppError>, WebError> {
        let turn = self.site.passwords.acquire().await;
        let done = self.try_act(act).await;
        drop(turn);
        done
    }
}

/// The routes of the staff's pages.
pub(super) fn routes(
    workspace: Workspace,
    languages: Arc<Languages>,
    reached: Arc<Reached>,
    demonstration: Option<Demonstration>,
) -> Router {
    let desk = Desk {
        workspace,
        site: Arc::new(Site::new(reached, demonstration)),
        jobs: importing::Jobs::default(),
        shuffle: Shuffle::drawn(),
        languages,
    };
    let Routes {
        inside, outside, ..
    } = table_of_routes();
    let inside = inside
        .layer(from_fn_with_state(desk.clone(), door::note_refusals))
        .layer(from_fn_with_state(desk.clone(), door::signed_in_only));
    outside
        .route("/desk/demonstration/{secret}", get(demonstration::enter))
        .merge(inside)
        .layer(DefaultBodyLimit::max(form::LONGEST_FORM))
        .layer(from_fn(form::not_too_long))
        .layer(from_fn_with_state(desk.clone(), door::reachable_only))
        // A phone that looks whether it reaches this machine is no staff.
        .route("/reach/{token}", get(reach::reached))
        .with_state(desk)
}

/// Every page, with who may open it.
fn table_of_routes() -> Routes {
    let routes = rounds::with_routes(Routes::default())
        .before("/desk/sign-in", sign_in::page, sign_in::sign_in)
        .before("/desk/first/{secret}", sign_in::first_page, sign_in::first)
        .before(
            "/desk/password/{secret}",
            sign_in::password_page,
            sign_in::password,
        )
        .post("/desk/sign-out", EVERYBODY, account::sign_out)
        .get("/desk/account", EVERYBODY, account::page)
        .post("/desk/account", EVERYBODY, account::change_password)
        .post(
            "/desk/account/sign-out",
            EVERYBODY,
            account::sign_out_everywhere,
        )
        .get("/desk", EVERYBODY, study::study)
        .get("/desk/children/{child}", EVERYBODY, child::child)
        .get("/desk/settings", RESEARCHERS, settings::settings)
        .post("/desk/settings", RESEARCHERS, settings::change)
        .get("/desk/recordings", PREPARERS, recordings::recordings)
        .get("/desk/rounds/new", RESEARCHERS, design::form)
        .post("/desk/rounds/new", RESEARCHERS, design::fill)
        .post("/desk/rounds/new/forecast", RESEARCHERS, design::forecast)
        .get("/desk/rounds/new/plan", RESEARCHERS, design::plan)
        .post("/desk/rounds/new/seal", RESEARCHERS, design::seal)
        .get("/desk/rounds/{round}/seal", RESEARCHERS, design::seal_sheet)
        .get(
            "/desk/rounds/{round}/invitations",
            RESEARCHERS,
            invitations::page,
        )
        .post(
            "/desk/rounds/{round}/invitations",
            RESEARCHERS,
            invitations::invite,
        )
        .post(
            "/desk/rounds/{round}/invitations/revoke",
            RESEARCHERS,
            invitations::revoke,
        )
        .get(
            "/desk/rounds/{round}/invitations/{batch}",
            RESEARCHERS,
            invitations::links,
        )
        .get(
            "/desk/rounds/{round}/invitations/{batch}/links.csv",
            RESEARCHERS,
            invitations::table,
        )
        .get(
            "/desk/rounds/{round}/invitations/{batch}/slips",
            RESEARCHERS,
            invitations::slips,
        )
        .post(
            "/desk/rounds/{round}/invitations/{batch}/forget",
            RESEARCHERS,
            invitations::forget,
        )
        .get("/desk/people", RESEARCHERS, people::people)
        .post("/desk/people", RESEARCHERS, people::add)
        .get("/desk/people/{code}", RESEARCHERS, person_page::page)
        .post("/desk/people/{code}", RESEARCHERS, person_page::change)
        .post("/desk/people/{code}/link", RESEARCHERS, person_page::link)
        .post(
            "/desk/people/{code}/sign-out",
            RESEARCHERS,
            person_page::sign_out,
        )
        .post(
            "/desk/people/{code}/remove",
            RESEARCHERS,
            person_page::remove,
        )
        .get("/desk/audit", RESEARCHERS, audit::audit)
        .get("/desk/backup", RESEARCHERS, backup::page)
        .post("/desk/backup", RESEARCHERS, backup::make)
        .post("/desk/backup/check", RESEARCHERS, backup::check)
        .get("/desk/reach", RESEARCHERS, reach::page)
        .get("/desk/reach/seen", RESEARCHERS, reach::seen);
    let routes = before::routes(drawing::routes(review::routes(importing::routes(routes))));
    let routes = answers::routes(consents::routes(leaving::routes(routes)));
    clinic::with_routes(papers::routes(routes))
}

/// Every route of the desk, and who may use it.
pub fn table() -> Vec<DeskRoute> {
    table_of_routes().table
}
