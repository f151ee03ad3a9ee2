//! Invitations: further links of an open round, what became of each, and taking them back.

mod fresh;
mod slip;

pub(super) use fresh::forget;
pub(super) use fresh::links;
pub(super) use fresh::slips;
pub(super) use fresh::table;

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::Desk;
use super::address::of_round;
use super::field::Field;
use super::form::Filled;
use super::frame::DeskFrame;
use super::frame::Section;
use super::fresh_links::FreshLinks;
use super::rounds::link_says;
use super::rounds::until;
use super::sign_in::unprocessable;
use crate::app;
use crate::app::AppError;
use crate::app::Invitation;
use crate::app::LinkState;
use crate::app::ListenerProgress;
use crate::app::Now;
use crate::app::Person;
use crate::app::Progress;
use crate::app::WhichLink;
use crate::report::number;
use crate::study::ChildCode;
use crate::study::ListenerKind;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::web::WebError;
use crate::web::clock;
use crate::web::html;
use crate::web::reached::Openness;

/// The most that one form takes (ours).
const MOST: u32 = 500;

#[derive(Template)]
#[template(path = "desk/invitations/page.html")]
struct InvitationsPage {
    frame: DeskFrame,
    progress: Progress,
    openness: Openness,
    form: InvitationForm,
    fresh: Vec<FreshLinks>,
    /// Why a link was not taken back; empty for nothing.
    refused: String,
}

/// Whom to invite, as the form has it.
struct InvitationForm {
    open: bool,
    kind: ListenerKind,
    number: Field,
    days: Field,
    children: Vec<(ChildCode, bool)>,
    /// What is wrong with the form as a whole; empty for nothing.
    error: String,
}

/// `GET /desk/rounds/{round}/invitations`.
pub(super) async fn page(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    html(&fresh_page(&desk, &person, &round).await?)
}

/// `POST /desk/rounds/{round}/invitations`: makes links and shows them.
pub(super) async fn invite(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh_page(&desk, &person, &round).await?;
    let name = page.progress.round.clone();
    let Some(wanted) = page.form.read(&filled) else {
        return unprocessable(&page);
    };
    let by = person.clone();
    let invited = desk
        .try_act(move |workspace| app::invite_by(workspace, &name, &wanted, &by, Now::read()))
        .await?;
    match invited {
        Ok(invited) => {
            let fresh = FreshLinks::new(&person, invited.round, invited.links, invited.open_link);
            let address = of_round(&fresh.round, &format!("invitations/{}", fresh.id));
            desk.site.keep_links(fresh);
            Ok(Redirect::to(&address).into_response())
        }
        Err(wrong) => {
            page.form.error = wrong.to_string();
            unprocessable(&page)
        }
    }
}

/// `POST /desk/rounds/{round}/invitations/revoke`: takes one link back.
pub(super) async fn revoke(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let name = RoundName::new(&round).map_err(|_| WebError::NotFound)?;
    let number = |field| filled.text(field).parse::<u32>().ok();
    let which = match (number("link"), number("open-link")) {
        (Some(number), _) => WhichLink::Personal(number),
        (None, Some(number)) => WhichLink::Open(number),
        (None, None) => return Err(WebError::Unreadable),
    };
    let back = of_round(&name, "invitations");
    let by = person.clone();
    let revoked = desk
        .try_act(move |workspace| app::revoke_by(workspace, &name, which, &by, Now::read()))
        .await?;
    match revoked {
        Ok(_) => Ok(Redirect::to(&back).into_response()),
        Err(wrong) => {
            let mut page = fresh_page(&desk, &person, &round).await?;
            page.refused = wrong.to_string();
            unprocessable(&page)
        }
    }
}

async fn fresh_page(
    desk: &Desk,
    person: &Person,
    round: &str,
) -> Result<InvitationsPage, WebError> {
    let name = RoundName::new(round).map_err(|_| WebError::NotFound)?;
    let frame = desk.frame(person, Section::Rounds).await?;
    let fresh = desk.site.links_of(person, &name);
    let (progress, children) = desk
        .act(move |workspace| {
            let rounds = app::progress(workspace)?.into_iter();
            let progress = rounds.into_iter().find(|round| round.round == name);
            let progress = progress
                .ok_or_else(|| AppError::refused("there is no such round", "look under Rounds"))?;
            Ok((progress, app::recorded(workspace)?.children))
        })
        .await?;
    let children = children
        .into_iter()
        .filter_map(|child| ChildCode::new(&child.code).ok());
    Ok(InvitationsPage {
        frame,
        progress,
        openness: desk.site.reached.openness(),
        form: InvitationForm::new(children.map(|child| (child, false)).collect()),
        fresh,
        refused: String::new(),
    })
}

impl InvitationForm {
    fn new(children: Vec<(ChildCode, bool)>) -> Self {
        let mut number = Field::text("number", "How many listeners").hint(
            "Personal links: one is made for each. Open link: so many may come by it, and no more.",
        );
        number.kind = "number";
        let mut days = Field::text("days", "Days in which a link must be opened")
            .hint("Empty: as the plan says.");
        days.kind = "number";
        Self {
            open: false,
            kind: ListenerKind::Naive,
            number,
            days,
            children,
            error: String::new(),
        }
    }

    /// Takes over what was sent; nothing where a field is wrong, which it then says.
    fn read(&mut self, filled: &Filled) -> Option<Invitation> {
        self.open = filled.text("what") == "open";
        self.kind = filled.text("kind").parse().unwrap_or(self.kind);
        for (child, barred) in &mut self.children {
            *barred = filled.all("bar").any(|code| code == child.as_str());
        }
        filled
            .text("number")
            .trim()
            .clone_into(&mut self.number.value);
        filled.text("days").trim().clone_into(&mut self.days.value);
        let number = whole(&self.number.value);
        if number.is_none() {
            self.number.error = format!("Write a whole number from 1 to {MOST}.");
        }
        let days = whole(&self.days.value);
        if days.is_none() && !self.days.value.is_empty() {
            self.days.error = format!("Write a whole number from 1 to {MOST}, or leave it empty.");
            return None;
        }
        let number = number?;
        let barred = self.children.iter().filter(|(_, barred)| *barred);
        Some(Invitation {
            listeners: if self.open { 0 } else { number },
            open: self.open.then_some(number),
            kind: Some(self.kind),
            bars: barred.map(|(child, _)| child.clone()).collect(),
            days,
        })
    }
}

fn whole(text: &str) -> Option<u32> {
    text.parse()
        .ok()
        .filter(|number| (1..=MOST).contains(number))
}

impl InvitationsPage {
    fn is_open(&self) -> bool {
        self.progress.state == RoundState::Open
    }

    fn next(&self) -> &'static str {
        if !self.is_open() {
            "Nothing: this round takes no further listener."
        } else if self.progress.listeners.is_empty() && self.progress.open_links.is_empty() {
            "Make the first links, and give one to each listener."
        } else {
            "Give each listener a link. Make further ones where people do not come."
        }
    }

    /// Whether a link can be taken back with any effect.
    fn can_revoke(&self, listener: &ListenerProgress) -> bool {
        self.is_open() && listener.link != LinkState::Revoked
    }

    fn address(&self, page: &str) -> String {
        of_round(&self.progress.round, page)
    }
}
