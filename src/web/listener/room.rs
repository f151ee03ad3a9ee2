//! What every handler of the listener's page shares: the study, and the languages of the page.

use std::sync::Arc;

use axum::http::HeaderMap;

use super::error::ListenerError;
use super::tries::Tries;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::listening::ListeningError;
use crate::web::languages::Language;
use crate::web::languages::Languages;
use crate::web::page::Frame;
use crate::web::texts::Texts;

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
    pub(super) fn new(workspace: Workspace, languages: Arc<Languages>, served: Served) -> Self {
        Self {
            workspace,
            languages,
            served,
            codes: Arc::new(Tries::at_most(WRONG_CODES)),
            receipts: Arc::new(Tries::at_most(WRONG_RECEIPTS)),
        }
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
        self.page_of(self.languages.of(language))
    }

    /// The same for a page that refuses something.
    pub(super) async fn page_that_refuses(&self, headers: &HeaderMap) -> (Frame, &Texts) {
        self.page_of(self.languages.of_study(&self.workspace, headers).await)
    }

    fn page_of<'a>(&self, language: &'a Language) -> (Frame, &'a Texts) {
        let texts = &language.texts;
        let mut frame = language.frame();
        frame.hand_over = (self.served == Served::OneLaptop).then(|| texts.hand.link.clone());
        (frame, texts)
    }
}
