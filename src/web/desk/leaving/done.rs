//! What was done when somebody left. It names nobody; it is kept in this process's memory, for a while, for the person
//! who did it: on the disk nothing tells of it but the log.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;
use axum::response::Response;

use crate::app;
use crate::app::Erased;
use crate::app::Now;
use crate::app::Person;
use crate::report;
use crate::report::FamilyReceipt;
use crate::report::number;
use crate::web::WebError;
use crate::web::clock;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::site::Site;
use crate::web::html;
use crate::web::standing;

/// How long it can be shown (ours): long enough to print it.
const KEPT_MINUTES: i64 = 60;

/// What was done.
#[derive(Clone)]
pub(in crate::web::desk) struct Left {
    at: Now,
    what: What,
    receipt: String,
}

#[derive(Clone)]
enum What {
    ChildStopped,
    ChildErased(Erased),
    ListenerOut,
    ListenerErased(Erased),
}

impl Left {
    /// A child's recordings are used no more.
    pub(super) const fn stopped(at: Now, receipt: String) -> Self {
        Self {
            at,
            what: What::ChildStopped,
            receipt,
        }
    }

    /// A child is erased.
    pub(super) fn child_erased(at: Now, erased: Erased) -> Self {
        let receipt = erased.receipt.clone();
        Self {
            at,
            what: What::ChildErased(erased),
            receipt,
        }
    }

    /// Nothing that a listener judged counts any more.
    pub(super) const fn listener_out(at: Now, receipt: String) -> Self {
        Self {
            at,
            what: What::ListenerOut,
            receipt,
        }
    }

    /// A listener is erased.
    pub(super) fn listener_erased(at: Now, erased: Erased) -> Self {
        let receipt = erased.receipt.clone();
        Self {
            at,
            what: What::ListenerErased(erased),
            receipt,
        }
    }

    const fn erased(&self) -> Option<&Erased> {
        match &self.what {
            What::ChildErased(erased) | What::ListenerErased(erased) => Some(erased),
            What::ChildStopped | What::ListenerOut => None,
        }
    }

    /// The page for the family of a child.
    fn for_the_family(&self) -> Option<FamilyReceipt> {
        match &self.what {
            What::ChildStopped => Some(FamilyReceipt::stopped(self.at.ms(), &self.receipt)),
            What::ChildErased(erased) => {
                let copies = erased.copies.iter();
                let copies = copies.map(|copy| (copy.kind.clone(), copy.made.clone()));
                Some(FamilyReceipt::erased(
                    self.at.ms(),
                    erased.recordings,
                    copies.collect(),
                    &self.receipt,
                ))
            }
            What::ListenerOut | What::ListenerErased(_) => None,
        }
    }
}

/// What was done, for whom it is kept, and under which random name.
pub(in crate::web::desk) struct Kept {
    id: String,
    account: String,
    left: Left,
}

impl Site {
    /// Keeps what was done for a while; gives the address that shows it.
    pub(super) fn keep_left(&self, person: &Person, left: Left) -> String {
        let id = app::one_time_secret();
        let address = format!("/desk/left/{id}");
        let mut kept = self.left();
        let now = left.at.ms();
        kept.retain(|one| now - one.left.at.ms() < KEPT_MINUTES * 60_000);
        kept.push(Kept {
            id,
            account: person.code.clone(),
            left,
        });
        address
    }

    fn left_under(&self, person: &Person, id: &str) -> Option<Left> {
        let now = Now::read().ms();
        let kept = self.left();
        let found = kept.iter().find(|one| {
            one.id == id
                && one.account == person.code
                && now - one.left.at.ms() < KEPT_MINUTES * 60_000
        });
        found.map(|one| one.left.clone())
    }
}

#[derive(Template)]
#[template(path = "desk/leaving/done.html")]
struct DonePage {
    frame: DeskFrame,
    id: String,
    left: Left,
}

/// `GET /desk/left/{id}`.
pub(super) async fn page(
    State(desk): State<Desk>,
    person: Person,
    Path(id): Path<String>,
) -> Result<Html<String>, WebError> {
    let left = desk.site.left_under(&person, &id);
    let left = left.ok_or(WebError::NotFound)?;
    let section = match left.what {
        What::ChildStopped | What::ChildErased(_) => Section::Study,
        What::ListenerOut | What::ListenerErased(_) => Section::Rounds,
    };
    html(&DonePage {
        frame: desk.frame(&person, section).await?,
        id,
        left,
    })
}

/// `GET /desk/left/{id}/family`: the page that the family is given.
pub(super) async fn family(
    State(desk): State<Desk>,
    person: Person,
    Path(id): Path<String>,
) -> Result<Response, WebError> {
    let left = desk.site.left_under(&person, &id);
    let receipt = left.and_then(|left| left.for_the_family());
    let page = report::family_receipt(&receipt.ok_or(WebError::NotFound)?)?;
    Ok(standing(page, &report::family_policy()))
}

impl DonePage {
    const fn title(&self) -> &'static str {
        match self.left.what {
            What::ChildStopped => "The child is out of use",
            What::ChildErased(_) => "The child is erased",
            What::ListenerOut => "The listener is out of every result",
            What::ListenerErased(_) => "The listener is erased",
        }
    }

    fn lead(&self) -> String {
        let on = clock::day_and_time(self.left.at);
        let did = match &self.left.what {
            What::ChildStopped => {
                "Recordings and judgements are kept and are in no result.".to_owned()
            }
            What::ListenerOut => {
                "Her judgements are kept and are in no result. The study can no longer tell her sittings from others that withdrew.".to_owned()
            }
            What::ChildErased(erased) => format!(
                "{}, {} and {} beside them are gone.",
                number::counted(erased.recordings, "recording"),
                number::counted(erased.judgements, "judgement"),
                number::counted(erased.files, "file"),
            ),
            What::ListenerErased(erased) => format!(
                "Her sittings and {} are gone.",
                number::counted(erased.judgements, "judgement")
            ),
        };
        format!("Done at {on} UTC. {did}")
    }

    const fn is_child(&self) -> bool {
        matches!(self.left.what, What::ChildStopped | What::ChildErased(_))
    }
}
