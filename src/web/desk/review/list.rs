//! The list of tokens, masked and shuffled, by the remarks on their quality.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::Query;
use axum::extract::State;
use axum::response::Html;
use serde::Deserialize;

use crate::app::Person;
use crate::app::review;
use crate::app::review::Filter;
use crate::app::review::Reviewed;
use crate::report::number;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;

/// Tokens on one page.
const ROWS: usize = 100;

#[derive(Template)]
#[template(path = "desk/review.html")]
struct ListPage {
    frame: DeskFrame,
    tokens: Vec<(usize, Reviewed)>,
    of: usize,
    kinds: BTreeMap<&'static str, usize>,
    asked: Asked,
}

/// Which tokens are asked for: all, those with a remark, those with one of a kind, those that are left out.
#[derive(Debug, Clone, Default, Deserialize)]
pub(super) struct Asked {
    #[serde(default)]
    pub(super) mark: String,
    #[serde(default)]
    from: usize,
}

impl Asked {
    pub(super) fn filter(&self) -> Filter {
        match self.mark.as_str() {
            "" => Filter::All,
            "any" => Filter::Marked,
            "excluded" => Filter::Excluded,
            kind => Filter::Kind(kind.to_owned()),
        }
    }
}

/// `GET /desk/recordings/review?mark=`.
pub(super) async fn list(
    State(desk): State<Desk>,
    person: Person,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Recordings).await?;
    let (shuffle, filter) = (desk.shuffle.clone(), asked.filter());
    let (tokens, kinds) = desk
        .act(move |workspace| review::reviewed(workspace, &shuffle, &filter))
        .await?;
    let of = tokens.len();
    let numbered = (1..).zip(tokens).skip(asked.from).take(ROWS);
    html(&ListPage {
        frame,
        tokens: numbered.collect(),
        of,
        kinds,
        asked,
    })
}

impl ListPage {
    fn next(&self) -> &'static str {
        if self.kinds.is_empty() {
            "Hear some of them. Nothing is remarked on their quality."
        } else {
            "Hear those with a remark, and decide whether each can be judged."
        }
    }

    fn further(&self) -> Option<usize> {
        let next = self.asked.from + self.tokens.len();
        (next < self.of).then_some(next)
    }

    fn asks_for(&self, mark: &str) -> bool {
        self.asked.mark == mark
    }
}

/// The kinds of a token's remarks, without their figures.
fn kinds_of(token: &Reviewed) -> String {
    let short = token.marks.iter().map(|mark| {
        let end = mark.find([':', '?', ',']).unwrap_or(mark.len());
        mark.get(..end).unwrap_or(mark)
    });
    short.collect::<Vec<_>>().join("; ")
}

fn kilohertz(hz: f64) -> String {
    number::fixed(hz / 1000.0, 1)
}
