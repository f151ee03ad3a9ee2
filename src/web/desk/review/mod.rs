//! The tokens looked through before anybody judges them: masked and shuffled, seen, heard, and compared by phase.

mod comparison;
mod decide;
mod list;
mod token;

use super::routes::PREPARERS;
use super::routes::Routes;

/// The routes of these pages.
pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/desk/recordings/review", PREPARERS, list::list)
        .get("/desk/recordings/review/{name}", PREPARERS, token::token)
        .get(
            "/desk/recordings/review/{name}/recorded",
            PREPARERS,
            token::recorded,
        )
        .get(
            "/desk/recordings/review/{name}/prepared",
            PREPARERS,
            token::prepared,
        )
        .post(
            "/desk/recordings/review/{name}/unmask",
            PREPARERS,
            token::unmask,
        )
        .post(
            "/desk/recordings/review/{name}/exclude",
            PREPARERS,
            decide::exclude,
        )
        .post(
            "/desk/recordings/review/{name}/include",
            PREPARERS,
            decide::include,
        )
        .get("/desk/recordings/phases", PREPARERS, comparison::comparison)
}
