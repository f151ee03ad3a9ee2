//! What families agreed to: all children at a glance, one child's record, a further child.

mod child;
mod list;

use super::routes::RESEARCHERS;
use super::routes::Routes;
use crate::app::ConsentLack;

/// The routes of these pages, with who may open them.
pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/desk/consents", RESEARCHERS, list::page)
        .post("/desk/consents", RESEARCHERS, list::add)
        .get("/desk/children/{child}/consent", RESEARCHERS, child::page)
        .post("/desk/children/{child}/consent", RESEARCHERS, child::note)
        .post("/desk/children/{child}/label", RESEARCHERS, child::label)
}

/// What is lacking, in a sentence.
pub(super) const fn says(lack: ConsentLack) -> &'static str {
    match lack {
        ConsentLack::NotNoted => "No consent is noted: nobody can be given these recordings.",
        ConsentLack::Refused => {
            "The child does not want to be heard: nobody is given these recordings."
        }
        ConsentLack::NoScope => "The consent lets nobody hear the child.",
        ConsentLack::Over => {
            "The day until which the recordings may be kept is past: erase them, or note a new consent."
        }
    }
}
