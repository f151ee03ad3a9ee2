//! Masked visual analysis: a closed round's graphs without names, for the one who judges them before unlocking.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::turn::NOT_TICKED;
use super::turn::is_meant;
use super::turn::named;
use crate::app;
use crate::app::MaskedState;
use crate::app::Now;
use crate::app::Person;
use crate::report::chart;
use crate::report::number;
use crate::study::GraphMark;
use crate::study::MaskedMark;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::study::Sureness;
use crate::study::UnnamedGraph;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::address::of_round;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::sign_in::unprocessable;
use crate::web::html;

/// What the form calls a graph in which no change was seen.
const NO_CHANGE: &str = "none";

#[derive(Template)]
#[template(path = "desk/masked.html")]
struct MaskedPage {
    frame: DeskFrame,
    state: MaskedState,
    /// Whether the analysis is that of whoever looks.
    mine: bool,
    /// The graphs; none for anybody but the analyst.
    graphs: Vec<GraphForm>,
    /// Why nothing was done; empty where nothing was asked.
    problem: String,
}

/// A graph with what was said of it.
struct GraphForm {
    number: u32,
    chart: String,
    /// Each point with its level.
    points: Vec<(usize, String)>,
    /// What can be said of where a change began: value, words, whether it was said.
    choices: Vec<(String, String, bool)>,
    /// The same of how sure that is.
    degrees: Vec<(&'static str, &'static str, bool)>,
    marked: bool,
}

impl MaskedPage {
    fn marked_says(&self) -> String {
        let begun = self.state.begun.as_ref();
        begun.map_or_else(String::new, |begun| {
            format!(
                "{} of {} marked",
                number::count(begun.marked),
                number::counted(begun.graphs, "graph")
            )
        })
    }

    fn all_marked(&self) -> bool {
        let begun = self.state.begun.as_ref();
        begun.is_some_and(|begun| begun.marked == begun.graphs)
    }

    fn is_finished(&self) -> bool {
        let begun = self.state.begun.as_ref();
        begun.is_some_and(|begun| begun.finished)
    }

    fn analyst(&self) -> String {
        let begun = self.state.begun.as_ref();
        begun.map_or_else(String::new, |begun| {
            begun.name.clone().unwrap_or_else(|| begun.analyst.clone())
        })
    }
}

/// `GET /desk/rounds/{round}/masked`: what it is, and for its analyst the graphs.
pub(super) async fn page(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    html(&fresh(&desk, &person, &named(&round)?).await?)
}

/// `POST /desk/rounds/{round}/masked/begin`.
pub(super) async fn begin(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let name = named(&round)?;
    if !is_meant(&filled) || filled.text("blind") != "yes" {
        return refused(&desk, &person, &name, NOT_TICKED.to_owned(), None).await;
    }
    let (round, by) = (name.clone(), person.clone());
    let done = desk
        .try_act(move |workspace| {
            app::begin_masked(workspace, &round, &by.code, Some(&by), Now::read())
        })
        .await?;
    match done {
        Ok(_) => Ok(back(&name)),
        Err(wrong) => refused(&desk, &person, &name, wrong.to_string(), None).await,
    }
}

/// `POST /desk/rounds/{round}/masked`: marks are kept.
pub(super) async fn mark(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let name = named(&round)?;
    let marks = match marks_of(&filled) {
        Ok(marks) => marks,
        Err(wrong) => return refused(&desk, &person, &name, wrong, Some(&filled)).await,
    };
    let (round, by) = (name.clone(), person.clone());
    let done = desk
        .try_act(move |workspace| {
            app::mark_masked(workspace, &round, &marks, Some(&by), Now::read())
        })
        .await?;
    match done {
        Ok(_) => Ok(back(&name)),
        Err(wrong) => refused(&desk, &person, &name, wrong.to_string(), Some(&filled)).await,
    }
}

/// `POST /desk/rounds/{round}/masked/finish`.
pub(super) async fn finish(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let name = named(&round)?;
    if !is_meant(&filled) {
        return refused(&desk, &person, &name, NOT_TICKED.to_owned(), None).await;
    }
    let (round, by) = (name.clone(), person.clone());
    let done = desk
        .try_act(move |workspace| app::finish_masked(workspace, &round, Some(&by), Now::read()))
        .await?;
    match done {
        Ok(_) => Ok(back(&name)),
        Err(wrong) => refused(&desk, &person, &name, wrong.to_string(), None).await,
    }
}

