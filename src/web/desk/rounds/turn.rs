//! The two steps of a round that cannot be taken back: it is closed, and later unlocked. Each says what it does and what to
//! know before, asks once, and is done.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use crate::app;
use crate::app::Followed;
use crate::app::LinkState;
use crate::app::Now;
use crate::app::Person;
use crate::report::number;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::address::of_round;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::sign_in::unprocessable;
use crate::web::html;

/// Said where the tick is missing.
pub(super) const NOT_TICKED: &str =
    "Nothing was done: tick the line above the button to say that you mean it.";

/// What is to be done with a round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Turn {
    Close,
    Unlock,
}

#[derive(Template)]
#[template(path = "desk/turn.html")]
struct TurnPage {
    frame: DeskFrame,
    turn: Turn,
    followed: Followed,
    /// What it leaves undone of a masked analysis; nothing where that is nothing.
    left_open: Option<String>,
    /// Why nothing was done; empty where nothing was asked.
    problem: String,
}

/// `GET /desk/rounds/{round}/close`: what it does, before it is done.
pub(super) async fn close_page(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    html(&page(&desk, &person, &round, Turn::Close).await?)
}

/// `POST /desk/rounds/{round}/close`.
pub(super) async fn close(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    take(&desk, &person, &round, Turn::Close, &filled).await
}

/// `GET /desk/rounds/{round}/unlock`: what it does, before it is done.
pub(super) async fn unlock_page(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    html(&page(&desk, &person, &round, Turn::Unlock).await?)
}

/// `POST /desk/rounds/{round}/unlock`.
pub(super) async fn unlock(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    take(&desk, &person, &round, Turn::Unlock, &filled).await
}

async fn take(
    desk: &Desk,
    person: &Person,
    round: &str,
    turn: Turn,
    filled: &Filled,
) -> Result<Response, WebError> {
    let name = named(round)?;
    let problem = if is_meant(filled) {
        let (round, by) = (name.clone(), person.clone());
        let done = desk
            .try_act(move |workspace| match turn {
                Turn::Close => app::close_by(workspace, &round, &by, Now::read()),
                Turn::Unlock => app::unlock_by(workspace, &round, &by, Now::read()),
            })
            .await?;
        match done {
            Ok(_) => return Ok(Redirect::to(&of_round(&name, "")).into_response()),
            Err(wrong) => wrong.to_string(),
        }
    } else {
        NOT_TICKED.to_owned()
    };
    let mut page = page(desk, person, round, turn).await?;
    page.problem = problem;
    unprocessable(&page)
}

async fn page(desk: &Desk, person: &Person, round: &str, turn: Turn) -> Result<TurnPage, WebError> {
    let name = named(round)?;
    Ok(TurnPage {
        frame: desk.frame(person, Section::Rounds).await?,
        turn,
        followed: followed(desk, &name).await?,
        left_open: match turn {
            Turn::Close => None,
            Turn::Unlock => desk
                .act(move |workspace| app::masked_state(workspace, &name))
                .await?
                .left_open(),
        },
        problem: String::new(),
    })
}

/// Whether the line above the button was ticked.
pub(super) fn is_meant(filled: &Filled) -> bool {
    filled.text("sure") == "yes"
}

/// The name in an address.
pub(super) fn named(round: &str) -> Result<RoundName, WebError> {
    RoundName::new(round).map_err(|_| WebError::NotFound)
}

/// A round as it stands now.
pub(super) async fn followed(desk: &Desk, round: &RoundName) -> Result<Followed, WebError> {
    let name = round.clone();
    desk.act(move |workspace| app::follow(workspace, &name, Now::read()))
        .await
}

impl Turn {
    /// The state of a round that can take it.
    const fn from(self) -> RoundState {
        match self {
            Self::Close => RoundState::Open,
            Self::Unlock => RoundState::Closed,
        }
    }

