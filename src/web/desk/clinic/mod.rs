//! What a clinician decides from. Read-only; she sees her own children alone, and only what is unlocked.

mod caseload;
mod child;
mod hear;
mod study;

use super::routes::CLINIC;
use super::routes::RESEARCHERS;
use super::routes::Routes;

/// The routes of these pages, with who may open them.
pub(super) fn with_routes(routes: Routes) -> Routes {
    routes
        .get("/desk/children/{child}/outcome", CLINIC, child::outcome)
        .get("/desk/children/{child}/hear", CLINIC, hear::page)
        .get(
            "/desk/children/{child}/hear/{session}/{word}",
            CLINIC,
            hear::sound,
        )
        .get("/desk/caseload", CLINIC, caseload::caseload)
        .get("/desk/outcome", RESEARCHERS, study::study)
}
