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
        .map(|(verdict, readings)| format!("“{verdict}” for {}", readings.join("; for ")))
        .collect();
    format!(
        "{}, {} words: “{}” as sealed; {}.",
        sealed.child,
        word_set(sealed.words).1,
        shown(sealed),
        otherwise.join(", and "),
    )
}

fn shown(found: &ReadingFinding) -> &'static str {
    verdict_words(found.verdict.unwrap_or_default(), found.of_the_child)
}

/// What stands above the readings of all children where none changes a verdict: by which each stays, and which gave none.
pub(super) fn steady(found: &RoundFindings) -> Option<String> {
    let readings = found.sensitivity.iter();
    let others: Vec<&ReadingFinding> = readings
        .filter(|one| one.reading != ReadAs::Panel)
        .collect();
    if others.is_empty() || !hanging(found).is_empty() {
        return None;
    }
    let (mut stays, mut none) = (Vec::new(), Vec::new());
    for one in &others {
        let (_, reading) = read_as(one.reading);
        let same = || others.iter().filter(|other| other.reading == one.reading);
        let gave = same().filter(|other| other.verdict.is_some()).count();
        let (known, shown) = match gave {
            0 => (&mut none, reading.to_owned()),
            some if some < same().count() => {
                (&mut stays, format!("{reading} (where enough is left)"))
            }
            _ => (&mut stays, reading.to_owned()),
        };
        if !known.contains(&shown) {
            known.push(shown);
        }
    }
    let parts = [
        ("Read otherwise, every verdict stays", stays),
        ("Too little is left to tell", none),
    ];
    let said: Vec<String> = parts
        .into_iter()
        .filter(|(_, readings)| !readings.is_empty())
        .map(|(what, readings)| format!("{what}: for {}.", readings.join("; for ")))
        .collect();
    Some(said.join(" "))
}
