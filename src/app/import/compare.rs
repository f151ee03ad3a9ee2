//! What is new: recordings held against each other and against those of earlier imports.

use std::collections::HashMap;

use super::hear::Heard;
use crate::store::TokenRow;
use crate::study::ChildCode;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::key::TokenKey;

/// Holds what was heard against itself and against the store: the places of what is new.
pub(super) fn fresh(
    manifest: &str,
    heard: &[Heard],
    before: &[TokenRow],
) -> Result<Vec<usize>, Problems> {
    let known_audio: HashMap<_, _> = before
        .iter()
        .map(|token| (token.samples_sha256.as_str(), token))
        .collect();
    let known_words: HashMap<_, _> = before
        .iter()
        .filter(|token| token.key.use_.is_scored())
        .map(|token| (place_of(&token.key), token))
        .collect();
    let mut lines: HashMap<&str, u64> = HashMap::new();
    let mut problems = Problems::default();
    let mut fresh = Vec::new();
    for (place, one) in heard.iter().enumerate() {
        let mut say = |what: String, mend: &str| {
            let problem = Problem::new(manifest, what, mend);
            problems.push(problem.at_line(one.line).in_column("file"));
        };
        if let Some(line) = lines.insert(&one.samples_sha256, one.line) {
            say(
                format!("the recording is the same as in line {line}: one sound under two labels"),
                "keep the row to which it belongs: a copy would fake agreement",
            );
            continue;
        }
        match known_audio.get(one.samples_sha256.as_str()) {
            Some(token) if same_labels(&token.key, &one.key) => {}
            Some(_) => say(
                "the recording was imported before under other labels".to_owned(),
                "keep the labels it has: a copy would fake agreement",
            ),
            None if one.key.use_.is_scored() && known_words.contains_key(&place_of(&one.key)) => {
                say(
                    "this child's word of that session and attempt was imported before with another recording"
                        .to_owned(),
                    "number it as a further attempt, or leave it out",
                );
            }
            None => fresh.push(place),
        }
    }
    problems.or(fresh)
}

/// The place of a scored word in the study: no two recordings may claim it.
fn place_of(key: &TokenKey) -> (Option<ChildCode>, Option<u32>, String, u32) {
    (key.child.clone(), key.session, key.word.text(), key.attempt)
}

/// Whether two rows say the same of a recording; what the file is called does not matter.
fn same_labels(one: &TokenKey, other: &TokenKey) -> bool {
    let nameless = |key: &TokenKey| TokenKey {
        file: None,
        ..key.clone()
    };
    let mut one = nameless(one);
    if one.session.is_none() {
        // A check word's phase and the like are not kept: only what the token is for.
        one = TokenKey {
            phase: other.phase.clone(),
            cohort: other.cohort.clone(),
            condition: other.condition.clone(),
            date: other.date,
            session: other.session,
            age_months: other.age_months,
            ..one
        };
    }
    one == nameless(other)
}
