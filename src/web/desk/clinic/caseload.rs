//! All children of whoever reads: who changed, who cannot be told, whose probe is due. By code, never by score.

use askama::Template;
use axum::extract::State;
use axum::response::Html;

use crate::app;
use crate::app::Case;
use crate::app::Caseload;
use crate::app::Now;
use crate::app::Person;
use crate::report::clinic;
use crate::report::clinic::Brief;
use crate::report::clinic::Standing;
use crate::report::number;
use crate::study::Role;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;

#[derive(Template)]
#[template(path = "clinic/caseload.html")]
struct CaseloadPage {
    frame: DeskFrame,
    loaded: Caseload,
}

/// Children who stand alike.
struct Part {
    title: &'static str,
    children: Vec<(String, Brief)>,
}

/// `GET /desk/caseload`.
pub(super) async fn caseload(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Caseload).await?;
    let loaded = desk
        .act(move |workspace| app::caseload(workspace, &person, Now::read()))
        .await?;
    html(&CaseloadPage { frame, loaded })
}

impl CaseloadPage {
    fn brief(&self, case: &Case) -> Option<Brief> {
        let found = self.loaded.rounds.get(case.round?)?;
        clinic::brief(found, case.code.as_str())
    }

    /// The children of whom something was heard.
    fn parts(&self) -> Vec<Part> {
        let children = self.loaded.children.iter();
        let briefs: Vec<(String, Brief)> = children
            .filter_map(|case| Some((case.code.to_string(), self.brief(case)?)))
            .collect();
        let parts = [
            (Standing::Changed, "Changed"),
            (Standing::CannotTell, "Cannot be told yet"),
            (Standing::Unchanged, "No change that matters"),
        ];
        let parts = parts.map(|(standing, title)| Part {
            title,
            children: briefs
                .iter()
                .filter(|(_, brief)| brief.standing == standing)
                .cloned()
                .collect(),
        });
        parts
            .into_iter()
            .filter(|part| !part.children.is_empty())
            .collect()
    }

    /// Children of whom nothing was heard, as a list.
    fn unheard(&self) -> String {
        let children = self.loaded.children.iter();
        let codes: Vec<&str> = children
            .filter(|case| self.brief(case).is_none())
            .map(|case| case.code.as_str())
            .collect();
        codes.join(", ")
    }

    /// When a probe is due, and by which rule.
    fn rule(&self) -> String {
        self.loaded.usual_days.map_or_else(
            || "No two neighbouring sessions of this study have dates, so nothing is known of when the next one is due.".to_owned(),
            |days| {
                format!(
                    "A probe is due {} after the last session: the middle of the gaps between neighbouring dated sessions of one phase, over all children of the study.",
                    number::counted(days as usize, "day")
                )
            },
        )
    }
}
