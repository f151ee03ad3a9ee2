//! What every handler of the listener's page shares: the study, and the languages of the page.

use std::sync::Arc;

use axum::http::HeaderMap;
use axum::http::header::ACCEPT_LANGUAGE;

use super::error::ListenerError;
use super::texts::Languages;
use super::texts::Texts;
use super::texts::TextsError;
use super::tries::Tries;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::listening::ListeningError;
use crate::web::page::Frame;

/// Wrong codes and wrong receipts a minute (ours): a person mistypes now and then, a program guesses.
const WRONG_CODES: usize = 5;
const WRONG_RECEIPTS: usize = 20;

/// Whom the listener's page is for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(in crate::web) enum Served {
    /// Listeners with browsers of their own.
    Everywhere,
    /// Listeners to whom one laptop is handed, one after the other.
    OneLaptop,
}

#[derive(Clone)]
pub(super) struct Room {
    workspace: Workspace,
    languages: Arc<Languages>,
    pub(super) served: Served,
    pub(super) codes: Arc<Tries>,
    pub(super) receipts: Arc<Tries>,
}

impl Room {
    pub(super) fn new(workspace: Workspace, served: Served) -> Result<Self, TextsError> {
        Ok(Self {
            workspace,
            languages: Arc::new(Languages::load()?),
            served,
            codes: Arc::new(Tries::at_most(WRONG_CODES)),
            receipts: Arc::new(Tries::at_most(WRONG_RECEIPTS)),
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

    /// The language of the study, for pages where no listener is known.
    pub(super) async fn study_language(&self) -> Result<String, ListenerError> {
        self.act(|workspace, _| Ok(workspace.settings()?.language))
            .await
    }

    /// The frame and the sentences of a page in a language.
    pub(super) fn page_in(&self, language: &str) -> (Frame, &Texts) {
        let (tag, texts) = self.languages.of(language);
        let frame = Frame {
            lang: tag.to_owned(),
            dir: texts.direction(),
            unsent: None,
            hand_over: (self.served == Served::OneLaptop).then(|| texts.hand.link.clone()),
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
