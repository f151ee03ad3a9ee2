//! The sealed rules while a listener still judges.

use std::collections::HashMap;

use super::heard::Heard;
use crate::stats::listener as of;
use crate::stats::listener::Rules;
use crate::study::Judgement;
use crate::study::KnownAnswer;
use crate::study::PresentationKind;

pub use crate::stats::listener::Remaining;

/// One judgement as the live rules see it. There is no child, session, phase or word here, so no rule can depend on one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HeardSoFar {
    /// A bare number that a word shares with its repeat.
    pub item: u32,
    /// Main, check or repeat.
    pub kind: PresentationKind,
    /// What she said last.
    pub answer: Judgement,
    /// The known answer of a check.
    pub known: Option<KnownAnswer>,
    /// From the end of the sound to the press, in milliseconds.
    pub rt_ms: Option<u32>,
}

/// Why a listener can no longer pass the sealed rules; `None` while she can.
///
/// `heard`: her judgements that she can no longer change, in the order of hearing. `remaining`: what may still come, at most. The
/// signals are those of [`super::listeners`], so the final analysis of the same judgements leaves her out by the same rule.
pub fn out_of_reach(rules: &Rules, heard: &[HeardSoFar], remaining: &Remaining) -> Option<String> {
    let mut one = Heard::default();
    let mut firsts = HashMap::new();
    for row in heard {
        let yes = row.answer == Judgement::Correct;
        match row.kind {
            PresentationKind::Main => {
                firsts.insert(row.item, yes);
                one.main.push((row.item, None, yes));
                one.response_times_ms.extend(row.rt_ms.map(|ms| ms as f32));
            }
            PresentationKind::Check => one.checks.extend(known(row).map(|known| (known, yes))),
            PresentationKind::Repeat => {
                let first = firsts.get(&row.item);
                one.repeats.extend(first.map(|first| (*first, yes)));
            }
            _ => {}
        }
    }
    one.response_times_ms.sort_unstable_by(f32::total_cmp);
    of::out_of_reach(&rules.rules, &one.signals(CONFIDENCE), remaining)
}

/// No rule looks at an interval.
const CONFIDENCE: f64 = 0.95;

fn known(row: &HeardSoFar) -> Option<bool> {
    match row.known? {
        KnownAnswer::Correct => Some(true),
        KnownAnswer::Distorted => Some(false),
        KnownAnswer::Divided => None,
    }
}
