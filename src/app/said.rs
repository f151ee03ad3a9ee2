//! What listeners said beside their judgements, as a round's record holds it: choices, never free
//! text.

use std::collections::BTreeMap;

use super::AppError;
use super::listening::ClosingAnswers;
use super::listening::SoundCheck;
use super::listening::ToldSounds;
use crate::store::SaidRow;
use crate::store::SoundCheckSaid;
use crate::study::Plan;
use crate::study::record::AnswerRecord;
use crate::study::record::SoundCheckRecord;

/// The choices of the closing questions, as the page sends them.
const EARLY_FROM_LATE: &[&str] = &["often", "sometimes", "no"];
const KNEW_A_VOICE: &[&str] = &["yes", "no"];

/// Every answer, by listener, in the order of asking.
pub(super) fn answers(rows: &[SaidRow], plan: &Plan) -> Result<Vec<AnswerRecord>, AppError> {
    let mut all = Vec::new();
    for row in rows {
        for (question, answer) in answers_of(row, plan)? {
            all.push(AnswerRecord {
                listener: row.listener.clone(),
                question: question.to_owned(),
                answer,
            });
        }
    }
    Ok(all)
}

fn answers_of<'p>(row: &SaidRow, plan: &'p Plan) -> Result<Vec<(&'p str, String)>, AppError> {
    let mut said: Vec<(&str, String)> = Vec::new();
    said.extend(row.assent.clone().map(|assent| ("assent", assent)));
    let answers: BTreeMap<String, String> = read(row.answers.as_ref())?.unwrap_or_default();
    for (question, _) in plan.questions.asked() {
        said.extend(
            answers
                .get(question)
                .map(|answer| (question, answer.clone())),
        );
    }
    let closing: ClosingAnswers = read(row.closing.as_ref())?.unwrap_or_default();
    for (question, answer, choices) in [
        (
            "told-early-from-late",
            closing.told_early_from_late,
            EARLY_FROM_LATE,
        ),
        ("knew-a-voice", closing.knew_a_voice, KNEW_A_VOICE),
    ] {
        let chosen = answer.filter(|answer| choices.contains(&answer.as_str()));
        said.extend(chosen.map(|answer| (question, answer)));
    }
    Ok(said)
}

/// What the listeners said of their sound, at each device.
pub(super) fn sound_checks(rows: &[SoundCheckSaid]) -> Result<Vec<SoundCheckRecord>, AppError> {
    let counts = |told: ToldSounds| [told.right, told.of, told.tries];
    let mut all = Vec::new();
    for row in rows {
        let said: Option<SoundCheck> = read(Some(&row.said))?;
        all.extend(said.map(|said| SoundCheckRecord {
            listener: row.listener.clone(),
            number: row.number,
            device: said.device,
            heard: said.heard,
            level_db: said.level_db,
            first_sound: said.first_sound.map(counts),
            headphones: said.headphones.map(counts),
        }));
    }
    Ok(all)
}

fn read<T: serde::de::DeserializeOwned>(text: Option<&String>) -> Result<Option<T>, AppError> {
    text.map(|text| serde_json::from_str(text))
        .transpose()
        .map_err(|error| AppError::Unreadable(error.to_string()))
}
