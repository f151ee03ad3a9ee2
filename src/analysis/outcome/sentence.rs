//! A verdict in plain words: from what to what, between which limits, beyond what, and what would settle it.
//!
//! Every number is whole, in percent or points, halves away from zero.

use super::settle::MOST_LISTENERS;
use super::settle::MOST_SESSIONS;
use super::settle::MOST_WORDS;
use super::settle::Settling;
use crate::stats::interval::IntervalError;
use crate::stats::interval::Reading;
use crate::stats::verdict::Verdict;
use crate::study::record::Look;

/// What the sentence tells. Shares of 1.
pub(super) struct Said {
    pub(super) verdict: Verdict,
    pub(super) means: [f64; 2],
    pub(super) limits: [f64; 2],
    pub(super) confidence: f64,
    pub(super) mdc95: f64,
    pub(super) smallest_change: f64,
    pub(super) reading: Reading,
    /// Sessions before and after.
    pub(super) sessions: [usize; 2],
    /// Where it cannot be told.
    pub(super) settling: Option<Settling>,
}

/// Where there is no interval; the means where there are any.
pub(super) fn unknown(means: Option<[f64; 2]>, refusal: IntervalError) -> String {
    let Some(means) = means else {
        return format!("Whether anything has changed cannot be told: {refusal}.");
    };
    let settles = match refusal {
        IntervalError::OneListener => " Judgements by more listeners would settle it.",
        IntervalError::NothingCrossed => {
            " Two words of a session that two listeners both judge would be a beginning."
        }
        _ => "",
    };
    let [before, after] = means.map(points);
    let size = size(means);
    format!(
        "From {before}% to {after}% correct: {size}. How sure that is cannot be told: {refusal}.{settles}"
    )
}

/// The sentences of a change, without the child's code.
pub(super) fn sentence(said: &Said) -> String {
    let mut text = format!("{} {}", from_what_to_what(said), meaning(said));
    if let Some(settling) = said.settling {
        text.push_str(&what_would_settle_it(settling, said.reading));
    }
    if said.reading == Reading::TheseDays {
        text.push_str(&few_days(said.sessions));
    }
    text
}

/// How often results were seen before, and are to be seen still; nothing where this is the only look.
pub(super) fn look(look: Look) -> String {
    if look.is_the_only_one() {
        return String::new();
    }
    let taken = look.taken;
    let plan = match (look.planned, look.to_come()) {
        (Some(planned), Some(to_come)) if taken <= planned => {
            let rest = match to_come {
                0 => "none is to come".to_owned(),
                1 => "1 is to come".to_owned(),
                more => format!("{more} are to come"),
            };
            format!("look {taken} of {planned} that were planned; {rest}")
        }
        (Some(planned), _) => format!("look {taken}, where {planned} were planned"),
        _ => format!("look {taken}, and how many there would be was not planned"),
    };
    format!(" This is {plan}: each look is one more chance to be wrong.")
}

/// "From 40% to 65% correct: a rise of 25 points (12 to 37, with 95% confidence)."
fn from_what_to_what(said: &Said) -> String {
    let scope = match said.reading {
        Reading::Child => "",
        Reading::TheseDays => " between these recordings",
    };
    let [before, after] = said.means.map(points);
    let size = size(said.means);
    let limits = limits(said.limits);
    let level = (said.confidence * 1000.0).round() / 10.0;
    format!(
        "From {before}% to {after}% correct{scope}: {size} ({limits}, with {level}% confidence)."
    )
}

/// "a rise of 25 points"; says so where that is not the difference of the two percentages as they are shown.
fn size(means: [f64; 2]) -> String {
    let [before, after] = means.map(points);
    let change = means[1] - means[0];
    let way = if change > 0.0 { "rise" } else { "fall" };
    let difference = points(change);
    match difference {
        0 if before == after => "no difference".to_owned(),
        0 => "less than half a point apart".to_owned(),
        _ => {
            let rounded = if after - before == difference {
                ""
            } else {
                ", counted before rounding"
            };
            format!("a {way} of {}{rounded}", counted(difference.abs()))
        }
    }
}

