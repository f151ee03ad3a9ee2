//! What listening asks of a listener, in sentences: minutes, words, megabytes, days.

use crate::app::listening::Effort;
use crate::web::texts::ConsentTexts;
use crate::web::texts::fill;

/// Seconds from one word to the next, and minutes for all else (ours).
const SECONDS_A_WORD: u32 = 6;
const MINUTES_BESIDES: u32 = 4;

/// The facts that stand on the first page, each with what is added to it.
pub(super) struct Facts {
    pub(super) minutes: String,
    pub(super) minutes_more: String,
    pub(super) words: String,
    pub(super) words_more: String,
}

impl Facts {
    pub(super) fn of(texts: &ConsentTexts, effort: &Effort) -> Self {
        let rests = effort.words.checked_div(effort.rest_every).unwrap_or(0);
        let listened = (effort.words * SECONDS_A_WORD).div_ceil(60);
        let minutes = listened + MINUTES_BESIDES + rests;
        let several = effort.sittings > 1;
        let days = days(effort, listened);
        Self {
            minutes: fill(
                if several {
                    &texts.minutes_each
                } else {
                    &texts.minutes
                },
                &[("sittings", &effort.sittings), ("minutes", &minutes)],
            ),
            minutes_more: if days > effort.sittings {
                fill(&texts.minutes_days, &[("days", &days)])
            } else if several {
                texts.minutes_each_more.clone()
            } else {
                texts.minutes_more.clone()
            },
            words: fill(
                if several {
                    &texts.words_each
                } else {
                    &texts.words
                },
                &[("words", &effort.words)],
            ),
            words_more: fill(
                &texts.words_more,
                &[("megabytes", &effort.sound_bytes.div_ceil(1_000_000))],
            ),
        }
    }
}

/// Days that all of it takes at least, by what the plan lets her hear on one. `listened`: minutes of
/// judging in a sitting.
fn days(effort: &Effort, listened: u32) -> u32 {
    let by = |in_a_sitting: u32, a_day: u32| match a_day {
        0 => 1,
        a_day => in_a_sitting.saturating_mul(effort.sittings).div_ceil(a_day),
    };
    by(effort.words, effort.words_a_day).max(by(listened, effort.minutes_a_day))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::web::languages::Languages;

    fn told(effort: &Effort) -> [String; 4] {
        let languages = Languages::compiled_in().unwrap();
        let facts = Facts::of(&languages.of("en").texts.consent, effort);
        [
            facts.minutes,
            facts.minutes_more,
            facts.words,
            facts.words_more,
        ]
    }

    const EFFORT: Effort = Effort {
        sittings: 1,
        words: 100,
        sound_bytes: 3_400_000,
        rest_every: 50,
        words_a_day: 0,
        minutes_a_day: 45,
    };

    // 100 words of six seconds are ten minutes; two rests and four minutes for all else.
    #[test]
    fn one_sitting_is_told_in_minutes_and_megabytes() {
        assert_eq!(
            told(&EFFORT),
            [
                "About 16 minutes",
                "in one go, if you can",
                "About 100 words",
                "about 4 MB of sound",
            ]
        );
    }

    #[test]
    fn several_sittings_are_told_by_their_number() {
        let effort = Effort {
            sittings: 3,
            ..EFFORT
        };
        assert_eq!(
            told(&effort),
            [
                "3 sittings of about 16 minutes",
                "each in one go, if you can; you may stop after any of them",
                "About 100 words in each",
                "about 4 MB of sound",
            ]
        );
    }

    #[test]
    fn where_a_day_is_capped_nobody_is_asked_for_one_go() {
        let effort = Effort {
            words_a_day: 40,
            ..EFFORT
        };
        assert_eq!(told(&effort)[1], "not all at once: over 3 days or more");
        let effort = Effort {
            minutes_a_day: 5,
            ..EFFORT
        };
        assert_eq!(told(&effort)[1], "not all at once: over 2 days or more");
    }
}
