//! Links that were just made, in three forms: a table to copy, a file for a mail merge, slips to print.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::http::header::CONTENT_DISPOSITION;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::slip::Slip;
use crate::app;
use crate::app::Person;
use crate::study::RoundName;
use crate::web::WebError;
use crate::web::clock;
use crate::web::desk::Desk;
use crate::web::desk::address::of_round;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::fresh_links::FreshLinks;
use crate::web::desk::rounds::until;
use crate::web::html;
use crate::web::languages::Language;
use crate::web::texts::SlipTexts;

#[derive(Template)]
#[template(path = "desk/invitations/links.html")]
struct LinksPage {
    frame: DeskFrame,
    batch: FreshLinks,
    rows: Vec<Row>,
    only_here: bool,
}

#[derive(Template)]
#[template(path = "desk/invitations/slips.html")]
struct SlipsPage<'a> {
    frame: DeskFrame,
    language: &'a Language,
    words: &'a SlipTexts,
    slips: Vec<Slip>,
    back: String,
}

/// One link as it is given away.
struct Row {
    /// What the link is called at the desk: its number, or that it is open.
    name: String,
    /// The listener's code; empty for an open link.
    listener: String,
    /// The address.
    address: String,
    /// The last day on which it can be opened for the first time; empty: as long as the round is open.
    until: String,
}

/// `GET /desk/rounds/{round}/invitations/{batch}`: the links as a table.
pub(in crate::web::desk) async fn links(
    State(desk): State<Desk>,
    person: Person,
    Path((round, batch)): Path<(String, String)>,
) -> Result<Response, WebError> {
    let Some(batch) = kept(&desk, &person, &round, &batch)? else {
        return gone(&round);
    };
    let frame = desk.frame(&person, Section::Rounds).await?;
    let page = LinksPage {
        frame,
        rows: rows(&desk, &batch).await?,
        batch,
        only_here: desk.site.reached.address_for_listeners().is_none(),
    };
    Ok(html(&page)?.into_response())
}

/// `GET …/links.csv`: the same for a mail merge.
pub(in crate::web::desk) async fn table(
    State(desk): State<Desk>,
    person: Person,
    Path((round, batch)): Path<(String, String)>,
) -> Result<Response, WebError> {
    let Some(batch) = kept(&desk, &person, &round, &batch)? else {
        return gone(&round);
    };
    // Numbers, codes, addresses and days hold no comma, quote or beginning of a formula.
    let mut csv = "link,listener,address,open_until\r\n".to_owned();
    for row in rows(&desk, &batch).await? {
        let line = [row.name, row.listener, row.address, row.until].join(",");
        csv.push_str(&line);
        csv.push_str("\r\n");
    }
    let headers = [
        (CONTENT_TYPE, "text/csv; charset=utf-8"),
        (CONTENT_DISPOSITION, "attachment; filename=\"links.csv\""),
    ];
    Ok((headers, csv).into_response())
}

/// `GET …/slips`: the same to print and to cut, each with a code for a camera.
pub(in crate::web::desk) async fn slips(
    State(desk): State<Desk>,
    person: Person,
    Path((round, batch)): Path<(String, String)>,
) -> Result<Response, WebError> {
    let Some(batch) = kept(&desk, &person, &round, &batch)? else {
        return gone(&round);
    };
    let frame = desk.frame(&person, Section::Rounds).await?;
    let language = desk
        .act(|workspace| Ok(workspace.settings()?.language))
        .await?;
    let language = desk.languages.of(&language);
    let words = &language.texts.slip;
    let rows = rows(&desk, &batch).await?;
    let page = SlipsPage {
        frame,
        slips: rows
            .into_iter()
            .map(|row| Slip::new(row.name, row.address, &row.until, words))
            .collect(),
        language,
        words,
        back: of_round(&batch.round, &format!("invitations/{}", batch.id)),
    };
    Ok(html(&page)?.into_response())
}

/// `POST …/forget`: the links are gone from this machine before their time.
pub(in crate::web::desk) async fn forget(
    State(desk): State<Desk>,
    person: Person,
    Path((round, batch)): Path<(String, String)>,
) -> Result<Response, WebError> {
    desk.site.forget_links(&person, &batch);
    gone(&round)
}

fn kept(
    desk: &Desk,
    person: &Person,
    round: &str,
    batch: &str,
) -> Result<Option<FreshLinks>, WebError> {
    let name = RoundName::new(round).map_err(|_| WebError::NotFound)?;
    let all = desk.site.links_of(person, &name);
    Ok(all.into_iter().find(|links| links.id == batch))
}

/// Where the links are no longer kept, the page of invitations says what to do.
fn gone(round: &str) -> Result<Response, WebError> {
    let name = RoundName::new(round).map_err(|_| WebError::NotFound)?;
    Ok(Redirect::to(&of_round(&name, "invitations")).into_response())
}

async fn rows(desk: &Desk, batch: &FreshLinks) -> Result<Vec<Row>, WebError> {
    let reached = &desk.site.reached;
    let base = reached
        .address_for_listeners()
        .unwrap_or_else(|| reached.address_here());
    let name = batch.round.clone();
    let rounds = desk.act(app::progress).await?;
    let progress = rounds
        .into_iter()
        .find(|round| round.round == name)
        .ok_or(WebError::NotFound)?;
    let personal = batch.links.iter().map(|link| {
        let known = progress.listeners.iter();
        let listener = known.into_iter().find(|one| one.number == link.number);
        Row {
            name: link.number.to_string(),
            listener: link.listener.to_string(),
            address: format!("{base}{}", link.path),
            until: day(listener.and_then(|one| one.expires.as_deref())),
        }
    });
    let open = batch.open.iter().map(|link| {
        let known = progress.open_links.iter();
        let kept = known.into_iter().find(|one| one.number == link.number);
        Row {
            name: format!("open {}", link.number),
            listener: String::new(),
            address: format!("{base}{}", link.path),
            until: day(kept.and_then(|one| one.expires.as_deref())),
        }
    });
    Ok(personal.chain(open).collect())
}

fn day(expires: Option<&str>) -> String {
    expires
        .map(|moment| until(Some(moment)))
        .unwrap_or_default()
}

impl LinksPage {
    fn address(&self, page: &str) -> String {
        of_round(&self.batch.round, page)
    }
}
