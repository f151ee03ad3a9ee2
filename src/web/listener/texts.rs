//! The sentences of the listener's page, one file a language in `texts/`.

use std::collections::BTreeMap;

use rust_embed::Embed;
use serde::Deserialize;

#[derive(Embed)]
#[folder = "src/web/listener/texts/"]
struct Files;

/// The language that is always there.
const USUAL: &str = "en";

/// Why the sentences could not be read: a fault of the build, told at the start.
#[derive(Debug, thiserror::Error)]
pub enum TextsError {
    /// A file does not hold exactly the sentences that the page asks for.
    #[error("the listener's page in `{language}` is not complete: {source}")]
    Incomplete {
        /// The language.
        language: String,
        /// What is missing or unknown, and where.
        source: Box<toml::de::Error>,
    },
    /// English is not among the languages.
    #[error("the listener's page has no English")]
    NoEnglish,
}

macro_rules! texts {
    ($($section:ident: $name:ident { $($sentence:ident),+ $(,)? })+) => {
        /// Every sentence of the listener's page in one language.
        #[derive(Debug, Clone, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub(super) struct Texts {
            $(pub(super) $section: $name),+
        }
        $(
            #[derive(Debug, Clone, Deserialize)]
            #[serde(deny_unknown_fields)]
            pub(super) struct $name {
                $(pub(super) $sentence: String),+
            }
        )+
    };
}

texts! {
    page: PageTexts {
        direction, language, needs_script, correct, distorted, play,
    }
    consent: ConsentTexts {
        title, lead, no_training, minutes, minutes_more, minutes_each, minutes_each_more, minutes_days,
        words, words_each, words_more, room, room_more, later, later_here, about,
        voices, early, payment, payment_apart, assent, of_age, under_age, guardian, agree, go_on,
    }
    questions: QuestionTexts {
        title, lead, not_said, needed, go_on,
        first_language, first_language_of_the_page, first_language_several, first_language_another,
        age, age_under_18, age_18_29, age_30_44, age_45_59, age_60_74, age_75_or_over,
        hearing, hearing_no_difficulty, hearing_some_difficulty, hearing_aid_or_implant,
        experience, experience_none, experience_own_children, experience_work,
        experience_profession,
        acquaintance, acquaintance_more, acquaintance_no, acquaintance_perhaps, acquaintance_yes,
    }
    check: CheckTexts {
        title, lead, caution, step_start, step_play, step_answer, play, playing, level, blocked,
        step_first, first_lead, first_play, first_with, first_without, first_count, first_good,
        first_bad, first_bad_required, step_headphones, headphones_lead, headphones_play, headphones_first,
        headphones_second, headphones_third, headphones_good, headphones_bad,
        headphones_bad_required, again, required,
        device, device_wired, device_wireless, device_built_in, device_loudspeaker, heard,
        heard_yes, heard_no, not_heard, answer_needed, go_on,
    }
    judge: JudgeTexts {
        title, part, target, marked, nothing_else, examples, examples_lead, example, example_divided, how, how_hear, how_answer, how_again, how_change, how_aside, keys,
        key_answers, key_next, key_again, left_key, right_key, next_key, again_key, begin, enough,
        enough_more,
    }
    sitting: SittingTexts {
        title, practice, progress, hear, listening, next, last, again, again_left, question,
        question_unmarked, loading, get_ready, heard_before, practice_over, noted, noted_may_change,
        feedback, feedback_divided, interrupted, interrupted_again, cut_short,
        keeps_breaking, blocked, broken,
        elsewhere, fell_away, aside, aside_lead, aside_noise, aside_another_word, aside_no_sound,
        aside_known_speaker, saved, unsaved, loose, offline, settings, level, keys_on, key_left,
        key_right, key_next, key_again, key_wait,
    }
    closing: ClosingTexts {
        title, lead, early_from_late, early_from_late_yes, early_from_late_some, early_from_late_no,
        early, enough, round_over, compared, knew_a_voice, knew_a_voice_yes, knew_a_voice_no, remark, finish,
    }
    practice: PracticeTexts { title, lead, title_away, lead_away, go_on }
    rest: RestTexts { title, lead, done, examples, go_on, stop }
    today: TodayTexts { title, lead, lead_here }
    later: LaterTexts { title, lead, lead_here, go_on }
    left_out: LeftOutTexts { title, lead, lead_here, again }
    done: DoneTexts { title, lead, receipt, receipt_lead, withdraw, close }
    nothing_left: NothingLeftTexts { title, lead, lead_here, again }
    round_closed: RoundClosedTexts { title, lead }
    paused: PausedTexts { title, lead, lead_here, again }
    open: OpenTexts { title, lead, own_place, known_here, nothing_yet, begin }
    way_back: WayBackTexts { title, lead, address, copy, copied, keep, go_on }
    start: StartTexts { title, lead, unsent, code, unknown, begin }
    hand: HandTexts { link, title, lead, sent, waiting, stranger, button, back }
    withdraw: WithdrawTexts {
        title, lead, out, kept, copies, record, receipt, sure, button, mistyped, unknown, done_title,
        done,
    }
    errors: ErrorTexts {
        title, back, no_listener_title, no_listener, link_title, link_unknown, link_revoked, link_expired,
        link_used_up, code_unknown, withdrawn, paused, tries,
        not_found, out_of_order, already_answered, too_late, replays, unanswered, no_guardian, unreadable, closed, later,
        ours,
    }
}

