//! Known answers: this account judges for itself, then sees what others said, and settles with them what they heard
//! differently.

use askama::Template;
use axum::extract::Query;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;
use serde::Deserialize;

use super::Desk;
use super::form::Filled;
use super::frame::DeskFrame;
use super::frame::Section;
use super::routes::PREPARERS;
use super::routes::RESEARCHERS;
use super::routes::Routes;
use super::sign_in::unprocessable;
use crate::app::AppError;
use crate::app::KnownWord;
use crate::app::MANIFEST;
use crate::app::NeededWords;
use crate::app::Now;
use crate::app::Person;
use crate::app::Standing;
use crate::app::two_judges;
use crate::app::two_judges::ToJudge;
use crate::report::number;
use crate::study::KnownAnswer;
use crate::study::Role;
use crate::study::Settling;
use crate::study::Use;
use crate::study::Word;
use crate::web::WebError;
use crate::web::html;

const HOME: &str = "/desk/recordings/answers";

/// The routes of these pages, with who may open them.
pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/desk/recordings/answers", PREPARERS, page)
        .post("/desk/recordings/answers", PREPARERS, judge)
        .post("/desk/recordings/answers/change", PREPARERS, change)
        .post("/desk/recordings/answers/settle", PREPARERS, settle)
        .post("/desk/recordings/answers/single", RESEARCHERS, single)
}

#[derive(Template)]
#[template(path = "desk/answers.html")]
struct AnswersPage {
    frame: DeskFrame,
    next: Option<ToJudge>,
    left: usize,
    judged: Vec<(String, Word, KnownWord)>,
    /// The name of the account that looks.
    own: String,
    asked: Asked,
    needed: Vec<NeededWords>,
    reason: String,
    /// Why nothing was noted; empty where nothing was asked.
    problem: String,
}

/// The shape of a listener's sittings: how many words of each kind it needs.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(default)]
pub(super) struct Asked {
    checks: u32,
    practice: u32,
    sittings: u32,
}

impl Default for Asked {
    /// What the design of a round starts from for a naive panel (ours).
    fn default() -> Self {
        Self {
            checks: 12,
            practice: 4,
            sittings: 1,
        }
    }
}

async fn page(
    State(desk): State<Desk>,
    person: Person,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    html(&fresh(&desk, &person, asked).await?)
}

async fn judge(
    State(desk): State<Desk>,
    person: Person,
    filled: Filled,
) -> Result<Response, WebError> {
    let done = match filled.text("answer").parse::<KnownAnswer>() {
        Ok(answer) => {
            let (word, by) = (filled.text("word").to_owned(), person.clone());
            desk.try_act(move |workspace| {
                two_judges::judge(workspace, &word, answer, &by, Now::read())
            })
            .await?
        }
        Err(_) => Err(AppError::refused("no answer was chosen", "choose one")),
    };
    answered(&desk, &person, done).await
}

async fn change(
    State(desk): State<Desk>,
    person: Person,
    filled: Filled,
) -> Result<Response, WebError> {
    let done = match meant(&filled) {
        Ok(answer) => {
            let (word, by) = (filled.text("word").to_owned(), person.clone());
            desk.try_act(move |workspace| {
                two_judges::change(workspace, &word, answer, &by, Now::read())
            })
            .await?
        }
        Err(refused) => Err(refused),
    };
    answered(&desk, &person, done).await
}

async fn settle(
    State(desk): State<Desk>,
    person: Person,
    filled: Filled,
) -> Result<Response, WebError> {
    let because = filled.text("because").parse::<Settling>();
    let because =
        because.map_err(|_| AppError::refused("nothing was settled", "choose why you settle it"));
    let done = match meant(&filled).and_then(|answer| Ok((answer, because?))) {
        Ok((answer, because)) => {
            let (word, by) = (filled.text("word").to_owned(), person.clone());
            desk.try_act(move |workspace| {
                two_judges::settle(workspace, &word, answer, because, &by, Now::read())
            })
            .await?
        }
        Err(refused) => Err(refused),
    };
    answered(&desk, &person, done).await
}

/// The answer of somebody who has ticked that it is meant.
fn meant(filled: &Filled) -> Result<KnownAnswer, AppError> {
    let answer = filled.text("answer").parse().ok();
    answer
        .filter(|_| filled.text("sure") == "yes")
        .ok_or_else(|| {
            AppError::refused(
                "nothing was changed",
                "listen together, choose one answer, and tick the line that says so",
            )
        })
}

