//! How much a listener hears on one day.
//!
//! A day is told by its night: it is over once twelve hours have passed without an answer (ours).
//! So no zone of time has to be known, and nobody who stops in the evening waits until the next
//! evening.

use crate::app::Now;
use crate::study::course::Rests;

/// Twelve hours without an answer: a night.
const NIGHT_MS: i64 = 12 * 3_600_000;

/// A pause longer than this between two answers is no listening (ours).
const PAUSE_MS: i64 = 2 * 60_000;

/// Whether the day's words or minutes are used up. `answered_ms`: when each answer came, oldest
/// first.
pub(super) fn is_full(rests: &Rests, answered_ms: &[i64], now: Now) -> bool {
    let minutes_ms = i64::from(rests.minutes_a_day) * 60_000;
    words_left(rests, answered_ms, now) == 0
        || (minutes_ms > 0 && listened_ms(today(answered_ms, now)) >= minutes_ms)
}

/// Words that may still be answered on this day.
pub(super) fn words_left(rests: &Rests, answered_ms: &[i64], now: Now) -> usize {
    if rests.words_a_day == 0 {
        return usize::MAX;
    }
    let allowed = usize::try_from(rests.words_a_day).unwrap_or(usize::MAX);
    allowed.saturating_sub(today(answered_ms, now).len())
}

/// The answers of this day.
fn today(answered_ms: &[i64], now: Now) -> &[i64] {
    let mut begins = answered_ms.len();
    let mut later = now.ms();
    for (index, ms) in answered_ms.iter().enumerate().rev() {
        if later - ms >= NIGHT_MS {
            break;
        }
        begins = index;
        later = *ms;
    }
    answered_ms.get(begins..).unwrap_or_default()
}

/// The time from each answer to the next, pauses left out.
fn listened_ms(answered_ms: &[i64]) -> i64 {
    answered_ms
        .windows(2)
        .map(|two| match two {
            [one, other] if other - one <= PAUSE_MS => other - one,
            _ => 0,
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn rests(words_a_day: u32, minutes_a_day: u32) -> Rests {
        Rests {
            every: 0,
            words_a_day,
            minutes_a_day,
        }
    }

    const HOUR: i64 = 3_600_000;

    #[test]
    fn a_night_begins_a_new_day() {
        let answers = [0, 10_000, 20_000];
        let full = |ms: i64| is_full(&rests(3, 0), &answers, Now::at_ms(ms));
        assert!(full(30_000));
        assert!(full(20_000 + 11 * HOUR));
        assert!(!full(20_000 + 12 * HOUR));
        let left = |ms: i64| words_left(&rests(4, 0), &answers, Now::at_ms(ms));
        assert_eq!((left(30_000), left(20_000 + 12 * HOUR)), (1, 4));
    }

    #[test]
    fn minutes_count_from_answer_to_answer_without_the_pauses() {
        // Two minutes of listening, an hour away, one minute more.
        let answers = [0, 60_000, 120_000, HOUR, HOUR + 60_000];
        let now = Now::at_ms(HOUR + 60_000);
        assert!(is_full(&rests(0, 3), &answers, now));
        assert!(!is_full(&rests(0, 4), &answers, now));
        assert!(!is_full(&rests(0, 0), &answers, now));
    }
}
