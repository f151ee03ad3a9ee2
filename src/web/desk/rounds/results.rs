//! What an unlocked round shows: all of its report in the frame of the desk, and the report as one page that stands alone.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;
use axum::response::Response;

use super::turn::named;
use crate::app;
use crate::app::Findings;
use crate::app::Person;
use crate::report;
use crate::report::number;
use crate::study::RoundName;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;
use crate::web::standing;

#[derive(Template)]
#[template(path = "desk/results.html")]
struct ResultsPage {
    frame: DeskFrame,
    round: RoundName,
    findings: Findings,
    /// The sections of the report, as HTML.
    sections: String,
}

/// `GET /desk/rounds/{round}/results`: once the round is unlocked.
pub(super) async fn results(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    let round = named(&round)?;
    let findings = found(&desk, &round).await?;
    html(&ResultsPage {
        frame: desk.frame(&person, Section::Rounds).await?,
        round,
        sections: report::sections(&findings.round)?,
        findings,
    })
}

/// `GET /desk/rounds/{round}/report`: the page that stands alone, to print or to keep.
pub(super) async fn standing_report(
    State(desk): State<Desk>,
    Path(round): Path<String>,
) -> Result<Response, WebError> {
    let findings = found(&desk, &named(&round)?).await?;
    let page = report::page(&findings.round)?;
    Ok(standing(page, &report::policy()))
}

async fn found(desk: &Desk, round: &RoundName) -> Result<Findings, WebError> {
    let name = round.clone();
    desk.act(move |workspace| app::findings(workspace, &app::unlocked(workspace, &name)?))
        .await
}

impl ResultsPage {
    /// Listeners who were kept, of all, in a sentence.
    fn kept(&self) -> String {
        let listeners = &self.findings.round.listeners.listeners;
        let kept = listeners.iter().filter(|listener| listener.kept).count();
        format!(
            "{} of {} kept by the sealed rules",
            number::count(kept),
            number::counted(listeners.len(), "listener"),
        )
    }

    fn divided(&self) -> usize {
        self.findings.round.consensus.contested.len()
    }
}