/// The limits in the direction of the change, or in both where it may have gone either way.
fn limits([low, high]: [f64; 2]) -> String {
    if low > 0.0 {
        format!("{} to {}", bare(low), bare(high))
    } else if high < 0.0 {
        format!("{} to {}", bare(-high), bare(-low))
    } else {
        let end = |way: &str, share: f64| match points(share) {
            0 => "no change".to_owned(),
            points => format!("a {way} of {points}"),
        };
        format!("between {} and {}", end("fall", -low), end("rise", high))
    }
}

fn meaning(said: &Said) -> String {
    let noise = match said.reading {
        Reading::Child => "good and bad days and the measurement alone can bring",
        Reading::TheseDays => "the measurement alone can bring",
    };
    let size = (said.means[1] - said.means[0]).abs();
    let mdc = counted(points(said.mdc95));
    let just = just(size, said.mdc95);
    let smallest = counted(points(said.smallest_change));
    match said.verdict {
        Verdict::Improved | Verdict::Declined => {
            let (better, rise) = match said.verdict {
                Verdict::Improved => ("better", "rise"),
                _ => ("worse", "fall"),
            };
            let sounds = match said.reading {
                Reading::Child => format!("the child's words sound {better} than before"),
                Reading::TheseDays => format!("the later recordings sound {better}"),
            };
            let small = if size < said.smallest_change {
                format!(
                    " The {rise} is smaller than the {smallest} that were set as the smallest change that matters."
                )
            } else {
                String::new()
            };
            format!("That is {just}beyond the {mdc} that {noise}: {sounds}.{small}")
        }
        Verdict::NoRelevantChange => {
            let widest = said.limits[0].abs().max(said.limits[1].abs());
            let just = self::just(widest, said.smallest_change);
            format!(
                "Any change in that range is {just}smaller than the {smallest} that were set as the smallest change that matters."
            )
        }
        Verdict::CannotTell if !contains_zero(said) => {
            format!("That is no more than the {mdc} that {noise}: it cannot be told yet.")
        }
        Verdict::CannotTell if size > said.mdc95 => format!(
            "That is {just}beyond the {mdc} that {noise}, yet the range still holds no change at all: it cannot be told yet."
        ),
        Verdict::CannotTell => format!(
            "That may be no change at all or one that matters, and {noise} {mdc}: it cannot be told yet."
        ),
    }
}

/// Two numbers that differ look the same when rounded.
fn just(size: f64, bound: f64) -> &'static str {
    if points(size) == points(bound) {
        "just "
    } else {
        ""
    }
}

fn contains_zero(said: &Said) -> bool {
    said.limits[0] <= 0.0 && said.limits[1] >= 0.0
}

fn what_would_settle_it(settling: Settling, reading: Reading) -> String {
    // More days would tell of the child, which is said apart where there are few.
    let (sessions, scope) = match reading {
        Reading::Child => (Some(settling.sessions), ""),
        Reading::TheseDays => (None, " for these recordings"),
    };
    let kinds = [
        Some((settling.listeners, MOST_LISTENERS, "listener", "")),
        Some((settling.words, MOST_WORDS, "word", " in every session")),
        sessions.map(|needed| (needed, MOST_SESSIONS, "session", " in each phase")),
    ];
    let kinds = kinds.into_iter().flatten();
    let ways: Vec<String> = kinds
        .clone()
        .filter_map(|(needed, _, noun, place)| Some(more(needed?, noun, place)))
        .collect();
    let settled = match ways.as_slice() {
        [] => {
            let most: Vec<String> = kinds
                .map(|(_, most, noun, place)| more(most, noun, place))
                .collect();
            format!("neither {}", most.join(" nor "))
        }
        [one, other] => format!("about {one} or {other}"),
        several => format!("about {}", several.join(", or ")),
    };
    format!(" If the difference stays as it is, {settled} would settle it{scope}.")
}

