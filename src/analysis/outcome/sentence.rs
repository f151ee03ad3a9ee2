//! A verdict in plain words: from what to what, between which limits, beyond what, and what would settle it.

use super::settle::Settling;
use crate::stats::interval::IntervalError;
use crate::stats::interval::Reading;
use crate::stats::verdict::Verdict;

/// What the sentence tells. Shares of 1.
pub(super) struct Said {
    pub(super) verdict: Verdict,
    pub(super) means: [f64; 2],
    pub(super) limits: [f64; 2],
    pub(super) mdc95: f64,
    pub(super) smallest_change: f64,
    pub(super) reading: Reading,
    /// Where it cannot be told.
    pub(super) settling: Option<Settling>,
}

const FEW_DAYS: &str = " Whether the child has changed beyond good and bad days cannot be told \
    from so few days; three sessions in each phase would settle more than more listeners.";

/// Where there is no interval.
pub(super) fn unknown(refusal: IntervalError) -> String {
    format!("Whether anything has changed cannot be told: {refusal}.")
}

/// The sentences of a change, without the child's code.
pub(super) fn sentence(said: &Said) -> String {
    let mut text = format!("{} {}", from_what_to_what(said), meaning(said));
    if let Some(settling) = said.settling {
        text.push_str(&what_would_settle_it(settling));
    }
    if said.reading == Reading::TheseDays {
        text.push_str(FEW_DAYS);
    }
    text
}

/// "From 40% to 65%: a rise of 25 points (12 to 37)."
fn from_what_to_what(said: &Said) -> String {
    let [before, after] = said.means.map(points);
    let difference = points(said.means[1] - said.means[0]);
    let [low, high] = said.limits.map(points);
    let what = match difference {
        0 => "no difference".to_owned(),
        up if up > 0 => format!("a rise of {}", counted(up)),
        down => format!("a fall of {}", counted(-down)),
    };
    let between = if low >= 0 && difference > 0 {
        format!("{low} to {high}")
    } else if high <= 0 && difference < 0 {
        format!("{} to {}", -high, -low)
    } else {
        format!(
            "anything from a fall of {} to a rise of {}",
            -low.min(0),
            high.max(0)
        )
    };
    let scope = match said.reading {
        Reading::Child => "",
        Reading::TheseDays => " between these recordings, for listeners and words like these",
    };
    format!("From {before}% to {after}%: {what} ({between}){scope}.")
}

fn meaning(said: &Said) -> String {
    let noise = match said.reading {
        Reading::Child => "good and bad days and the measurement alone can bring",
        Reading::TheseDays => "the measurement alone can bring",
    };
    let mdc = counted(points(said.mdc95));
    let smallest = counted(points(said.smallest_change));
    let size = (said.means[1] - said.means[0]).abs();
    match said.verdict {
        Verdict::Improved | Verdict::Declined => {
            let way = if said.verdict == Verdict::Improved {
                "better"
            } else {
                "worse"
            };
            let sounds = match said.reading {
                Reading::Child => format!("the child's sound is {way} than before"),
                Reading::TheseDays => format!("the later recordings sound {way}"),
            };
            let small = if size < said.smallest_change {
                format!(" It is less than the {smallest} set as the smallest change that matters.")
            } else {
                String::new()
            };
            format!("That is beyond the {mdc} that {noise}: {sounds}.{small}")
        }
        Verdict::NoRelevantChange => format!(
            "Whatever the change is, it is smaller than the {smallest} set as the smallest change that matters."
        ),
        Verdict::CannotTell if size > said.mdc95 || contains_zero(said) => format!(
            "That can be no change at all, or one that matters: it cannot be told yet, for {noise} up to {mdc}."
        ),
        Verdict::CannotTell => {
            format!("That is no more than the {mdc} that {noise}, so it cannot be told yet.")
        }
    }
}

fn contains_zero(said: &Said) -> bool {
    said.limits[0] <= 0.0 && said.limits[1] >= 0.0
}

fn what_would_settle_it(settling: Settling) -> String {
    let ways: Vec<String> = [
        settling
            .listeners
            .map(|n| format!("{n} more {}", plural(n, "listener"))),
        settling
            .words
            .map(|n| format!("{n} more {} in every session", plural(n, "word"))),
        settling
            .sessions
            .map(|n| format!("{n} more {} in each phase", plural(n, "session"))),
    ]
    .into_iter()
    .flatten()
    .collect();
    match ways.split_last() {
        None => " No number of further listeners, words or sessions within reason would settle it."
            .to_owned(),
        Some((only, [])) => {
            format!(" If the difference stays as it is, about {only} would settle it.")
        }
        Some((last, others)) => format!(
            " If the difference stays as it is, about {} or {last} would settle it.",
            others.join(", or ") + ","
        ),
    }
}

fn plural(count: u32, noun: &str) -> String {
    if count == 1 {
        noun.to_owned()
    } else {
        format!("{noun}s")
    }
}

fn counted(points: i64) -> String {
    if points == 1 {
        "1 point".to_owned()
    } else {
        format!("{points} points")
    }
}

/// A share as whole points, halves away from zero.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a share of 1 is at most 100 points"
)]
fn points(share: f64) -> i64 {
    (share * 100.0).round() as i64
}
