//! The study's settings: shown, and changed until a round is sealed with them.

use askama::Template;
use axum::Form;
use axum::extract::State;
use axum::extract::rejection::FormRejection;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;
use serde::Deserialize;

use super::Desk;
use super::frame::DeskFrame;
use super::frame::Section;
use super::sign_in::unprocessable;
use crate::app;
use crate::app::Now;
use crate::app::Person;
use crate::app::SettingsForm;
use crate::study::Word;
use crate::web::WebError;
use crate::web::html;
use crate::web::languages::Language;

#[derive(Template)]
#[template(path = "desk/settings.html")]
struct SettingsPage {
    frame: DeskFrame,
    form: SettingsForm,
    /// The languages of the listener's page: tag, and name in itself.
    languages: Vec<(String, String)>,
    /// The name of the one that listeners read: another one where that of the settings is not there.
    spoken: String,
    sealed: bool,
    refused: Option<String>,
}

/// What the form sends.
#[derive(Deserialize)]
pub(super) struct Sent {
    name: String,
    target: String,
    phases: String,
    cohorts: String,
    #[serde(default)]
    chosen_low: String,
    words: String,
    language: String,
    level_lufs: String,
}

/// `GET /desk/settings`.
pub(super) async fn settings(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    let (form, refused) = desk
        .act(|workspace| {
            // Settings that cannot be read are shown as a fresh form, with what is wrong: they can be mended here.
            Ok(match workspace.settings() {
                Ok(settings) => (SettingsForm::of(&settings), None),
                Err(error) => (SettingsForm::fresh(), Some(error.to_string())),
            })
        })
        .await?;
    html(&page(&desk, &person, form, refused).await?)
}

/// `POST /desk/settings`.
pub(super) async fn change(
    State(desk): State<Desk>,
    person: Person,
    filled: Result<Form<Sent>, FormRejection>,
) -> Result<Response, WebError> {
    let Form(sent) = filled.map_err(|_| WebError::Unreadable)?;
    let form = SettingsForm {
        name: sent.name,
        target: sent.target,
        phases: sent.phases,
        cohorts: sent.cohorts,
        chosen_low: sent.chosen_low,
        words: sent.words,
        language: sent.language,
        level_lufs: sent.level_lufs,
    };
    let stands = desk
        .act(|workspace| Ok(workspace.settings()?.language))
        .await
        .ok();
    if !desk.languages.has(&form.language) && stands.as_ref() != Some(&form.language) {
        let refused = no_such_language(&desk, &form.language);
        return unprocessable(&page(&desk, &person, form, Some(refused)).await?);
    }
    let asked = form.clone();
    let changed = desk
        .try_act(move |workspace| app::change_settings(workspace, &asked, Now::read()))
        .await?;
    match changed {
        Ok(()) => Ok(Redirect::to("/desk/settings").into_response()),
        Err(error) => unprocessable(&page(&desk, &person, form, Some(error.to_string())).await?),
    }
}

async fn page(
    desk: &Desk,
    person: &Person,
    form: SettingsForm,
    refused: Option<String>,
) -> Result<SettingsPage, WebError> {
    Ok(SettingsPage {
        frame: desk.frame(person, Section::Study).await?,
        sealed: desk.act(app::settings_are_sealed).await?,
        languages: languages_of(desk),
        spoken: name_of(desk.languages.of(&form.language)),
        form,
        refused,
    })
}

/// Why a language cannot be chosen, and what would help.
fn no_such_language(desk: &Desk, wanted: &str) -> String {
    let tags: Vec<_> = desk.languages.all().map(|one| one.tag.as_str()).collect();
    format!(
        "There is no language `{wanted}` here; choose one of {}, or add the file `languages/{wanted}.toml` to the study’s \
         folder and start the program anew",
        tags.join(", ")
    )
}

fn languages_of(desk: &Desk) -> Vec<(String, String)> {
    let all = desk.languages.all();
    all.map(|one| (one.tag.clone(), name_of(one))).collect()
}

/// A language's own name as it stands in a list: many write it with a small letter.
fn name_of(language: &Language) -> String {
    let mut letters = language.texts.page.language.chars();
    let first = letters.next().map(char::to_uppercase);
    first.into_iter().flatten().chain(letters).collect()
}

impl SettingsPage {
    /// The words of the probe, as far as they can be read.
    fn words(&self) -> Vec<Word> {
        let lines = self.form.words.lines();
        lines.filter_map(|line| line.trim().parse().ok()).collect()
    }

    /// The name of the language; its tag where there is no such language.
    fn language(&self) -> &str {
        let named = self.languages.iter().find(|(tag, _)| self.is_chosen(tag));
        named.map_or(&self.form.language, |(_, name)| name)
    }

    fn is_chosen(&self, tag: &str) -> bool {
        self.form.language.eq_ignore_ascii_case(tag)
    }

    fn language_is_there(&self) -> bool {
        self.languages.iter().any(|(tag, _)| self.is_chosen(tag))
    }

    const fn next(&self) -> &'static str {
        if self.sealed {
            "Nothing to do here: these settings are sealed with a round."
        } else {
            "Set the phases and the words before the first recording."
        }
    }
}