    const fn verb(self) -> &'static str {
        match self {
            Self::Close => "Close",
            Self::Unlock => "Unlock",
        }
    }

    const fn lead(self) -> &'static str {
        match self {
            Self::Close => {
                "Closing ends the listening. No result is seen by it: that is the next step, and one of its own."
            }
            Self::Unlock => {
                "Unlocking shows the results: of every child, every phase and every listener."
            }
        }
    }

    const fn care(self) -> &'static str {
        match self {
            Self::Close => {
                "A closed round never opens again, and no judgement can be added to it. To stop for a while, pause it instead."
            }
            Self::Unlock => {
                "A look cannot be undone: whoever has seen the results is not blind any more, and each look counts in a test that was planned."
            }
        }
    }

    const fn what_it_does(self) -> &'static str {
        match self {
            Self::Close => "What closing does",
            Self::Unlock => "What unlocking does",
        }
    }

    const fn does(self) -> [&'static str; 3] {
        match self {
            Self::Close => [
                "No listener gets a further word; links say that the round is over.",
                "The seed of the orders is told to the log, so that anybody can check later that nothing was chosen.",
                "The log tells that you closed it, and when.",
            ],
            Self::Unlock => [
                "Researchers see the report and can export it. Preparers and listeners see nothing of it.",
                "The log tells that you unlocked it, and when. If the study planned fewer looks than this, it tells that too.",
                "The rules of the sealed plan are applied as they stand. They cannot be changed now.",
            ],
        }
    }

    const fn to_know(self) -> &'static str {
        match self {
            Self::Close => "What is still missing",
            Self::Unlock => "Before you do",
        }
    }

    const fn meant(self) -> &'static str {
        match self {
            Self::Close => "I want to close this round for good. It cannot be opened again.",
            Self::Unlock => "I want to see the results of this round now. The log will tell it.",
        }
    }
}

impl TurnPage {
    fn can(&self) -> bool {
        self.followed.progress.state == self.turn.from()
    }

    fn next(&self) -> String {
        let state = self.followed.progress.state;
        match self.turn {
            Turn::Close if state != RoundState::Open => {
                format!("This round is {state}: there is nothing to close.")
            }
            Turn::Close if self.followed.words_short > 0 => {
                "Wait until nothing is missing, or close now and live with wider intervals."
                    .to_owned()
            }
            Turn::Close => {
                "Every word has its judgements: close the round, then unlock it.".to_owned()
            }
            Turn::Unlock => match state {
                RoundState::Closed => {
                    "Unlock it when nothing is left to decide that the results must not sway."
                        .to_owned()
                }
                RoundState::Unlocked => "This round is unlocked: read the results.".to_owned(),
                RoundState::Draft | RoundState::Open => {
                    format!("This round is {state}: close it first.")
                }
            },
        }
    }

    /// What to know before it is done, a sentence each.
    fn before(&self) -> Vec<String> {
        match self.turn {
            Turn::Close => {
                let missing = still_missing(&self.followed);
                if missing.is_empty() {
                    let wanted = self.followed.progress.wanted;
                    vec![format!(
                        "Nothing: every word has its {wanted} judgements, and nobody is in a sitting."
                    )]
                } else {
                    missing
                }
            }
            Turn::Unlock => vec![
                short_says(&self.followed),
                "The results inform a licensed professional’s judgement and do not replace it."
                    .to_owned(),
            ],
        }
    }

    /// Where to go from here, where it cannot be done: the page of the round, and what it is called.
    const fn instead(&self) -> (&'static str, &'static str) {
        match (self.turn, self.followed.progress.state) {
            (Turn::Unlock, RoundState::Unlocked) => ("/results", "See the results"),
            (Turn::Unlock, _) => ("/close", "Close the round"),
            (Turn::Close, _) => ("", "Back to the round"),
        }
    }
}

/// What is still missing of a round, a sentence each.
fn still_missing(followed: &Followed) -> Vec<String> {
    let mut said = Vec::new();
    let progress = &followed.progress;
    if followed.words_short > 0 {
        said.push(format!(
            "{} of {} have fewer than the {} judgements that are wanted; {} in all are missing. Their intervals get wider, and nobody can add to them later.",
            number::count(followed.words_short),
            number::counted(progress.tokens, "word"),
            progress.wanted,
            number::counted(followed.judgements_short, "judgement"),
        ));
    }
    match followed.sittings.len() {
        0 => {}
        1 => said.push(
            "One sitting is under way. Closing breaks it off; what was answered is kept."
                .to_owned(),
        ),
        several => said.push(format!(
            "{} sittings are under way. Closing breaks them off; what was answered is kept.",
            number::count(several)
        )),
    }
    let links = progress.listeners.iter();
    let unopened = links.filter(|listener| listener.link == LinkState::Invited);
    match unopened.count() {
        0 => {}
        1 => said.push(
            "One link was not opened yet. Who opens it later will find the round closed."
                .to_owned(),
        ),
        several => said.push(format!(
            "{} links were not opened yet. Who opens one later will find the round closed.",
            number::count(several)
        )),
    }
    said
}

/// Whether a closed round has all that was wanted of it.
fn short_says(followed: &Followed) -> String {
    let progress = &followed.progress;
    match followed.words_short {
        0 => format!(
            "Every word has the {} judgements that were wanted of it.",
            progress.wanted
        ),
        short => format!(
            "{} of {} were judged less often than planned; the intervals tell it.",
            number::count(short),
            number::counted(progress.tokens, "word"),
        ),
    }
}
