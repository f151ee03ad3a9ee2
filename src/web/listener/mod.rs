//! Hear and judge: the listener's page. Nothing here can name a token, a child, a session, a phase
//! or a file.

mod chosen;
mod cookie;
mod error;
mod facts;
mod forms;
mod laptop;
mod links;
mod own_page;
mod pages;
mod questions;
mod room;
mod sitting;
mod sound;
mod stops;
mod tries;
mod withdraw;

use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::from_fn;
use axum::middleware::from_fn_with_state;
use axum::response::Redirect;
use axum::routing::{get, post, put};

use room::Room;
pub(super) use room::Served;

use crate::app::Workspace;
use crate::web::languages::Languages;
use crate::web::way;

/// More than any answer or closing remark takes.
const LONGEST_BODY: usize = 32 * 1024;

/// The routes of the listener's page.
pub(super) fn routes(workspace: Workspace, languages: Arc<Languages>, served: Served) -> Router {
    let room = Room::new(workspace, languages, served);
    let pages = Router::new()
        .route("/l/{secret}", get(links::open_link).post(links::begin))
        .route("/listen/way-back", get(links::way_back).post(links::go_on))
        .route("/withdraw", get(withdraw::page).post(withdraw::withdraw))
        .route("/listen", get(pages::listen))
        .route("/listen/consent", post(forms::agree))
        .route("/listen/questions", post(forms::answer))
        .route("/listen/sound-check", post(forms::sound_check))
        .route("/listen/begin", post(forms::begin))
        .route("/listen/go-on", post(forms::go_on))
        .route("/listen/later", get(chosen::later))
        .route("/listen/enough", get(chosen::enough))
        .route("/listen/check-again", get(chosen::check_again))
        .route("/listen/closing", post(forms::finish))
        .merge(one_laptop(served))
        .layer(from_fn_with_state(room.clone(), error::as_page));
    let script = Router::new()
        .route("/listen/ahead", get(sitting::ahead))
        .route("/listen/sound/{id}", get(sound::sound))
        .route("/listen/played/{id}", put(sitting::played))
        .route("/listen/judgement/{id}", put(sitting::judge))
        .route("/listen/aside/{id}", put(sitting::set_aside))
        .route("/listen/void/{id}", put(sitting::void))
        .layer(from_fn_with_state(room.clone(), error::as_problem));
    pages
        .merge(script)
        .layer(DefaultBodyLimit::max(LONGEST_BODY))
        .with_state(room)
}

/// What is there only where one laptop is handed round, and on that laptop alone.
fn one_laptop(served: Served) -> Router<Room> {
    match served {
        Served::Everywhere => Router::new(),
        Served::OneLaptop => Router::new()
            .route("/", get(|| async { Redirect::to("/start") }))
            .route("/start", get(laptop::start).post(laptop::begin))
            .route("/hand-over", get(laptop::hand_over).post(laptop::handed))
            .layer(from_fn(way::this_machine_only)),
    }
}
