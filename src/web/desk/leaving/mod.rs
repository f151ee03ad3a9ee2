//! A child or a listener leaves the study: what would go is shown, then it is done, then what was done is shown and
//! printed for the family.

mod child;
mod done;
mod listener;

use super::routes::RESEARCHERS;
use super::routes::Routes;
use crate::app::Copied;

pub(super) use done::Kept;

use done::Left;

/// The routes of these pages, with who may open them.
pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get(
            "/desk/children/{child}/withdraw",
            RESEARCHERS,
            child::preview,
        )
        .post(
            "/desk/children/{child}/withdraw",
            RESEARCHERS,
            child::withdraw,
        )
        .get("/desk/listeners/withdraw", RESEARCHERS, listener::page)
        .post("/desk/listeners/withdraw", RESEARCHERS, listener::withdraw)
        .post("/desk/listeners/erase", RESEARCHERS, listener::erase)
        .get("/desk/left/{id}", RESEARCHERS, done::page)
        .get("/desk/left/{id}/family", RESEARCHERS, done::family)
}

/// Said where the tick is missing.
const NOT_TICKED: &str = "Nothing was done: tick the line above the button to say that you mean it";

/// The day on which a copy was made.
fn day_of(copy: &Copied) -> &str {
    copy.made.get(..10).unwrap_or(&copy.made)
}
