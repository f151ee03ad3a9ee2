//! Rounds: how each goes on, how it ends, and what an unlocked one shows.

mod exports;
mod follow;
mod graphs;
mod list;
mod live;
mod masked;
mod pause;
mod reason;
mod results;
mod turn;
mod words;

pub(super) use follow::link_says;
pub(super) use follow::until;

use super::routes::RESEARCHERS;
use super::routes::Routes;

/// The routes of these pages, with who may open them.
pub(super) fn with_routes(routes: Routes) -> Routes {
    routes
        .get("/desk/rounds", RESEARCHERS, list::rounds)
        .get("/desk/rounds/{round}", RESEARCHERS, follow::round)
        .get("/desk/rounds/{round}/live", RESEARCHERS, live::live)
        .post("/desk/rounds/{round}/pause", RESEARCHERS, pause::pause)
        .post("/desk/rounds/{round}/resume", RESEARCHERS, pause::resume)
        .post("/desk/rounds/{round}/reason", RESEARCHERS, reason::give)
        .get("/desk/rounds/{round}/close", RESEARCHERS, turn::close_page)
        .post("/desk/rounds/{round}/close", RESEARCHERS, turn::close)
        .get(
            "/desk/rounds/{round}/unlock",
            RESEARCHERS,
            turn::unlock_page,
        )
        .post("/desk/rounds/{round}/unlock", RESEARCHERS, turn::unlock)
        .get(
            "/desk/rounds/{round}/results",
            RESEARCHERS,
            results::results,
        )
        .get("/desk/rounds/{round}/masked", RESEARCHERS, masked::page)
        .post("/desk/rounds/{round}/masked", RESEARCHERS, masked::mark)
        .post(
            "/desk/rounds/{round}/masked/begin",
            RESEARCHERS,
            masked::begin,
        )
        .post(
            "/desk/rounds/{round}/masked/finish",
            RESEARCHERS,
            masked::finish,
        )
        .get(
            "/desk/rounds/{round}/report",
            RESEARCHERS,
            results::standing_report,
        )
        .get("/desk/rounds/{round}/graphs", RESEARCHERS, graphs::graphs)
        .post("/desk/rounds/{round}/graphs", RESEARCHERS, graphs::download)
        .get("/desk/rounds/{round}/words", RESEARCHERS, words::words)
        .get(
            "/desk/rounds/{round}/words/{token}/sound",
            RESEARCHERS,
            words::word_sound,
        )
        .get(
            "/desk/rounds/{round}/exports",
            RESEARCHERS,
            exports::exports,
        )
        .post(
            "/desk/rounds/{round}/exports",
            RESEARCHERS,
            exports::download,
        )
}
