//! The log: what happened when, by whom. Nothing in it tells an outcome or a child.

use askama::Template;
use axum::extract::Query;
use axum::extract::State;
use axum::extract::rejection::QueryRejection;
use axum::response::Html;
use serde::Deserialize;

use super::Desk;
use super::field::Field;
use super::frame::DeskFrame;
use super::frame::Section;
use crate::app;
use crate::app::Audit;
use crate::app::AuditEvent;
use crate::app::AuditFilter;
use crate::app::Now;
use crate::app::Person;
use crate::web::WebError;
use crate::web::clock;
use crate::web::html;

/// What is asked of the log, as it stands in the address.
#[derive(Deserialize)]
pub(super) struct Asked {
    #[serde(default)]
    kind: String,
    #[serde(default)]
    day: String,
    #[serde(default)]
    before: Option<u64>,
}

#[derive(Template)]
#[template(path = "desk/audit.html")]
struct AuditPage {
    frame: DeskFrame,
    kind: String,
    day: Field,
    audit: Audit,
}

/// `GET /desk/audit`.
pub(super) async fn audit(
    State(desk): State<Desk>,
    person: Person,
    asked: Result<Query<Asked>, QueryRejection>,
) -> Result<Html<String>, WebError> {
    let Query(asked) = asked.map_err(|_| WebError::Unreadable)?;
    let mut day = Field::text("day", "Day (UTC)").value(&asked.day);
    day.kind = "date";
    let wanted = match asked.day.parse() {
        Ok(wanted) => Some(wanted),
        Err(_) if asked.day.is_empty() => None,
        Err(_) => {
            "this is no day; write it as 2025-06-02".clone_into(&mut day.error);
            None
        }
    };
    let filter = AuditFilter {
        kind: Some(asked.kind.clone()).filter(|kind| !kind.is_empty()),
        day: wanted,
        before: asked.before,
    };
    let audit = desk
        .act(move |workspace| app::audit(workspace, &filter))
        .await?;
    html(&AuditPage {
        frame: desk.frame(&person, Section::Audit).await?,
        kind: asked.kind,
        day,
        audit,
    })
}

impl AuditPage {
    fn when(event: &AuditEvent) -> String {
        clock::day_and_time(Now::at_ms(event.at_ms))
    }

    /// What stands beside an event: "round spring, by password".
    fn said(event: &AuditEvent) -> String {
        let said = event
            .said
            .iter()
            .map(|(name, value)| format!("{name} {value}"));
        said.collect::<Vec<_>>().join(", ")
    }

    /// How often this kind of event is there.
    fn times(&self, kind: &str) -> String {
        let found = self.audit.kinds.iter().find(|(known, _)| known == kind);
        found.map_or_else(String::new, |(_, times)| times.to_string())
    }
}