async fn single(
    State(desk): State<Desk>,
    person: Person,
    filled: Filled,
) -> Result<Response, WebError> {
    let reason = filled.text("reason").to_owned();
    let done = desk
        .try_act(move |workspace| two_judges::accept_all_single(workspace, &reason, Now::read()))
        .await?;
    let mut page = fresh(&desk, &person, Asked::default()).await?;
    match done {
        Ok(_) => Ok(Redirect::to(HOME).into_response()),
        Err(refused) => {
            filled.text("reason").clone_into(&mut page.reason);
            page.problem = refused.to_string();
            unprocessable(&page)
        }
    }
}

async fn answered(
    desk: &Desk,
    person: &Person,
    done: Result<(), AppError>,
) -> Result<Response, WebError> {
    match done {
        Ok(()) => Ok(Redirect::to(HOME).into_response()),
        Err(refused) => {
            let mut page = fresh(desk, person, Asked::default()).await?;
            page.problem = refused.to_string();
            unprocessable(&page)
        }
    }
}

async fn fresh(desk: &Desk, person: &Person, asked: Asked) -> Result<AnswersPage, WebError> {
    let (shuffle, by) = (desk.shuffle.clone(), person.clone());
    let read = desk
        .try_act(move |workspace| {
            let Asked {
                checks,
                practice,
                sittings,
            } = asked;
            Ok((
                two_judges::to_judge(workspace, &shuffle, &by)?,
                two_judges::judged(workspace, &shuffle, &by)?,
                two_judges::needed(workspace, checks, practice, sittings)?,
            ))
        })
        .await?;
    let frame = desk.frame(person, Section::Recordings).await?;
    let (((next, left), judged, needed), problem) = match read {
        Ok(read) => (read, String::new()),
        Err(refused) => (((None, 0), Vec::new(), Vec::new()), refused.to_string()),
    };
    Ok(AnswersPage {
        frame,
        next,
        left,
        judged,
        own: person.name.clone(),
        asked,
        needed,
        reason: String::new(),
        problem,
    })
}

impl AnswersPage {
    fn next(&self) -> &'static str {
        if self.next.is_some() {
            "Hear the word and say what you hear, alone and before you talk with anybody."
        } else if self.disputed() > 0 {
            "Listen together to the words on which you differ. Who heard wrong says so; else somebody third settles it."
        } else {
            "You have answered every word. A second person does the same with an account of her own."
        }
    }

    fn disputed(&self) -> usize {
        let judged = self.judged.iter();
        judged
            .filter(|(.., known)| known.standing == Standing::Disputed)
            .count()
    }

    fn by_one(&self) -> usize {
        self.needed.iter().map(|row| row.by_one).sum()
    }

    /// What this account says of a word.
    fn own_answer(&self, known: &KnownWord) -> Option<KnownAnswer> {
        let mut judges = known.answers.iter();
        judges
            .find(|(judge, _)| *judge == self.own)
            .map(|(_, answer)| *answer)
    }

    fn is_third(&self, known: &KnownWord) -> bool {
        two_judges::is_third(known, &self.own)
    }

    fn is_researcher(&self) -> bool {
        self.frame.role == Role::Researcher
    }
}

/// Who says what, as the page shows it.
fn said(known: &KnownWord) -> String {
    let answers = known.answers.iter().map(|(judge, answer)| {
        let who = if judge == MANIFEST {
            "as imported"
        } else {
            judge
        };
        format!("{who}: {answer}")
    });
    answers.collect::<Vec<_>>().join(", ")
}

fn standing(known: &KnownWord) -> String {
    match &known.standing {
        Standing::Agreed => "agreed".to_owned(),
        Standing::ByOne => "by one person".to_owned(),
        Standing::ByOneBecause(reason) => format!("by one person: {reason}"),
        Standing::Disputed => "you differ: it does not count".to_owned(),
    }
}

/// Why a third settles a word, as the page says it.
fn because(reason: Settling) -> &'static str {
    match reason {
        Settling::HeardTogether => "we listened together and all hear the same now",
        Settling::OtherSound => "one judged another sound of the word",
        Settling::Mistake => "one pressed the wrong button, or wrote it down wrongly",
        Settling::PoorListening => "one listened in noise or to poor loudspeakers",
    }
}

/// The answers that a word can have, but for one that is held already.
fn other_answers(known: &KnownWord, held: Option<KnownAnswer>) -> Vec<KnownAnswer> {
    let all = KnownAnswer::ALL.iter().copied();
    all.filter(|answer| Some(*answer) != held)
        .filter(|answer| *answer != KnownAnswer::Divided || known.use_ == Use::Practice)
        .collect()
}
