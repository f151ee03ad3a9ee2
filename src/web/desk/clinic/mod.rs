//! What a clinician decides from. Read-only; she sees her own children alone, and only what is unlocked.

mod caseload;
mod child;
mod hear;
mod links;
mod study;

use std::collections::HashMap;

use axum::extract::FromRequestParts;
use axum::extract::Path;
use axum::http::request::Parts;
use axum::response::IntoResponse;
use axum::response::Response;

use super::Desk;
use super::door;
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

/// A child of whom the person who asks may read.
struct Hers {
    person: Person,
    child: ChildCode,
}

/// A child that is not hers is answered as one that is not there.
impl FromRequestParts<Desk> for Hers {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, desk: &Desk) -> Result<Self, Response> {
        let no_page = |_| WebError::NotFound.into_response();
        let person = Person::from_request_parts(parts, desk)
            .await
            .map_err(WebError::into_response)?;
        let Path(named) = Path::<HashMap<String, String>>::from_request_parts(parts, desk)
            .await
            .map_err(|_| WebError::NotFound.into_response())?;
        let code = named.get("child").map(String::as_str).unwrap_or_default();
        let child = ChildCode::new(code).map_err(no_page)?;
        if person.may_see(&child) {
            Ok(Self { person, child })
        } else {
            Err(door::not_for_this_person())
        }
    }
}
