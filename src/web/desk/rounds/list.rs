//! All rounds of the study.

use askama::Template;
use axum::extract::State;
use axum::response::Html;

use super::follow::judged;
use crate::app;
use crate::app::Person;
use crate::app::Progress;
use crate::report::number;
use crate::study::RoundState;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/rounds.html")]
struct RoundsPage {
    frame: DeskFrame,
    rounds: Vec<Progress>,
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

impl RoundsPage {
    fn next(&self) -> &'static str {
        let is = |state| self.rounds.iter().any(|round| round.state == state);
        if is(RoundState::Open) {
            "Follow the open round until every word has its judgements, then close it."
        } else if is(RoundState::Closed) {
            "Judge the unnamed graphs of the closed round if that was planned, then unlock it."
        } else if self.rounds.is_empty() {
            "Design the first round: its forecast tells what it costs and what it can show."
        } else {
            "Read the results, or seal a further round."
        }
    }
}

/// Listeners who are done, of those invited.
fn finished(progress: &Progress) -> String {
    let done = progress
        .listeners
        .iter()
        .filter(|listener| listener.finished);
    format!(
        "{} of {}",
        number::count(done.count()),
        number::count(progress.listeners.len())
    )
}
