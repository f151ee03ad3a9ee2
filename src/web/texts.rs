//! The sentences that listeners read, on pages and on slips of paper.

use serde::Deserialize;

macro_rules! texts {
    ($($section:ident: $name:ident { $($sentence:ident),+ $(,)? })+) => {
        /// Every sentence that a listener reads, in one language.
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
        title, lead, caution, step_start, step_play, step_answer, play, playing, level,
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
        keeps_breaking, keeps_breaking_here, blocked, unreached, interrupted_here, broken,
        elsewhere, fell_away, aside, aside_lead, aside_noise, aside_another_word, aside_no_sound,
        aside_known_speaker, saved, unsaved, loose, offline, settings, level, read_first, keys_on, key_left,
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
    hand: HandTexts { link, title, lead, sent, waiting, stranger, somebody_else, button, back }
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
    refused: RefusedTexts {
        not_found_title, not_found, other_site_title, other_site, too_large_title, too_large,
        unreadable_title, unreadable, too_slow_title, too_slow, ours_title, ours,
    }
    slip: SlipTexts { title, what, how, yours, until, code }
}

impl Texts {
    /// The direction in which the language runs, as HTML writes it.
    pub(super) fn direction(&self) -> &'static str {
        if self.page.direction == RIGHT_TO_LEFT {
            RIGHT_TO_LEFT
        } else {
            LEFT_TO_RIGHT
        }
    }
}

/// How HTML writes the two directions.
pub(super) const LEFT_TO_RIGHT: &str = "ltr";
pub(super) const RIGHT_TO_LEFT: &str = "rtl";

/// A sentence with its names in braces filled in.
pub(super) fn fill(sentence: &str, values: &[(&str, &dyn std::fmt::Display)]) -> String {
    values
        .iter()
        .fold(sentence.to_owned(), |filled, (name, value)| {
            filled.replace(&format!("{{{name}}}"), &value.to_string())
        })
}
