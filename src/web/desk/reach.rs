//! How listeners' devices reach this machine, and a test whether they do.

use askama::Template;
use axum::Json;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;

use super::Desk;
use super::frame::DeskFrame;
use super::frame::Section;
use super::site;
use super::site::Seen;
use crate::app;
use crate::app::Now;
use crate::app::Person;
use crate::web::Frame;
use crate::web::WebError;
use crate::web::clock;
use crate::web::html;
use crate::web::qr;
use crate::web::reached::Openness;
use crate::web::way::Way;

#[derive(Template)]
#[template(path = "desk/reach.html")]
struct ReachPage {
    frame: DeskFrame,
    /// Where it listens, such as `0.0.0.0:8484`.
    listens: String,
    openness: Openness,
    /// The picture of the test's address, and the address.
    test: Option<(String, String)>,
    seen: Option<Seen>,
    slept: Option<(Now, Now)>,
    port: u16,
}

#[derive(Template)]
#[template(path = "desk/reached.html")]
struct ReachedPage {
    frame: Frame,
    safe: bool,
}

/// `GET /desk/reach`.
pub(super) async fn page(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Reach).await?;
    let reached = &desk.site.reached;
    let base = reached.address_for_listeners();
    let (token, seen) = {
        let mut test = desk.site.reach();
        let token = test.token.get_or_insert_with(app::one_time_secret).clone();
        (token, test.seen.clone())
    };
    let test = base.as_ref().and_then(|base| {
        let address = format!("{base}/reach/{token}");
        let picture = qr::svg(&address, "The test address as a QR code")?;
        Some((picture, address))
    });
    html(&ReachPage {
        frame,
        listens: reached
            .listens
            .map(|address| address.to_string())
            .unwrap_or_default(),
        openness: reached.openness(),
        test,
        seen,
        slept: site::last_sleep(),
        port: reached.listens.map_or(8484, |address| address.port()),
    })
}

/// `GET /desk/reach/seen`: for the script of the page.
pub(super) async fn seen(State(desk): State<Desk>) -> Json<serde_json::Value> {
    let seen = desk.site.reach().seen.clone();
    Json(serde_json::json!({ "said": seen.map(|seen| told(&seen)) }))
}

/// `GET /reach/{token}`: opened on a phone, it shows on the desk that the phone came through.
pub(super) async fn reached(
    State(desk): State<Desk>,
    way: Way,
    Path(token): Path<String>,
) -> Result<Html<String>, WebError> {
    {
        let mut test = desk.site.reach();
        if test.token.as_deref() != Some(token.as_str()) {
            return Err(WebError::NotFound);
        }
        test.seen = Some(Seen {
            at: Now::read(),
            safe: way.safe,
            this_machine: way.this_machine,
        });
    }
    html(&ReachedPage {
        frame: Frame::english(),
        safe: way.safe || way.this_machine,
    })
}

/// What the desk says of a device that came through.
fn told(seen: &Seen) -> String {
    let at = clock::time_of_day(seen.at);
    match (seen.this_machine, seen.safe) {
        (true, _) => {
            format!("Opened at {at} UTC by this machine itself. That says nothing yet of a phone.")
        }
        (false, true) => format!("Reached at {at} UTC, over an encrypted way."),
        (false, false) => format!("Reached at {at} UTC, in the clear."),
    }
}

impl ReachPage {
    fn state(&self) -> &'static str {
        match self.openness {
            Openness::ThisMachine => "Only this machine reaches Fair Hearing now.",
            Openness::Clear => "Other devices reach Fair Hearing now, in the clear.",
            Openness::Safe => "Other devices reach Fair Hearing now, over an encrypted way.",
        }
    }

    fn next(&self) -> &'static str {
        match (self.openness, &self.seen) {
            (Openness::ThisMachine, _) => {
                "Choose the network that your listeners are in, and start again with its options."
            }
            (_, Some(seen)) if !seen.this_machine => {
                "A device came through. Give the listeners their links."
            }
            _ => "Open the test address on a phone as a listener would hold it.",
        }
    }

    fn reached_at(&self) -> String {
        let nothing = || "Not reached yet.".to_owned();
        self.seen.as_ref().map_or_else(nothing, told)
    }

    fn slept(&self) -> Option<String> {
        let (from, to) = self.slept?;
        Some(format!(
            "It slept from {} to {} UTC: links failed meanwhile.",
            clock::time_of_day(from),
            clock::time_of_day(to)
        ))
    }
}
