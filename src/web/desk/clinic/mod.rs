//! What a clinician decides from. Read-only; she sees her own children alone, and only what is unlocked.

mod caseload;
mod child;
mod hear;
mod links;
mod study;

use super::routes::CLINIC;
use super::routes::RESEARCHERS;
use super::routes::Routes;
use crate::app::Person;
use crate::study::ChildCode;
use crate::web::WebError;

/// The routes of these pages, with who may open them.
pub(super) fn with_routes(routes: Routes) -> Routes {
    routes
        .get("/desk/children/{child}/outcome", CLINIC, child::outcome)
        .post("/desk/children/{child}/outcome", CLINIC, child::picture)
        .get("/desk/children/{child}/hear", CLINIC, hear::page)
        .get(
            "/desk/children/{child}/hear/{session}/{word}",
            CLINIC,
            hear::sound,
        )
        .get("/desk/children/{child}/links", CLINIC, links::links)
        .post("/desk/children/{child}/links", CLINIC, links::make)
        .post(
            "/desk/children/{child}/links/{number}/revoke",
            CLINIC,
            links::revoke,
        )
        .get("/desk/caseload", CLINIC, caseload::caseload)
        .get("/desk/outcome", RESEARCHERS, study::study)
        .post("/desk/outcome", RESEARCHERS, study::picture)
}

/// The child, where this person may read of her.
fn hers(person: &Person, code: &str) -> Result<Option<ChildCode>, WebError> {
    let child = ChildCode::new(code).map_err(|_| WebError::NotFound)?;
    Ok(Some(child).filter(|child| person.may_see(child)))
}
