//! The page of the questions before the sound check.

use askama::Template;

use crate::app::listening::Visit;
use crate::study::course::NOT_SAID;
use crate::study::course::Question;
use crate::study::course::UNDER_AGE;
use crate::web::Frame;
use crate::web::texts::QuestionTexts;
use crate::web::texts::Texts;
use crate::web::texts::fill;

#[derive(Template)]
#[template(path = "listener/questions.html")]
pub(super) struct QuestionsPage<'a> {
    frame: Frame,
    texts: &'a Texts,
    questions: Vec<Asked<'a>>,
}

/// One question with its choices: what is kept, and what she reads.
struct Asked<'a> {
    name: &'a str,
    ask: &'a str,
    more: Option<&'a str>,
    choices: Vec<(&'a str, String)>,
}

impl<'a> QuestionsPage<'a> {
    pub(super) fn of(frame: Frame, texts: &'a Texts, visit: &'a Visit) -> Self {
        let questions = &visit.questions;
        let of_the_page = questions.ask.iter().map(|question| {
            let (ask, labels) = labels(&texts.questions, *question);
            let labels = labels
                .into_iter()
                .map(|label| fill(label, &[("language", &texts.page.language)]));
            Asked {
                name: question.name(),
                ask,
                more: (*question == Question::Acquaintance)
                    .then_some(texts.questions.acquaintance_more.as_str()),
                choices: question
                    .choices()
                    .iter()
                    .copied()
                    .zip(labels)
                    .filter(|(choice, _)| !visit.of_age || *choice != UNDER_AGE)
                    .collect(),
            }
        });
        let own = questions.own.iter().map(|question| Asked {
            name: &question.name,
            ask: &question.ask,
            more: None,
            choices: question
                .choices
                .iter()
                .map(|choice| (choice.as_str(), choice.clone()))
                .collect(),
        });
        let mut questions: Vec<_> = of_the_page.chain(own).collect();
        for question in &mut questions {
            let not_said = texts.questions.not_said.clone();
            question.choices.push((NOT_SAID, not_said));
        }
        Self {
            frame,
            texts,
            questions,
        }
    }
}

/// A question of the page, and its answers in the order of [`Question::choices`].
fn labels(texts: &QuestionTexts, question: Question) -> (&str, Vec<&str>) {
    match question {
        Question::FirstLanguage => (
            &texts.first_language,
            vec![
                &texts.first_language_of_the_page,
                &texts.first_language_several,
                &texts.first_language_another,
            ],
        ),
        Question::Age => (
            &texts.age,
            vec![
                &texts.age_under_18,
                &texts.age_18_29,
                &texts.age_30_44,
                &texts.age_45_59,
                &texts.age_60_74,
                &texts.age_75_or_over,
            ],
        ),
        Question::Hearing => (
            &texts.hearing,
            vec![
                &texts.hearing_no_difficulty,
                &texts.hearing_some_difficulty,
                &texts.hearing_aid_or_implant,
            ],
        ),
        Question::Experience => (
            &texts.experience,
            vec![
                &texts.experience_none,
                &texts.experience_own_children,
                &texts.experience_work,
                &texts.experience_profession,
            ],
        ),
        Question::Acquaintance => (
            &texts.acquaintance,
            vec![
                &texts.acquaintance_no,
                &texts.acquaintance_perhaps,
                &texts.acquaintance_yes,
            ],
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::web::languages::Languages;

    #[test]
    fn every_choice_of_every_question_can_be_read() {
        let languages = Languages::compiled_in().unwrap();
        for language in languages.all() {
            let texts = &language.texts;
            for question in Question::ALL {
                let (_, labels) = labels(&texts.questions, question);
                assert_eq!(labels.len(), question.choices().len(), "{question:?}");
            }
        }
    }
}
