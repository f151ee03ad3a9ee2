//! Rounds: how each goes on, and what an unlocked one shows.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::http::header::CONTENT_SECURITY_POLICY;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Response;

use super::Desk;
use super::frame::DeskFrame;
use super::frame::Section;
use crate::app;
use crate::app::LinkState;
use crate::app::ListeningQuality;
use crate::app::Person;
use crate::app::Progress;
use crate::report;
use crate::report::number;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::web::WebError;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/rounds.html")]
struct RoundsPage {
    frame: DeskFrame,
    rounds: Vec<Progress>,
}

#[derive(Template)]
#[template(path = "desk/round.html")]
struct RoundPage {
    frame: DeskFrame,
    progress: Progress,
    listeners: Vec<ListenerLine>,
}

/// A listener as the page shows her.
struct ListenerLine {
    number: u32,
    code: String,
    heard: String,
    state: &'static str,
    until: String,
    checks: String,
    repeats: String,
    time: String,
    set_aside: String,
}

/// `GET /desk/rounds`.
pub(super) async fn rounds(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Rounds).await?;
    let rounds = desk.act(app::progress).await?;
    html(&RoundsPage { frame, rounds })
}

/// `GET /desk/rounds/{round}`: how far the round has come. Nothing in it tells an outcome.
pub(super) async fn round(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    let name = RoundName::new(&round).map_err(|_| WebError::NotFound)?;
    let frame = desk.frame(&person, Section::Rounds).await?;
    let (rounds, quality) = desk
        .act(move |workspace| {
            let quality = app::quality(workspace, &name)?;
            Ok((app::progress(workspace)?, quality))
        })
        .await?;
    let progress = rounds
        .into_iter()
        .find(|progress| progress.round.as_str() == round)
        .ok_or(WebError::NotFound)?;
    html(&RoundPage {
        frame,
        listeners: lines(&progress, &quality),
        progress,
    })
}

/// `GET /desk/rounds/{round}/results`: the report, once the round is unlocked.
pub(super) async fn results(
    State(desk): State<Desk>,
    Path(round): Path<String>,
) -> Result<Response, WebError> {
    let name = RoundName::new(&round).map_err(|_| WebError::NotFound)?;
    let findings = desk
        .act(move |workspace| app::findings(workspace, &app::unlocked(workspace, &name)?))
        .await?;
    let page = report::page(&findings.round)?;
    // The page carries its style in it: its own policy lets that in and nothing else.
    let policy = format!("{}; frame-ancestors 'none'", report::policy());
    Ok(([(CONTENT_SECURITY_POLICY, policy)], Html(page)).into_response())
}

impl RoundsPage {
    fn next(&self) -> &'static str {
        let is = |state| self.rounds.iter().any(|round| round.state == state);
        if is(RoundState::Open) {
            "Follow the open round until every word has its judgements, then close it."
        } else if is(RoundState::Closed) {
            "Judge the masked graphs if you want to, then unlock the closed round."
        } else if self.rounds.is_empty() {
            "Design the first round: its forecast tells what it costs and what it can show."
        } else {
            "Read the results, or seal a further round."
        }
    }
}

impl RoundPage {
    const fn next(&self) -> &'static str {
        match self.progress.state {
            RoundState::Draft => "Seal its plan, and give the links to the listeners.",
            RoundState::Open => {
                "Close it once every word has the judgements that are wanted of it."
            }
            RoundState::Closed => "Unlock it, and its results may be seen.",
            RoundState::Unlocked => "Read the results.",
        }
    }

    const fn care(&self) -> &'static str {
        match self.progress.state {
            RoundState::Draft | RoundState::Open => {
                "Closing cannot be taken back. A round that is closed early has wider intervals."
            }
            RoundState::Closed => "Unlocking is logged and cannot be taken back.",
            RoundState::Unlocked => {
                "The figures inform a licensed professional's judgement and do not replace it."
            }
        }
    }
}

/// Judgements so far, of those wanted.
fn judged(progress: &Progress) -> String {
    format!(
        "{} of {}",
        number::count(progress.judgements),
        number::count(wanted(progress)),
    )
}

fn wanted(progress: &Progress) -> usize {
    progress.tokens * progress.wanted as usize
}

/// What a state means for whoever reads it.
const fn state_says(state: RoundState) -> &'static str {
    match state {
        RoundState::Draft => "Not sealed yet.",
        RoundState::Open => "Listeners can judge. No result can be seen.",
        RoundState::Closed => "No further judgement. No result can be seen until it is unlocked.",
        RoundState::Unlocked => "Its results may be seen.",
    }
}

fn lines(progress: &Progress, quality: &[ListeningQuality]) -> Vec<ListenerLine> {
    let listeners = progress.listeners.iter();
    listeners
        .map(|listener| {
            let found = quality.iter().find(|of| of.listener == listener.listener);
            ListenerLine {
                number: listener.number,
                code: listener.listener.clone(),
                heard: out_of((listener.done, listener.of)),
                state: link_says(listener.link),
                until: until(listener.expires.as_deref()),
                checks: out_of(found.map(|of| of.checks).unwrap_or_default()),
                repeats: out_of(found.map(|of| of.repeats).unwrap_or_default()),
                time: seconds(found.and_then(|of| of.median_rt_ms)),
                set_aside: number::count(found.map(|of| of.set_aside).unwrap_or_default()),
            }
        })
        .collect()
}

pub(super) const fn link_says(state: LinkState) -> &'static str {
    match state {
        LinkState::Invited => "invited",
        LinkState::Opened => "opened",
        LinkState::UnderWay => "under way",
        LinkState::Finished => "finished",
        LinkState::LetGo => "let go",
        LinkState::Revoked => "taken back",
    }
}

/// The day on which a link runs out.
pub(super) fn until(expires: Option<&str>) -> String {
    let day = expires.and_then(|moment| moment.split('T').next());
    day.unwrap_or(number::NONE).to_owned()
}

/// What has become of a round's links, in one line.
fn links_say(progress: &Progress) -> String {
    let of = |state| {
        let those = progress.listeners.iter().filter(|one| one.link == state);
        number::count(those.count())
    };
    let by_open = progress.listeners.iter().filter(|one| one.by_open_link);
    format!(
        "{} listeners, {} of them by open links. Not opened {}, opened {}, under way {}, finished {}, let go {}, taken back {}, withdrew {}.",
        number::count(progress.listeners.len() + progress.withdrew),
        number::count(by_open.count()),
        of(LinkState::Invited),
        of(LinkState::Opened),
        of(LinkState::UnderWay),
        of(LinkState::Finished),
        of(LinkState::LetGo),
        of(LinkState::Revoked),
        number::count(progress.withdrew),
    )
}

/// Listeners who are done, of those invited.
fn finished(progress: &Progress) -> String {
    let done = progress
        .listeners
        .iter()
        .filter(|listener| listener.finished);
    out_of((done.count(), progress.listeners.len()))
}

fn seconds(ms: Option<u32>) -> String {
    number::maybe(ms.map(|ms| f64::from(ms) / 1000.0), 2)
}

/// "7 of 8", or a dash where there was none.
fn out_of(part: (usize, usize)) -> String {
    if part.1 == 0 {
        number::NONE.to_owned()
    } else {
        format!("{} of {}", number::count(part.0), number::count(part.1))
    }
}