fn few_days([before, after]: [usize; 2]) -> String {
    let sessions = if before == 1 { "session" } else { "sessions" };
    format!(
        " Whether the child has changed beyond good and bad days cannot be told from {before} {sessions} before \
         and {after} after; three in each phase would settle more than more listeners."
    )
}

fn more(count: u32, noun: &str, place: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} more {noun}{plural}{place}")
}

fn counted(points: i64) -> String {
    match points {
        0 => "less than 1 point".to_owned(),
        1 => "1 point".to_owned(),
        _ => format!("{points} points"),
    }
}

/// A limit above zero.
fn bare(share: f64) -> String {
    match points(share) {
        0 => "less than 1".to_owned(),
        points => points.to_string(),
    }
}

/// A share as whole points, halves away from zero.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a share of 1 is at most 100 points"
)]
fn points(share: f64) -> i64 {
    // Sums of shares err in the sixteenth place: a half stays a half.
    ((share * 100.0 * 1e9).round() / 1e9).round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A child's change with three sessions before and four after.
    fn said(verdict: Verdict, means: [f64; 2], limits: [f64; 2], mdc95: f64) -> Said {
        Said {
            verdict,
            means,
            limits,
            confidence: 0.95,
            mdc95,
            smallest_change: 0.15,
            reading: Reading::Child,
            sessions: [3, 4],
            settling: None,
        }
    }

    #[test]
    fn a_clear_gain_says_from_what_to_what_between_which_limits_and_beyond_what() {
        let gain = said(Verdict::Improved, [0.20, 0.80], [0.352, 0.741], 0.184);
        assert_eq!(
            sentence(&gain),
            "From 20% to 80% correct: a rise of 60 points (35 to 74, with 95% confidence). That is beyond the \
             18 points that good and bad days and the measurement alone can bring: the child's words sound \
             better than before."
        );
    }

    #[test]
    fn a_rise_that_is_not_the_difference_of_the_shown_numbers_says_why() {
        let gain = said(Verdict::Improved, [0.218, 0.624], [0.13, 0.62], 0.20);
        assert!(
            sentence(&gain).starts_with(
                "From 22% to 62% correct: a rise of 41 points, counted before rounding (13 to 62, with 95% \
                 confidence)."
            ),
            "{}",
            sentence(&gain)
        );
        let hardly = said(Verdict::NoRelevantChange, [0.494, 0.496], [-0.1, 0.1], 0.12);
        assert!(
            sentence(&hardly).starts_with(
                "From 49% to 50% correct: less than half a point apart (between a fall of 10 and a rise of 10, \
                 with 95% confidence)."
            ),
            "{}",
            sentence(&hardly)
        );
    }

    #[test]
    fn a_gain_that_rounds_to_its_threshold_is_just_beyond_it_and_a_small_one_is_called_small() {
        let gain = said(Verdict::Improved, [0.50, 0.604], [0.004, 0.21], 0.101);
        assert_eq!(
            sentence(&gain),
            "From 50% to 60% correct: a rise of 10 points (less than 1 to 21, with 95% confidence). That is just \
             beyond the 10 points that good and bad days and the measurement alone can bring: the child's words \
             sound better than before. The rise is smaller than the 15 points that were set as the smallest \
             change that matters."
        );
    }

    #[test]
    fn a_decline_counts_its_points_downwards() {
        let decline = said(Verdict::Declined, [0.65, 0.40], [-0.37, -0.12], 0.14);
        assert_eq!(
            sentence(&decline),
            "From 65% to 40% correct: a fall of 25 points (12 to 37, with 95% confidence). That is beyond the \
             14 points that good and bad days and the measurement alone can bring: the child's words sound \
             worse than before."
        );
    }

    #[test]
    fn no_relevant_change_names_the_change_that_would_matter() {
        let same = said(Verdict::NoRelevantChange, [0.90, 0.91], [-0.06, 0.08], 0.08);
        assert_eq!(
            sentence(&same),
            "From 90% to 91% correct: a rise of 1 point (between a fall of 6 and a rise of 8, with 95% \
             confidence). Any change in that range is smaller than the 15 points that were set as the smallest \
             change that matters."
        );
    }

    #[test]
    fn what_cannot_be_told_says_why_and_what_would_settle_it() {
        let unsure = Said {
            settling: Some(Settling {
                listeners: Some(6),
                words: Some(1),
                sessions: Some(2),
            }),
            ..said(Verdict::CannotTell, [0.40, 0.52], [-0.03, 0.27], 0.14)
        };
        assert_eq!(
            sentence(&unsure),
            "From 40% to 52% correct: a rise of 12 points (between a fall of 3 and a rise of 27, with 95% \
             confidence). That may be no change at all or one that matters, and good and bad days and the \
             measurement alone can bring 14 points: it cannot be told yet. If the difference stays as it is, \
             about 6 more listeners, or 1 more word in every session, or 2 more sessions in each phase would \
             settle it."
        );
        let within_noise = Said {
            settling: Some(Settling {
                listeners: None,
                words: None,
                sessions: Some(1),
            }),
            ..said(Verdict::CannotTell, [0.40, 0.52], [0.01, 0.23], 0.14)
        };
        assert_eq!(
            sentence(&within_noise),
            "From 40% to 52% correct: a rise of 12 points (1 to 23, with 95% confidence). That is no more than \
             the 14 points that good and bad days and the measurement alone can bring: it cannot be told yet. \
             If the difference stays as it is, about 1 more session in each phase would settle it."
        );
        let beyond_noise = Said {
            settling: Some(Settling {
                listeners: None,
                words: None,
                sessions: None,
            }),
            ..said(Verdict::CannotTell, [0.40, 0.58], [0.0, 0.36], 0.17)
        };
        assert_eq!(
            sentence(&beyond_noise),
            "From 40% to 58% correct: a rise of 18 points (between no change and a rise of 36, with 95% \
             confidence). That is beyond the 17 points that good and bad days and the measurement alone can \
             bring, yet the range still holds no change at all: it cannot be told yet. If the difference stays \
             as it is, neither 60 more listeners nor 100 more words in every session nor 12 more sessions in \
             each phase would settle it."
        );
    }

    #[test]
    fn few_sessions_a_side_speak_of_the_recordings_and_ask_for_days() {
        let two_days = Said {
            reading: Reading::TheseDays,
            sessions: [1, 2],
            ..said(Verdict::Improved, [0.40, 0.65], [0.12, 0.37], 0.11)
        };
        assert_eq!(
            sentence(&two_days),
            "From 40% to 65% correct between these recordings: a rise of 25 points (12 to 37, with 95% \
             confidence). That is beyond the 11 points that the measurement alone can bring: the later \
             recordings sound better. Whether the child has changed beyond good and bad days cannot be told \
             from 1 session before and 2 after; three in each phase would settle more than more listeners."
        );
        let unsure = Said {
            verdict: Verdict::CannotTell,
            means: [0.40, 0.52],
            limits: [-0.03, 0.27],
            settling: Some(Settling {
                listeners: Some(6),
                words: Some(9),
                sessions: Some(2),
            }),
            ..two_days
        };
        assert!(
            sentence(&unsure).contains(
                "If the difference stays as it is, about 6 more listeners or 9 more words in every session would \
                 settle it for these recordings. Whether the child has changed"
            ),
            "{}",
            sentence(&unsure)
        );
    }

    #[test]
    fn without_an_interval_the_figures_stand_and_the_reason_is_said() {
        assert_eq!(
            unknown(Some([0.40, 0.65]), IntervalError::OneListener),
            "From 40% to 65% correct: a rise of 25 points. How sure that is cannot be told: only one listener \
             judged, so nothing is known of how another would judge. Judgements by more listeners would settle it."
        );
        assert_eq!(
            unknown(None, IntervalError::Judgement),
            "Whether anything has changed cannot be told: a judgement's weight must be a finite number above 0 \
             and its session must have a place."
        );
    }
}