fn back(round: &RoundName) -> Response {
    Redirect::to(&of_round(round, "masked")).into_response()
}

async fn refused(
    desk: &Desk,
    person: &Person,
    round: &RoundName,
    problem: String,
    entered: Option<&Filled>,
) -> Result<Response, WebError> {
    let mut page = fresh(desk, person, round).await?;
    page.problem = problem;
    if let Some(entered) = entered {
        for graph in &mut page.graphs {
            graph.enter(entered);
        }
    }
    unprocessable(&page)
}

async fn fresh(desk: &Desk, person: &Person, round: &RoundName) -> Result<MaskedPage, WebError> {
    let name = round.clone();
    let state = desk
        .act(move |workspace| app::masked_state(workspace, &name))
        .await?;
    let analyst = state.begun.as_ref().map(|begun| begun.analyst.as_str());
    let mine = analyst == Some(person.code.as_str());
    let graphs = if mine && state.state == RoundState::Closed {
        let (name, code) = (round.clone(), person.code.clone());
        desk.act(move |workspace| app::masked_graphs(workspace, &name, &code))
            .await?
    } else {
        Vec::new()
    };
    let most = graphs.iter().map(|graph| graph.shares.len()).max();
    Ok(MaskedPage {
        frame: desk.frame(person, Section::Rounds).await?,
        state,
        mine,
        graphs: graphs
            .iter()
            .map(|graph| GraphForm::of(graph, most.unwrap_or_default()))
            .collect(),
        problem: String::new(),
    })
}

impl GraphForm {
    fn of(graph: &UnnamedGraph, most: usize) -> Self {
        let points: Vec<(usize, String)> = (1..)
            .zip(&graph.shares)
            .map(|(place, share)| (place, number::percent(*share)))
            .collect();
        let mut choices = vec![
            (String::new(), "Not judged yet".to_owned(), false),
            (NO_CHANGE.to_owned(), "No change seen".to_owned(), false),
        ];
        for (place, _) in points.iter().skip(1) {
            choices.push((place.to_string(), format!("Before point {place}"), false));
        }
        let mut form = Self {
            number: graph.number,
            chart: chart::unnamed(graph.number, &graph.shares, most),
            points,
            choices,
            degrees: degrees(),
            marked: graph.mark.is_some(),
        };
        let said = graph.mark.map(|mark| mark.before);
        let before = said
            .map(|before| before.map_or_else(|| NO_CHANGE.to_owned(), |before| before.to_string()));
        form.say(
            before.as_deref().unwrap_or_default(),
            graph.mark.map_or("", |mark| mark.sure.as_str()),
        );
        form
    }

    /// Shows what was entered and not kept.
    fn enter(&mut self, filled: &Filled) {
        let number = self.number;
        self.say(
            filled.text(&format!("before-{number}")),
            filled.text(&format!("sure-{number}")),
        );
    }

    fn say(&mut self, before: &str, sure: &str) {
        for (value, _, chosen) in &mut self.choices {
            *chosen = value == before;
        }
        for (value, _, chosen) in &mut self.degrees {
            *chosen = *value == sure;
        }
    }
}

fn degrees() -> Vec<(&'static str, &'static str, bool)> {
    let words = |sure: &Sureness| match sure {
        Sureness::Certain => "certain",
        Sureness::Probable => "more likely than not",
        Sureness::Guess => "a guess",
    };
    let all = Sureness::ALL.iter();
    all.map(|sure| (sure.as_str(), words(sure), false))
        .collect()
}

/// The marks that a form holds: graphs of which nothing was said are left out.
fn marks_of(filled: &Filled) -> Result<Vec<GraphMark>, String> {
    let graphs = filled.all("graph").filter_map(|raw| raw.parse().ok());
    let said = graphs.filter_map(|graph: u32| {
        let before_field = format!("before-{graph}");
        let before = match filled.text(&before_field) {
            "" => return None,
            NO_CHANGE => None,
            raw => match raw.parse() {
                Ok(point) => Some(point),
                Err(_) => return Some(Err(format!("Graph {graph}: choose a point of the list."))),
            },
        };
        let sure = filled.text(&format!("sure-{graph}")).parse::<Sureness>();
        Some(match sure {
            Ok(sure) => Ok(GraphMark {
                graph,
                mark: MaskedMark { before, sure },
            }),
            Err(_) => Err(format!(
                "Nothing was kept. Graph {graph}: say how sure you are."
            )),
        })
    });
    said.collect()
}
