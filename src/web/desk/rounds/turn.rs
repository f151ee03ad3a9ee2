//! What closing and unlocking have in common: the round as it stands, one tick, and the refusal without it.

use crate::app;
use crate::app::Followed;
use crate::app::LinkState;
use crate::app::Now;
use crate::report::number;
use crate::study::RoundName;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::form::Filled;

/// Said where the tick is missing.
pub(super) const NOT_TICKED: &str =
    "Nothing was done: tick the line above the button to say that you mean it.";

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

/// Whether a form that asks once was ticked.
pub(super) fn is_meant(filled: &Filled) -> bool {
    filled.text("sure") == "yes"
}

/// What is still missing of a round, a sentence each.
pub(super) fn still_missing(followed: &Followed) -> Vec<String> {
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
pub(super) fn short_says(followed: &Followed) -> String {
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
