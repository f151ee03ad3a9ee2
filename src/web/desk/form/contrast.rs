//! What is compared with what, as lines of a form: the same before treatment and before a round.

use super::Line;
use super::Reader;
use crate::study::Phase;
use crate::study::plan::Contrast;
use crate::study::plan::WordSet;

const WORDS: &[(&str, &str, WordSet)] = &[
    ("all", "All words", WordSet::All),
    ("treated", "Words practised in treatment", WordSet::Treated),
    ("untreated", "Words never practised", WordSet::Untreated),
];

/// The lines that are always shown: the phases, and the smallest change that matters.
pub(in crate::web::desk) fn lines(phases: &[Phase]) -> Vec<Line> {
    let phases: Vec<_> = phases
        .iter()
        .map(|phase| (phase.as_str(), phase.as_str()))
        .collect();
    vec![
        Line::one("contrast-from", "From", &phases),
        Line::one("contrast-to", "To", &phases),
        Line::number(
            "smallest-change",
            "The smallest change that matters",
            "points",
        )
        .hint("In points of percent of words judged correct. Decide it with those who treat."),
    ]
}

/// The lines whose usual values mostly do: the last sessions, and which words.
pub(in crate::web::desk) fn further() -> Vec<Line> {
    let words: Vec<_> = WORDS
        .iter()
        .map(|(value, name, _)| (*value, *name))
        .collect();
    vec![
        Line::number(
            "contrast-last",
            "Only the last sessions of the later phase",
            "",
        )
        .hint("Empty: all of them."),
        Line::one("contrast-words", "Words on which the verdict rests", &words),
    ]
}

/// The contrast that was filled in; nothing where the study has no phase.
pub(in crate::web::desk) fn read(reader: &mut Reader<'_>, phases: &[Phase]) -> Option<Contrast> {
    let named: Vec<(&str, &Phase)> = phases.iter().map(|phase| (phase.as_str(), phase)).collect();
    let words: Vec<_> = WORDS
        .iter()
        .map(|(value, _, words)| (*value, *words))
        .collect();
    let first = phases.first()?;
    let second = phases.get(1).unwrap_or(first);
    Some(Contrast {
        from: reader.choice("contrast-from", &named, first).clone(),
        to: reader.choice("contrast-to", &named, second).clone(),
        last: reader.whole_if_any("contrast-last", 1),
        words: reader.choice("contrast-words", &words, WordSet::All),
        smallest_change: reader.percent("smallest-change"),
    })
}
