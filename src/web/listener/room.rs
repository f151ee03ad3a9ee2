//! What every handler of the listener's page shares: the study, and the languages of the page.

use std::sync::Arc;

use axum::http::HeaderMap;
use axum::http::header::ACCEPT_LANGUAGE;

use super::error::ListenerError;
use super::texts::Languages;
use super::texts::Texts;
use super::texts::TextsError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::listening::ListeningError;
use crate::web::page::Frame;

#[derive(Clone)]
pub(super) struct Room {
    workspace: Workspace,
    languages: Arc<Languages>,
}

impl Room {
    pub(super) fn new(workspace: Workspace) -> Result<Self, TextsError> {
        Ok(Self {
            workspace,
            languages: Arc::new(Languages::load()?),
        })
    }

    /// Does an act where it may wait for the disk, now.
    pub(super) async fn act<T: Send + 'static>(
        &self,
        act: impl FnOnce(&Workspace, Now) -> Result<T, ListeningError> + Send + 'static,
    ) -> Result<T, ListenerError> {
        let workspace = self.workspace.clone();
        let done = tokio::task::spawn_blocking(move || act(&workspace, Now::read())).await;
        done.map_err(ListenerError::Broken)?
            .map_err(ListenerError::Act)
    }

    /// The frame and the sentences of a page in a language.
    pub(super) fn page_in(&self, language: &str) -> (Frame, &Texts) {
        let (tag, texts) = self.languages.of(language);
        let frame = Frame {
            lang: tag.to_owned(),
            dir: texts.direction(),
        };
        (frame, texts)
    }

    /// The same in the language that the browser asks for, where no listener is known.
    pub(super) fn page_for(&self, headers: &HeaderMap) -> (Frame, &Texts) {
        let asked = headers
            .get(ACCEPT_LANGUAGE)
            .and_then(|value| value.to_str().ok());
        let first = asked.unwrap_or_default().split([',', ';']).next();
        self.page_in(first.unwrap_or_default().trim())
    }
}
