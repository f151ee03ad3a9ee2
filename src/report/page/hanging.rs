//! Verdicts that hang on how the judgements are read: said first.

use super::super::tables::read_as;
use super::super::tables::verdict_words;
use super::super::tables::word_set;
use crate::analysis::ReadAs;
use crate::analysis::ReadingFinding;
use crate::analysis::RoundFindings;

/// A sentence for each change whose verdict is another under some reading.
pub(super) fn hanging(found: &RoundFindings) -> Vec<String> {
    let sealed = found
        .sensitivity
        .iter()
        .filter(|reading| reading.reading == ReadAs::Panel);
    sealed
        .filter_map(|sealed| {
            let others: Vec<&ReadingFinding> = found
                .sensitivity
                .iter()
                .filter(|other| (&other.child, other.words) == (&sealed.child, sealed.words))
                .filter(|other| other.differs)
                .collect();
            (!others.is_empty()).then(|| sentence(sealed, &others))
        })
        .collect()
}

/// Readings with the same verdict stand together.
fn sentence(sealed: &ReadingFinding, others: &[&ReadingFinding]) -> String {
    let mut said: Vec<(&str, Vec<&str>)> = Vec::new();
    for other in others {
        let verdict = shown(other);
        let (_, reading) = read_as(other.reading);
        match said.iter_mut().find(|(known, _)| *known == verdict) {
            Some((_, readings)) => readings.push(reading),
            None => said.push((verdict, vec![reading])),
        }
    }
    let otherwise: Vec<String> = said
        .into_iter()
        .map(|(verdict, readings)| format!("“{verdict}” by {}", readings.join("; by ")))
        .collect();
    format!(
        "{}, {} words: “{}” as sealed, {}.",
        sealed.child,
        word_set(sealed.words).1,
        shown(sealed),
        otherwise.join(", and "),
    )
}

fn shown(found: &ReadingFinding) -> &'static str {
    verdict_words(found.verdict.unwrap_or_default(), found.of_the_child)
}

/// What stands above the readings of all children: that none changes a verdict, or how many do.
pub(super) fn steady(found: &RoundFindings) -> Option<String> {
    let readings = found.sensitivity.iter();
    let others = readings.filter(|one| one.reading != ReadAs::Panel).count();
    (others > 0 && hanging(found).is_empty()).then(|| {
        "Read otherwise, every verdict stays: with every listener, by the listeners' weights, on words that were not played again, by the majority on each word, and whatever the missing words were.".to_owned()
    })
}
