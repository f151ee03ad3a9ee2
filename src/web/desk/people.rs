//! The people at the desk: who there is, and a new one.

use std::collections::BTreeSet;

use askama::Template;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Response;

use super::Desk;
use super::field::Field;
use super::form::Filled;
use super::frame::DeskFrame;
use super::frame::Section;
use super::sign_in::unprocessable;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::accounts;
use crate::app::accounts::Account;
use crate::app::accounts::Rights;
use crate::study::AccountName;
use crate::study::ChildCode;
use crate::study::Role;
use crate::web::WebError;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/people.html")]
struct PeoplePage {
    frame: DeskFrame,
    own_code: String,
    accounts: Vec<Account>,
    name: Field,
    rights: RightsFields,
}

/// The choice of a role, and of children for a clinician.
pub(super) struct RightsFields {
    /// The role that is chosen.
    pub(super) role: Role,
    /// Every child of the study, and whether it is chosen.
    pub(super) children: Vec<(ChildCode, bool)>,
    /// What is wrong with the choice.
    pub(super) error: String,
}

/// A one-time address, shown once.
#[derive(Template)]
#[template(path = "desk/link.html")]
struct LinkPage {
    frame: DeskFrame,
    name: AccountName,
    address: String,
}

/// `GET /desk/people`.
pub(super) async fn people(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    html(&fresh(&desk, &person).await?)
}

/// `POST /desk/people`: a new account, and the one-time address by which it gets its password.
pub(super) async fn add(
    State(desk): State<Desk>,
    person: Person,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person).await?;
    page.name.value = filled.text("name").to_owned();
    page.rights.choose(&filled);
    let name = match AccountName::new(filled.text("name")) {
        Ok(name) => name,
        Err(wrong) => {
            page.name.error = wrong.to_string();
            return unprocessable(&page);
        }
    };
    let rights = match page.rights.chosen() {
        Ok(rights) => rights,
        Err(wrong) => {
            page.rights.error = wrong.to_string();
            return unprocessable(&page);
        }
    };
    let added = desk
        .try_act({
            let (name, by) = (name.clone(), person.clone());
            move |workspace| {
                accounts::add_account(workspace, &name, rights, Some(&by), Now::read())?;
                accounts::offer_password_link(workspace, &name, Some(&by), Now::read())
            }
        })
        .await?;
    match added {
        Ok(secret) => show_link(&desk, &person, name, &secret).await,
        Err(wrong) => {
            page.name.error = wrong.to_string();
            unprocessable(&page)
        }
    }
}

/// The page that shows a one-time address once.
pub(super) async fn show_link(
    desk: &Desk,
    person: &Person,
    name: AccountName,
    secret: &str,
) -> Result<Response, WebError> {
    let page = LinkPage {
        frame: desk.frame(person, Section::People).await?,
        name,
        address: format!(
            "{}/desk/password/{secret}",
            desk.site.reached.address_for_staff()
        ),
    };
    Ok(html(&page)?.into_response())
}

impl RightsFields {
    /// The fields with what an account has, or with nothing chosen.
    pub(super) fn of(workspace: &Workspace, account: Option<&Account>) -> Result<Self, AppError> {
        let has = account.map(|account| account.children.clone());
        let has = has.unwrap_or_default();
        let children = app::recorded(workspace)?.children.into_iter();
        Ok(Self {
            role: account.map_or(Role::Preparer, |account| account.role),
            children: children
                .filter_map(|child| ChildCode::new(&child.code).ok())
                .map(|code| {
                    let chosen = has.contains(&code);
                    (code, chosen)
                })
                .collect(),
            error: String::new(),
        })
    }

    /// Every role, with what it may do and whether it is chosen.
    pub(super) fn roles(&self) -> Vec<(Role, &'static str, bool)> {
        let roles = Role::ALL.iter();
        roles
            .map(|role| (*role, may(*role), *role == self.role))
            .collect()
    }

    /// Takes over what a form sent.
    pub(super) fn choose(&mut self, filled: &Filled) {
        self.role = filled.text("role").parse().unwrap_or(self.role);
        let sent: BTreeSet<&str> = filled.all("child").collect();
        for (code, chosen) in &mut self.children {
            *chosen = sent.contains(code.as_str());
        }
    }

    /// What is chosen. Children that are chosen beside a role that reads of all do no harm and are left out.
    pub(super) fn chosen(&self) -> Result<Rights, AppError> {
        let chosen = self.children.iter().filter(|(_, chosen)| *chosen);
        let children = chosen.map(|(code, _)| code.clone());
        match self.role {
            Role::Clinician => Rights::new(self.role, children.collect()),
            role => Rights::new(role, BTreeSet::new()),
        }
    }
}

/// What a role may do, in a sentence.
const fn may(role: Role) -> &'static str {
    match role {
        Role::Researcher => "Everything: plans, listeners, results, people.",
        Role::Preparer => "Recordings and tokens. No listener and no result.",
        Role::Clinician => "Reads of the children whom you name, and changes nothing.",
    }
}

impl PeoplePage {
    /// The children of an account, as the table says them.
    fn children_of(account: &Account) -> String {
        let codes: Vec<&str> = account.children.iter().map(ChildCode::as_str).collect();
        if account.role == Role::Clinician {
            codes.join(", ")
        } else {
            "all".to_owned()
        }
    }
}

async fn fresh(desk: &Desk, person: &Person) -> Result<PeoplePage, WebError> {
    let (accounts, rights) = desk
        .act(|workspace| {
            let rights = RightsFields::of(workspace, None)?;
            Ok((accounts::accounts(workspace)?, rights))
        })
        .await?;
    Ok(PeoplePage {
        frame: desk.frame(person, Section::People).await?,
        own_code: person.code.clone(),
        accounts,
        name: Field::text("name", "Name")
            .hint("By it the person signs in. It stays on this machine and out of the log."),
        rights,
    })
}
