//! Probe lists: which version of which word list each session followed.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde::Serialize;

use crate::study::record::RoundRecord;

/// A session and the list that it followed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ListFollowed {
    /// The child's code.
    pub child: String,
    /// The recording occasion.
    pub session: u32,
    /// The list with its version; nothing where the words are those of no list.
    pub list: Option<String>,
    /// Words of the nearest list that the session lacks, missing recordings included among those that it has.
    pub lacks: Vec<String>,
    /// Words that stand in no such list.
    pub beside: Vec<String>,
}

/// The list of every session of a treated child, where the study's settings hold lists: the one that shares most words.
pub(super) fn lists_followed(record: &RoundRecord) -> Vec<ListFollowed> {
    let lists = &record.settings.lists;
    if lists.is_empty() {
        return Vec::new();
    }
    let mut sessions: BTreeMap<(String, u32), BTreeSet<String>> = BTreeMap::new();
    let played = record
        .tokens
        .iter()
        .filter(|token| token.key.use_ == crate::study::Use::Scored && !token.link);
    for token in played {
        if let (Some(child), Some(session)) = (&token.key.child, token.key.session) {
            let words = sessions.entry((child.to_string(), session)).or_default();
            words.insert(token.key.word.text());
        }
    }
    for row in &record.missing {
        if let Some(words) = sessions.get_mut(&(row.child.clone(), row.session)) {
            words.insert(row.word.replace(['[', ']'], ""));
        }
    }
    sessions
        .into_iter()
        .map(|((child, session), words)| {
            let far = |list: &BTreeSet<String>| list.symmetric_difference(&words).count();
            let nearest = lists
                .iter()
                .map(|list| {
                    (
                        list,
                        list.words.iter().cloned().collect::<BTreeSet<String>>(),
                    )
                })
                .min_by_key(|(_, of)| far(of));
            let (name, of) = nearest.map_or_else(
                || (String::new(), BTreeSet::new()),
                |(list, of)| (format!("{} {}", list.name, list.version), of),
            );
            ListFollowed {
                child,
                session,
                list: (of == words).then_some(name),
                lacks: of.difference(&words).cloned().collect(),
                beside: words.difference(&of).cloned().collect(),
            }
        })
        .collect()
}
