//! Hear and judge: the listener's page. Nothing here can name a token, a child, a session, a phase
//! or a file.

mod cookie;
mod error;
mod forms;
mod pages;
mod room;
mod sitting;
mod sound;
mod texts;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::from_fn_with_state;
use axum::routing::{get, post, put};

use room::Room;
pub use texts::TextsError;

use crate::app::Workspace;

/// More than any answer or closing remark takes.
const LONGEST_BODY: usize = 32 * 1024;

/// The routes of the listener's page.
///
/// # Errors
/// [`TextsError`] if a language of the page is not complete.
pub(super) fn routes(workspace: Workspace) -> Result<Router, TextsError> {
    let room = Room::new(workspace)?;
    let pages = Router::new()
        .route("/l/{secret}", get(pages::open_link))
        .route("/listen", get(pages::listen))
        .route("/listen/consent", post(forms::agree))
        .route("/listen/sound-check", post(forms::sound_check))
        .route("/listen/begin", post(forms::begin))
        .route("/listen/closing", post(forms::finish))
        .layer(from_fn_with_state(room.clone(), error::as_page));
    let script = Router::new()
        .route("/listen/ahead", get(sitting::ahead))
        .route("/listen/sound/{id}", get(sound::sound))
        .route("/listen/judgement/{id}", put(sitting::judge))
        .route("/listen/aside/{id}", put(sitting::set_aside))
        .layer(from_fn_with_state(room.clone(), error::as_problem));
    Ok(pages
        .merge(script)
        .layer(DefaultBodyLimit::max(LONGEST_BODY))
        .with_state(room))
}
