//! The words that divided the listeners of an unlocked round, to be heard.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::http::header::RANGE;
use axum::response::Html;
use axum::response::Response;

use super::turn::named;
use crate::app;
use crate::app::Findings;
use crate::app::Now;
use crate::app::Person;
use crate::report::number;
use crate::study::RoundName;
use crate::study::Word;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;
use crate::web::range::served;

/// The most words on the page (ours): who wants more has them in the export.
const MOST: usize = 60;

#[derive(Template)]
#[template(path = "desk/words.html")]
struct WordsPage {
    frame: DeskFrame,
    round: RoundName,
    /// Words whose interval holds one half, the most divided first.
    words: Vec<WordLine>,
    /// How many there are, with those that are not shown.
    divided: usize,
    /// Words of the round that were judged.
    judged: usize,
}

/// A word as the page shows it.
struct WordLine {
    token: String,
    word: Word,
    child: String,
    session: u32,
    phase: String,
    heard: String,
    share: String,
    interval: String,
}

/// `GET /desk/rounds/{round}/words`.
pub(super) async fn words(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    let round = named(&round)?;
    let name = round.clone();
    let findings = desk
        .act(move |workspace| app::findings(workspace, &app::unlocked(workspace, &name)?))
        .await?;
    html(&WordsPage {
        frame: desk.frame(&person, Section::Rounds).await?,
        round,
        words: lines(&findings),
        divided: findings.round.consensus.contested.len(),
        judged: findings.round.consensus.items.len(),
    })
}

/// `GET /desk/rounds/{round}/words/{token}/sound`: the log tells each play.
pub(super) async fn word_sound(
    State(desk): State<Desk>,
    person: Person,
    Path((round, token)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let name = named(&round)?;
    let range = headers.get(RANGE).and_then(|value| value.to_str().ok());
    let begins = range.is_none_or(|range| range.trim().starts_with("bytes=0-"));
    let sound = desk
        .act(move |workspace| {
            let unlocked = app::unlocked(workspace, &name)?;
            app::hear_word(workspace, &unlocked, &token, &person, begins, Now::read())
        })
        .await?;
    Ok(served(sound, range, "audio/flac"))
}

fn lines(findings: &Findings) -> Vec<WordLine> {
    let (found, tokens) = (&findings.round.consensus, &findings.round.tokens);
    let contested = found.contested.iter().take(MOST);
    contested
        .filter_map(|name| {
            let item = found.items.iter().find(|item| item.item == *name)?;
            let row = tokens.rows.get(tokens.tokens.find(name)? as usize)?;
            let word = tokens.words.name(row.word?).parse().ok()?;
            Some(WordLine {
                token: name.clone(),
                word,
                child: tokens.children.name(row.child).to_owned(),
                session: row.session,
                phase: tokens.phases.name(row.phase).to_owned(),
                heard: format!("{} of {}", item.positive, item.judgements),
                share: number::percent(item.proportion),
                interval: number::percent_limits(Some(item.ci)),
            })
        })
        .collect()
}