impl Texts {
    /// The direction in which the language runs, as HTML writes it.
    pub(super) fn direction(&self) -> &'static str {
        if self.page.direction == "rtl" {
            "rtl"
        } else {
            "ltr"
        }
    }
}

/// A sentence with its names in braces filled in.
pub(super) fn fill(sentence: &str, values: &[(&str, &dyn std::fmt::Display)]) -> String {
    values
        .iter()
        .fold(sentence.to_owned(), |filled, (name, value)| {
            filled.replace(&format!("{{{name}}}"), &value.to_string())
        })
}

/// All languages of the listener's page.
#[derive(Debug)]
pub(super) struct Languages {
    english: Texts,
    others: BTreeMap<String, Texts>,
}

impl Languages {
    /// Reads what was compiled in: a language a file.
    pub(super) fn load() -> Result<Self, TextsError> {
        let files = Files::iter().filter_map(|file| {
            let content = String::from_utf8_lossy(&Files::get(&file)?.data).into_owned();
            Some((file.into_owned(), content))
        });
        Self::read(files)
    }

    /// `files`: name and content of each, such as `en.toml`.
    fn read(files: impl Iterator<Item = (String, String)>) -> Result<Self, TextsError> {
        let mut others = BTreeMap::new();
        for (file, content) in files {
            let Some(language) = file.strip_suffix(".toml") else {
                continue;
            };
            let texts = toml::from_str(&content).map_err(|error| TextsError::Incomplete {
                language: language.to_owned(),
                source: Box::new(error),
            })?;
            others.insert(language.to_owned(), texts);
        }
        let english = others.remove(USUAL).ok_or(TextsError::NoEnglish)?;
        Ok(Self { english, others })
    }

    /// The sentences in a language, or in its main form (`es` for `es-MX`), or in English; with
    /// the tag of the language that was found.
    pub(super) fn of(&self, wanted: &str) -> (&str, &Texts) {
        let wanted = wanted.to_ascii_lowercase();
        let main = wanted.split(['-', '_']).next().unwrap_or_default();
        self.others
            .get_key_value(wanted.as_str())
            .or_else(|| self.others.get_key_value(main))
            .map_or((USUAL, &self.english), |(tag, texts)| (tag, texts))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_language_has_every_sentence_and_no_empty_one() {
        Languages::load().unwrap();
        for file in Files::iter() {
            let content = Files::get(&file).unwrap();
            let sections: toml::Table =
                toml::from_str(std::str::from_utf8(&content.data).unwrap()).unwrap();
            for (section, sentences) in &sections {
                for (name, sentence) in sentences.as_table().unwrap() {
                    let said = sentence.as_str().unwrap().trim();
                    assert!(!said.is_empty(), "{file}: {section}.{name} is empty");
                }
            }
        }
    }

    #[test]
    fn every_language_fills_in_the_same_values() {
        let names_in = |sentence: &str| {
            let mut names: Vec<String> = sentence
                .split('{')
                .skip(1)
                .filter_map(|rest| rest.split_once('}').map(|(name, _)| name.to_owned()))
                .collect();
            names.sort();
            names
        };
        let read = |file: &str| -> toml::Table {
            toml::from_str(std::str::from_utf8(&Files::get(file).unwrap().data).unwrap()).unwrap()
        };
        let english = read("en.toml");
        for file in Files::iter() {
            for (section, sentences) in &read(&file) {
                for (name, sentence) in sentences.as_table().unwrap() {
                    assert_eq!(
                        names_in(sentence.as_str().unwrap()),
                        names_in(english[section][name].as_str().unwrap()),
                        "{file}: {section}.{name}"
                    );
                }
            }
        }
    }

    #[test]
    fn a_third_language_is_one_more_file_in_either_direction() {
        let english = String::from_utf8(Files::get("en.toml").unwrap().data.into_owned()).unwrap();
        let third = english
            .replace("direction = \"ltr\"", "direction = \"rtl\"")
            .replace("begin = \"Begin\"", "begin = \"ابدأ\"");
        let files = [("en.toml", english), ("ar.toml", third)];
        let files = files.map(|(name, content)| (name.to_owned(), content));
        let languages = Languages::read(files.into_iter()).unwrap();
        let (tag, texts) = languages.of("ar-EG");
        assert_eq!((tag, texts.direction()), ("ar", "rtl"));
        assert_eq!(texts.judge.begin, "ابدأ");
    }

    #[test]
    fn an_unknown_language_is_english_and_a_regional_one_its_main_form() {
        let languages = Languages::load().unwrap();
        assert_eq!(languages.of("xx").0, "en");
        assert_eq!(languages.of("en-GB").0, "en");
        assert_eq!(languages.of("es-MX").0, "es");
    }
}
