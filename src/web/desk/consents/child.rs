//! What one family agreed to.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::list::some_label;
use super::says;
use crate::app;
use crate::app::AppError;
use crate::app::Consented;
use crate::app::Now;
use crate::app::Person;
use crate::study::Assent;
use crate::study::ChildCode;
use crate::study::Consent;
use crate::study::ConsentVersion;
use crate::study::Scope;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::field::Field;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::sign_in::unprocessable;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/consents/child.html")]
struct ChildPage {
    frame: DeskFrame,
    known: Consented,
    version: Field,
    given_on: Field,
    keep_until: Field,
    scopes: Vec<Scope>,
    assent: Option<Assent>,
    label: Field,
    /// Why nothing was noted; empty where nothing was asked.
    problem: String,
}

/// `GET /desk/children/{child}/consent`.
pub(super) async fn page(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
) -> Result<Html<String>, WebError> {
    html(&fresh(&desk, &person, &code).await?)
}

/// `POST /desk/children/{child}/consent`: it takes the place of what was noted before.
pub(super) async fn note(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person, &code).await?;
    let Some(consent) = page.read(&filled) else {
        "Nothing was noted: see the lines that are marked".clone_into(&mut page.problem);
        return unprocessable(&page);
    };
    let (child, by) = (page.known.child.code.clone(), person.clone());
    let noted = desk
        .try_act(move |workspace| {
            app::record_consent_by(workspace, &child, &consent, &by, Now::read())
        })
        .await?;
    answered(page, noted)
}

/// `POST /desk/children/{child}/label`.
pub(super) async fn label(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person, &code).await?;
    filled.text("label").clone_into(&mut page.label.value);
    let child = page.known.child.code.clone();
    let label = some_label(&page.label.value);
    let kept = match label {
        Err(wrong) => Err(wrong),
        Ok(label) => {
            desk.try_act(move |workspace| app::label_child(workspace, &child, label.as_ref()))
                .await?
        }
    };
    answered(page, kept)
}

fn answered(mut page: ChildPage, done: Result<(), AppError>) -> Result<Response, WebError> {
    match done {
        Ok(()) => Ok(Redirect::to("/desk/consents").into_response()),
        Err(refused) => {
            page.problem = refused.to_string();
            unprocessable(&page)
        }
    }
}

async fn fresh(desk: &Desk, person: &Person, code: &str) -> Result<ChildPage, WebError> {
    let code = ChildCode::new(code).map_err(|_| WebError::NotFound)?;
    let children = desk
        .act(|workspace| app::consented(workspace, Now::read()))
        .await?;
    let known = children.into_iter().find(|one| one.child.code == code);
    let known = known.ok_or(WebError::NotFound)?;
    let frame = desk.frame(person, Section::Study).await?;
    Ok(ChildPage::of(frame, known))
}

impl ChildPage {
    fn of(frame: DeskFrame, known: Consented) -> Self {
        let consent = known.child.consent.clone();
        let version = consent.as_ref().map(|consent| consent.version.to_string());
        let given_on = consent.as_ref().map(|consent| consent.given_on.to_string());
        let keep_until = consent.as_ref().and_then(|consent| consent.keep_until);
        let scopes = Scope::ALL.iter().copied();
        let holds = |scope: &Scope| {
            consent
                .as_ref()
                .is_some_and(|consent| consent.scopes.holds(*scope))
        };
        let label = known.child.label.as_ref();
        Self {
            frame,
            version: Field::text("version", "Version of the text that was signed")
                .hint("As it stands on the form, such as “2, March”.")
                .value(&version.unwrap_or_default()),
            given_on: Field::date("given_on", "Signed on").value(&given_on.unwrap_or_default()),
            keep_until: Field::date("keep_until", "Recordings may be kept until")
                .hint("Empty where the family set no day.")
                .value(&keep_until.map_or_else(String::new, |last| last.to_string())),
            scopes: scopes.filter(holds).collect(),
            assent: consent.as_ref().map(|consent| consent.assent),
            label: Field::text("label", "Label")
                .hint("It stays on these pages: no listener, export or log has it.")
                .value(label.map_or("", |label| label.as_str())),
            known,
            problem: String::new(),
        }
    }

    /// What was entered, as a record; `None` where a line is wrong, which then says so.
    fn read(&mut self, filled: &Filled) -> Option<Consent> {
        for field in [&mut self.version, &mut self.given_on, &mut self.keep_until] {
            filled.text(field.name).trim().clone_into(&mut field.value);
        }
        self.scopes = filled
            .all("scope")
            .filter_map(|scope| scope.parse().ok())
            .collect();
        self.assent = filled.text("assent").parse().ok();
        let version = ConsentVersion::new(&self.version.value);
        if let Err(wrong) = &version {
            self.version.error = format!("{wrong}.");
        }
        let given_on = self.given_on.value.parse();
        if given_on.is_err() {
            NO_DAY.clone_into(&mut self.given_on.error);
        }
        let keep_until = match self.keep_until.value.as_str() {
            "" => None,
            day => {
                let last = day.parse();
                if last.is_err() {
                    NO_DAY.clone_into(&mut self.keep_until.error);
                    return None;
                }
                last.ok()
            }
        };
        Some(Consent {
            version: version.ok()?,
            given_on: given_on.ok()?,
            scopes: self.scopes.iter().copied().collect(),
            assent: self.assent?,
            keep_until,
        })
    }

    fn holds(&self, scope: Scope) -> bool {
        self.scopes.contains(&scope)
    }

    fn says_assent(&self, assent: Assent) -> bool {
        self.assent == Some(assent)
    }
}

const NO_DAY: &str = "This is no day: write it as 2026-03-09.";

/// A scope as a form asks for it.
const fn scope_says(scope: Scope) -> &'static str {
    match scope {
        Scope::Staff => "The clinic’s own staff",
        Scope::Research => "Those who take part in the research, experts among them",
        Scope::Remote => "Lay listeners elsewhere, who open a link",
        Scope::Example => "Whoever is shown how a sound can be: as example, practice or check word",
    }
}

/// What the child says, as a form asks for it.
const fn assent_says(assent: Assent) -> &'static str {
    match assent {
        Assent::Given => "The child agrees",
        Assent::Refused => {
            "The child does not want it: then nobody is given the recordings, whatever the family signed"
        }
        Assent::NotAsked => "The child was too young to be asked",
    }
}
