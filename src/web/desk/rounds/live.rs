//! A round's page as events: what changed of it, as soon as it changes, for as long as the session goes on.

use std::convert::Infallible;
use std::time::Duration;

use axum::Extension;
use axum::extract::Path;
use axum::extract::State;
use axum::response::sse::Event;
use axum::response::sse::KeepAlive;
use axum::response::sse::Sse;
use futures_util::Stream;
use futures_util::stream::unfold;
use tokio::time::timeout;

use super::follow::live_part;
use super::turn::followed;
use super::turn::named;
use crate::app;
use crate::app::Now;
use crate::app::accounts;
use crate::study::Role;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::web::WebError;
use crate::web::asked_to_stop;
use crate::web::desk::Desk;
use crate::web::desk::door::SessionSecret;

/// How often it is looked whether anything happened (ours).
const LOOK_EVERY: Duration = Duration::from_secs(2);

/// What was told so far, and to whom.
struct Telling {
    desk: Desk,
    round: RoundName,
    secret: String,
    /// Where the log stood when it was looked last.
    heard: Option<u64>,
    told: String,
    over: bool,
}

/// What is to be told now.
enum News {
    Nothing,
    Changed(String),
    Over(&'static str),
}

/// `GET /desk/rounds/{round}/live`.
pub(super) async fn live(
    State(desk): State<Desk>,
    Extension(SessionSecret(secret)): Extension<SessionSecret>,
    Path(round): Path<String>,
) -> Result<Sse<impl Stream<Item = Result<Event, Infallible>>>, WebError> {
    let round = named(&round)?;
    // A round that is not there is no page, rather than a stream that ends.
    followed(&desk, &round).await?;
    let telling = Telling {
        desk,
        round,
        secret,
        heard: None,
        told: String::new(),
        over: false,
    };
    Ok(Sse::new(unfold(telling, next)).keep_alive(KeepAlive::default()))
}

async fn next(mut telling: Telling) -> Option<(Result<Event, Infallible>, Telling)> {
    if telling.over {
        return None;
    }
    loop {
        let event = match telling.look().await {
            Ok(News::Nothing) => {
                // A server that is asked to end does not wait for whoever follows a round.
                if timeout(LOOK_EVERY, asked_to_stop()).await.is_ok() {
                    return None;
                }
                continue;
            }
            Ok(News::Changed(part)) => {
                telling.told.clone_from(&part);
                Event::default().data(part)
            }
            Ok(News::Over(why)) => {
                telling.over = true;
                Event::default().event("over").data(why)
            }
            Err(error) => {
                tracing::error!(?error, "a round cannot be followed");
                return None;
            }
        };
        return Some((Ok(event), telling));
    }
}

impl Telling {
    /// Looks once: whether the session goes on, and whether anything happened in the study since.
    async fn look(&mut self) -> Result<News, WebError> {
        let secret = self.secret.clone();
        let (person, heard) = self
            .desk
            .act(move |workspace| {
                let person = accounts::who_is_there(workspace, &secret, Now::read())?;
                Ok((person, app::events_so_far(workspace)?))
            })
            .await?;
        if person.is_none_or(|person| person.role != Role::Researcher) {
            return Ok(News::Over(
                "You are signed out: sign in again to follow the round.",
            ));
        }
        if self.heard == Some(heard) {
            return Ok(News::Nothing);
        }
        self.heard = Some(heard);
        let followed = followed(&self.desk, &self.round).await?;
        let part = live_part(&followed)?;
        if followed.progress.state != RoundState::Open && part == self.told {
            return Ok(News::Over("The round is open no more: reload the page."));
        }
        Ok(if part == self.told {
            News::Nothing
        } else {
            News::Changed(part)
        })
    }
}
