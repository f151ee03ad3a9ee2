//! Import in the page: files come in, each row says what it becomes, problems are mended, then all of it is imported or
//! none.

mod files;
mod jobs;
mod pages;
mod rows;
mod run;

use axum::extract::DefaultBodyLimit;
use axum::http::Method;
use axum::routing::post;
use axum::routing::put;

use super::Desk;
use super::frame::Section;
use super::refused::Refused;
use super::routes::PREPARERS;
use super::routes::Routes;
use crate::app::Person;
use crate::app::staging;
use crate::web::WebError;

pub(super) use files::broken_off;
pub(super) use jobs::Jobs;

/// What a form may send beside its file.
const AROUND_A_FILE: usize = 1 << 20;

/// The routes of these pages.
pub(super) fn routes(routes: Routes) -> Routes {
    let most = usize::try_from(staging::MOST_STAGED_BYTES).unwrap_or(usize::MAX);
    let whole = DefaultBodyLimit::max(most);
    let in_parts = DefaultBodyLimit::max(staging::CHUNK_BYTES + AROUND_A_FILE);
    routes
        .get("/desk/import", PREPARERS, pages::begun)
        .post("/desk/import", PREPARERS, pages::begin)
        .get("/desk/import/{id}", PREPARERS, pages::staged)
        .post("/desk/import/{id}/discard", PREPARERS, pages::discard)
        .get("/desk/import/{id}/held", PREPARERS, files::held)
        .route(
            Method::POST,
            "/desk/import/{id}/files",
            PREPARERS,
            post(files::several).layer(whole),
        )
        .route(
            Method::PUT,
            "/desk/import/{id}/part",
            PREPARERS,
            put(files::part).layer(in_parts),
        )
        .post("/desk/import/{id}/manifest", PREPARERS, rows::compose)
        .post("/desk/import/{id}/rows", PREPARERS, rows::add)
        .get("/desk/import/{id}/rows/{line}", PREPARERS, rows::row)
        .post("/desk/import/{id}/rows/{line}", PREPARERS, rows::change)
        .post(
            "/desk/import/{id}/rows/{line}/without",
            PREPARERS,
            rows::leave_out,
        )
        .post(
            "/desk/import/{id}/rows/{line}/remove",
            PREPARERS,
            rows::remove,
        )
        .route(
            Method::POST,
            "/desk/import/{id}/rows/{line}/recording",
            PREPARERS,
            post(files::one).layer(whole),
        )
        .get("/desk/import/{id}/run", PREPARERS, run::page)
        .post("/desk/import/{id}/run", PREPARERS, run::start)
        .get("/desk/import/{id}/run/state", PREPARERS, run::state)
}

/// A page that leads back to an address, for what is refused.
async fn refusing(desk: &Desk, person: &Person, back: &str) -> Result<Refused, WebError> {
    let frame = desk.frame(person, Section::Recordings).await?;
    Ok(Refused::leading(frame, back))
}
